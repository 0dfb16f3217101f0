"""Against Pillow for colour models, literal values for 16 bits, pillow-heif as HEIC writer."""

import io
import struct

import cv2
import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageCms, ImageOps
from skimage import data as pictures

from carbpair.photo import PhotoError, load_photo_bytes
from tests.photo.pictures import encode, exif, png, scene


def load(data: bytes) -> np.ndarray:
    return load_photo_bytes(data, "x").pixels


@pytest.mark.parametrize(
    ("level", "expected"), [(0, 0), (65535, 255), (257, 1), (128, 0), (129, 1), (32768, 128)]
)
def test_grey_16_bit_scales_by_257(level: int, expected: int) -> None:
    rows = (b"\0" + struct.pack(">H", level) * 20) * 20
    assert (load(png(20, 20, 16, 0, rows)) == expected).all()


def test_colour_16_bit_scales_by_257() -> None:
    rows = (b"\0" + struct.pack(">HHH", 65535, 300, 257 * 77) * 20) * 20
    assert load(png(20, 20, 16, 2, rows))[7, 7].tolist() == [255, 1, 77]


def test_alpha_16_bit_lies_on_white() -> None:
    rows = (b"\0" + struct.pack(">HHHH", 65535, 0, 0, 32768) * 20) * 20
    assert load(png(20, 20, 16, 6, rows))[3, 3].tolist() == [255, 127, 127]
    rows = (b"\0" + struct.pack(">HH", 0, 0) * 20) * 20
    assert (load(png(20, 20, 16, 4, rows)) == 255).all()


def test_alpha_lies_on_white() -> None:
    rgba = np.dstack([scene(), np.full((64, 96), 0, np.uint8)])
    rgba[:32, :, 3] = 255
    pixels = load(encode(rgba, "PNG"))
    assert np.array_equal(pixels[:32], scene()[:32])
    assert (pixels[32:] == 255).all()


def test_palette_with_a_transparent_colour() -> None:
    image = Image.new("P", (20, 20), 1)
    image.putpalette([0, 0, 0, 10, 20, 30])
    image.putpixel((4, 3), 0)
    pixels = load(encode(image, "PNG", transparency=0))
    assert pixels[0, 0].tolist() == [10, 20, 30]
    assert pixels[3, 4].tolist() == [255, 255, 255]


@pytest.mark.parametrize("mode", ["L", "1", "P", "LA", "RGBA"])
def test_other_modes_agree_with_pillow(mode: str) -> None:
    image = Image.fromarray(scene()).convert(mode)
    assert np.array_equal(load(encode(image, "PNG")), np.asarray(image.convert("RGB")))


def adobe_marker(data: bytes) -> bytes:
    at = data.index(b"\xff\xee")
    return data[at : at + 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]]


def test_cmyk_with_and_without_adobes_inversion() -> None:
    # Pillow writes Adobe's marker and upside-down ink, as Adobe does.
    ink = Image.new("CMYK", (32, 32), (0, 200, 200, 20))
    data = encode(ink, "JPEG", quality=100)
    expected = np.asarray(ink.convert("RGB"))[0, 0].astype(int)
    assert np.abs(load(data)[9, 9] - expected).max() <= 3
    # The same samples without the marker mean plain ink: the negative in every channel.
    plain = data.replace(adobe_marker(data), b"")
    negative = Image.new("CMYK", (32, 32), (255, 55, 55, 235)).convert("RGB")
    assert np.abs(load(plain)[9, 9] - np.asarray(negative)[0, 0].astype(int)).max() <= 3


def test_cmyk_with_an_unusable_profile_is_still_read() -> None:
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    ink = Image.new("CMYK", (32, 32), (0, 200, 200, 20))
    data = encode(ink, "JPEG", quality=100, icc_profile=srgb)
    assert np.abs(load(data)[9, 9] - np.asarray(ink.convert("RGB"))[0, 0].astype(int)).max() <= 3


@pytest.mark.parametrize("form", ["PNG", "WEBP"])
@pytest.mark.parametrize("kept", [0.3, 0.95])
def test_a_file_cut_short_is_refused(form: str, kept: float) -> None:
    data = encode(pictures.astronaut(), form)
    with pytest.raises(PhotoError) as caught:
        load(data[: int(kept * len(data))])
    assert caught.value.kind in {"truncated", "unreadable"}


def test_a_16_bit_png_cut_short_is_refused() -> None:
    rng = np.random.default_rng(0)
    deep = rng.integers(0, 65535, (64, 64, 3)).astype(np.uint16)
    data = cv2.imencode(".png", deep)[1].tobytes()
    assert np.abs(load(data).astype(int) - np.rint(deep[..., ::-1] / 257)).max() == 0
    with pytest.raises(PhotoError) as caught:
        load(data[: len(data) // 2])
    assert caught.value.kind == "truncated"


def heic(orientation: int | None = None) -> bytes:
    out = io.BytesIO()
    image = Image.fromarray(scene(256, 192))
    options = {} if orientation is None else {"exif": exif(orientation).tobytes()}
    pillow_heif.from_pillow(image).save(out, quality=95, **options)
    return out.getvalue()


def test_heic_is_read() -> None:
    photo = load_photo_bytes(heic(), "phone.heic")
    assert photo.source_format == "heic"
    assert np.abs(photo.pixels.astype(int) - scene(256, 192)).mean() < 3


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once_and_not_twice(orientation: int) -> None:
    # pillow-heif, like a phone, writes the turn both as EXIF value and as container property.
    image = Image.fromarray(scene(256, 192))
    image.getexif()[0x0112] = orientation
    upright = np.asarray(ImageOps.exif_transpose(image))
    photo = load_photo_bytes(heic(orientation), "phone.heic")
    assert photo.pixels.shape == upright.shape
    assert np.abs(photo.pixels.astype(int) - upright).mean() < 3
    assert photo.mirrored is (orientation in {2, 4, 5, 7})
    assert ("mirrored_exif" in photo.notes) is photo.mirrored


def test_a_heic_cut_short_is_refused() -> None:
    data = heic()
    with pytest.raises(PhotoError) as caught:
        load(data[: len(data) - 300])
    assert caught.value.kind in {"truncated", "unreadable"}
