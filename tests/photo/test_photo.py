import numpy as np
import pytest

from carbpair.photo import load_photo
from tests.photo.pictures import encode, exif, scene


def test_a_photo_from_disk(tmp_path) -> None:
    file = tmp_path / "left side.jpg"
    file.write_bytes(encode(scene(), "JPEG", exif=exif(6)))
    photo = load_photo(file)
    assert photo.name == "left side.jpg"
    assert (photo.width, photo.height) == (64, 96)
    assert photo.megapixels == pytest.approx(64 * 96 / 1e6)
    assert (photo.orientation, photo.mirrored, photo.source_format) == (6, False, "jpeg")


def test_pixels_cannot_be_changed_between_stations(tmp_path) -> None:
    file = tmp_path / "a.png"
    file.write_bytes(encode(scene(), "PNG"))
    photo = load_photo(str(file))
    assert photo.pixels.flags.c_contiguous
    assert photo.pixels.dtype == np.uint8
    with pytest.raises(ValueError, match="read-only"):
        photo.pixels[0, 0] = 0
