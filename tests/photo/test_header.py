import pytest
from PIL import Image

from carbpair.photo import PhotoError, PhotoLimits, load_photo, load_photo_bytes
from carbpair.photo import photo as photo_module
from tests.photo.pictures import encode, png, scene


def kind_of(data: bytes, limits: PhotoLimits | None = None) -> str:
    with pytest.raises(PhotoError) as caught:
        load_photo_bytes(data, "owner.jpg", limits or PhotoLimits())
    error = caught.value
    assert error.file == "owner.jpg"
    assert error.message
    assert error.remedy.endswith(".")
    assert set(error.as_json()) == {"kind", "message", "remedy"}
    assert str(error) == f"owner.jpg: {error.message} {error.remedy}"
    return error.kind


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"", "empty"),
        (b"\0" * 5000, "not_an_image"),
        (b"<html>404 not found</html>", "not_an_image"),
        (b"%PDF-1.7 ...", "unsupported_format"),
        (b"GIF89a" + bytes(40), "unsupported_format"),
        (b"II*\x00" + bytes(40), "unsupported_format"),
        (b"\0\0\0\x20ftypisom" + bytes(40), "unsupported_format"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "truncated"),
        (b"\x89PNG\r\n\x1a\n\0\0", "truncated"),
    ],
)
def test_what_is_not_a_photo(data: bytes, kind: str) -> None:
    assert kind_of(data) == kind


def test_gif_and_tiff_are_refused_though_pillow_could_read_them() -> None:
    assert kind_of(encode(scene(), "GIF")) == "unsupported_format"
    assert kind_of(encode(scene(), "TIFF")) == "unsupported_format"


@pytest.mark.parametrize("form", ["PNG", "WEBP"])
def test_animations_are_refused(form: str) -> None:
    frames = [Image.fromarray(scene()), Image.fromarray(scene()[::-1].copy())]
    data = encode(frames[0], form, save_all=True, append_images=frames[1:])
    assert kind_of(data) == "animated"


def test_bytes_are_capped() -> None:
    data = encode(scene(), "JPEG")
    assert kind_of(data, PhotoLimits(max_bytes=len(data) - 1)) == "too_large"
    assert load_photo_bytes(data, "x", PhotoLimits(max_bytes=len(data))).width == 96


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_pixels_are_capped(form: str) -> None:
    data = encode(scene(400, 300), form)
    assert kind_of(data, PhotoLimits(max_megapixels=0.1199)) == "too_many_pixels"
    assert load_photo_bytes(data, "x", PhotoLimits(max_megapixels=0.12)).height == 300


def test_a_bomb_is_refused_from_its_header(monkeypatch: pytest.MonkeyPatch) -> None:
    # 30,000 × 30,000 grey pixels in a kilobyte: decoding would take 900 MB.
    def never(*_: object) -> None:
        raise AssertionError("a bomb must not reach a decoder")

    monkeypatch.setattr(photo_module, "decode_raster", never)
    assert kind_of(png(30_000, 30_000, 8, 0, bytes(1000))) == "too_many_pixels"
    assert kind_of(png(9_000, 9_000, 8, 0, bytes(1000))) == "too_many_pixels"


def test_icons_are_refused() -> None:
    assert kind_of(encode(scene(96, 12), "PNG")) == "too_few_pixels"


def test_a_missing_file_is_named(tmp_path) -> None:
    with pytest.raises(PhotoError, match="No such file") as caught:
        load_photo(tmp_path / "gone.jpg")
    assert caught.value.kind == "not_found"
    with pytest.raises(PhotoError) as caught:
        load_photo(tmp_path)
    assert caught.value.kind == "not_found"


def test_a_file_above_the_cap_is_not_even_read(tmp_path) -> None:
    file = tmp_path / "film.jpg"
    with file.open("wb") as out:
        out.truncate(10**12)  # sparse: reading it would fail for want of memory
    with pytest.raises(PhotoError) as caught:
        load_photo(file)
    assert caught.value.kind == "too_large"
    assert caught.value.file == "film.jpg"
