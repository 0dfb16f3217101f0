"""Pixels against Pillow's own libjpeg; damage made on purpose."""

import io

import numpy as np
import pytest
from PIL import Image
from skimage import data as pictures

from carbpair.photo import PhotoError, load_photo_bytes
from carbpair.photo.jpeg import decode_jpeg
from tests.photo.pictures import encode, scene


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("subsampling", ["4:4:4", "4:2:0"])
def test_pixels_agree_with_pillow(subsampling: str, progressive: bool) -> None:
    data = encode(
        pictures.astronaut(), "JPEG", quality=88, subsampling=subsampling, progressive=progressive
    )
    ours, notes = decode_jpeg(data, "x")
    theirs = np.asarray(Image.open(io.BytesIO(data)))
    # Builds of libjpeg may round the inverse transform differently, by one level.
    assert np.abs(ours.astype(int) - theirs).max() <= 1
    assert notes == ()


def test_grey_becomes_three_equal_channels() -> None:
    photo = load_photo_bytes(encode(pictures.camera(), "JPEG"), "x")
    assert photo.pixels.shape == (512, 512, 3)
    assert (photo.pixels[..., 0] == photo.pixels[..., 2]).all()


def photograph() -> bytes:
    return encode(pictures.astronaut(), "JPEG", quality=90)


@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9, 0.99])
def test_a_file_cut_short_is_truncated(kept: float) -> None:
    data = photograph()
    with pytest.raises(PhotoError, match="cut short") as caught:
        load_photo_bytes(data[: int(kept * len(data))], "bay.jpg")
    assert caught.value.kind == "truncated"
    assert caught.value.file == "bay.jpg"


def test_zeros_or_an_end_marker_after_the_cut_do_not_hide_it() -> None:
    half = photograph()[: len(photograph()) // 2]
    for tail in (bytes(4000), b"\xff\xd9"):
        with pytest.raises(PhotoError) as caught:
            load_photo_bytes(half + tail, "bay.jpg")
        assert caught.value.kind in {"truncated", "unreadable"}


def test_a_hole_in_the_middle_is_noticed() -> None:
    data = photograph()
    with pytest.raises(PhotoError) as caught:
        load_photo_bytes(data[: len(data) // 2] + data[len(data) // 2 + 3000 :], "bay.jpg")
    assert caught.value.kind in {"truncated", "unreadable"}


def test_bytes_after_the_end_marker_are_ignored() -> None:
    # Phones append a short film or a depth map.
    photo = load_photo_bytes(photograph() + b"ftypmp42" * 500, "x")
    assert photo.pixels.shape == (512, 512, 3)


def test_padding_between_segments_is_noted_and_read() -> None:
    data = encode(scene(), "JPEG")
    # Before the first quantisation table: bytes that belong to no segment.
    at = data.index(b"\xff\xdb")
    photo = load_photo_bytes(data[:at] + bytes(7) + data[at:], "x")
    assert np.array_equal(photo.pixels, load_photo_bytes(data, "x").pixels)
    assert photo.notes == ("jpeg_padding",)


def test_the_first_of_several_pictures_in_one_file_is_read() -> None:
    # Multi-Picture Format (CIPA DC-007): some phones store a preview behind the photo.
    first, second = Image.fromarray(scene()), Image.fromarray(scene(48, 32))
    data = encode(first, "MPO", save_all=True, append_images=[second])
    photo = load_photo_bytes(data, "x")
    assert (photo.width, photo.height, photo.source_format) == (96, 64, "jpeg")
