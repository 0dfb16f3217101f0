"""Against Pillow's exif_transpose, for all eight orientations of CIPA DC-008."""

import io

import numpy as np
import pytest
from PIL import Image, ImageOps

from carbpair.photo import load_photo_bytes
from carbpair.photo.exif import MIRRORED_ORIENTATIONS, read_orientation, upright
from tests.photo.pictures import encode, exif, scene


@pytest.mark.parametrize("orientation", range(1, 9))
def test_array_agrees_with_pillow(orientation: int) -> None:
    image = Image.fromarray(scene())
    image.getexif()[0x0112] = orientation
    theirs = np.asarray(ImageOps.exif_transpose(image))
    assert np.array_equal(upright(scene(), orientation), theirs)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_loaded_files_agree_with_pillow(form: str, orientation: int) -> None:
    options = {"lossless": True} if form == "WEBP" else {}
    data = encode(scene(), form, exif=exif(orientation), **options)
    photo = load_photo_bytes(data, "x")
    theirs = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB"))
    assert np.array_equal(photo.pixels, theirs)
    assert photo.orientation == orientation
    assert photo.mirrored is (orientation in {2, 4, 5, 7})
    assert ("mirrored_exif" in photo.notes) is photo.mirrored


def test_mirrored_values_are_those_with_odd_parity() -> None:
    # A turn keeps handedness, a mirror flips it: check by the corners' cyclic order.
    corners = np.array([[0, 1], [3, 2]], dtype=np.uint8)
    for orientation in range(1, 9):
        turned = upright(corners, orientation)
        ring = [int(turned[0, 0]), int(turned[0, 1]), int(turned[1, 1]), int(turned[1, 0])]
        step = (ring[1] - ring[0]) % 4
        assert (step == 3) is (orientation in MIRRORED_ORIENTATIONS)


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_undefined_values_mean_upright(value: int) -> None:
    photo = load_photo_bytes(encode(scene(), "JPEG", exif=exif(value)), "x")
    assert photo.orientation == 1
    assert (photo.width, photo.height) == (96, 64)


def test_a_broken_exif_block_is_noted_and_the_photo_still_read() -> None:
    class Broken(Image.Image):
        def getexif(self) -> Image.Exif:
            raise SyntaxError("not a TIFF file")

    assert read_orientation(Broken()) is None
    data = encode(scene(), "JPEG", exif=b"Exif\0\0MM\0\x2a\xff\xff\xff\xff")
    assert load_photo_bytes(data, "x").pixels.shape == (64, 96, 3)


def test_other_values_are_refused_by_the_array_function() -> None:
    with pytest.raises(ValueError, match="1 to 8"):
        upright(scene(), 9)
