"""A planted position, serial number, note and thumbnail must be gone, bytes and tags."""

import io

import numpy as np
import pytest
from PIL import Image
from skimage import data as pictures

from carbpair.photo import clean_jpeg, load_photo_bytes
from tests.photo.pictures import encode, exif, scene

SECRETS = ("12345678", "Owner of the car", "secret note")


def tagged() -> bytes:
    block = exif(6)
    block[0x013B] = "Owner of the car"
    block.get_ifd(0x8769)[0xA431] = "12345678"
    block.get_ifd(0x8769)[0x927C] = b"secret note"
    block.get_ifd(0x8825)[1] = "N"
    block.get_ifd(0x8825)[2] = (52.0, 30.0, 1.0)
    return encode(scene(), "JPEG", exif=block, comment="secret note", icc_profile=b"secret note")


def test_nothing_but_the_picture_survives() -> None:
    before = tagged()
    assert all(secret.encode() in before for secret in SECRETS)
    after = clean_jpeg(load_photo_bytes(before, "x").pixels)
    assert not any(secret.encode() in after for secret in SECRETS)
    image = Image.open(io.BytesIO(after))
    assert len(image.getexif()) == 0
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    # No application segment except JFIF's own (ITU-T T.81, markers E1 to EF and FE).
    assert not any(bytes([0xFF, marker]) in after[:600] for marker in [*range(0xE1, 0xF0), 0xFE])


def test_the_picture_is_kept_and_upright() -> None:
    photo = load_photo_bytes(tagged(), "x")
    after = load_photo_bytes(clean_jpeg(photo.pixels), "x")
    assert after.orientation == 1
    assert after.pixels.shape == (96, 64, 3)
    assert np.abs(after.pixels.astype(int) - photo.pixels).max() <= 12


def test_re_encoding_loses_little() -> None:
    picture = pictures.astronaut()
    after = load_photo_bytes(clean_jpeg(picture), "x").pixels
    mse = np.mean((after.astype(float) - picture) ** 2)
    assert 10 * np.log10(255**2 / mse) > 34  # decibels


def test_longer_side_is_bounded() -> None:
    photo = load_photo_bytes(clean_jpeg(pictures.coffee(), max_side=300), "x")
    assert (photo.width, photo.height) == (300, 200)
    assert load_photo_bytes(clean_jpeg(scene(), max_side=300), "x").width == 96


@pytest.mark.parametrize(
    "wrong", [np.zeros((9, 9), np.uint8), np.zeros((9, 9, 4), np.uint8), np.zeros((9, 9, 3))]
)
def test_other_arrays_are_refused(wrong: np.ndarray) -> None:
    with pytest.raises(ValueError, match="uint8 RGB"):
        clean_jpeg(wrong)
