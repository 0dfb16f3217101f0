"""What goes wrong with photos elsewhere, and must not here."""

import io

import numpy as np
import pytest
from PIL import ExifTags, Image

from carbpair.cases.workspace import open_workspace
from tests.cases.fixtures import MakeSettings
from tests.cases.pictures import jpeg
from tests.http.desk import Desk, tus_send


def _picture(width: int = 240, height: int = 160) -> Image.Image:
    """Red left half, blue right half, a white corner at the upper left."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[:, : width // 2] = (200, 30, 30)
    pixels[:, width // 2 :] = (30, 30, 200)
    pixels[: height // 4, : width // 6] = 255
    return Image.fromarray(pixels)


def _kept(desk: Desk, data: bytes) -> tuple[dict[str, object], Image.Image, bytes]:
    case_id = desk.new_case()
    answer = desk.add_photo(case_id, data)
    assert answer.status_code == 201, answer.text
    photo = answer.json()
    body = desk.client.get(photo["image"]).content
    return photo, Image.open(io.BytesIO(body)), body


@pytest.mark.parametrize("orientation", range(1, 9))
def test_rotated_photo_is_kept_upright(desk: Desk, orientation: int) -> None:
    # Pillow's exif_transpose is the outside check.
    from PIL import ImageOps

    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    buffer = io.BytesIO()
    _picture().save(buffer, "JPEG", quality=95, exif=exif)
    photo, kept, _ = _kept(desk, buffer.getvalue())
    with Image.open(io.BytesIO(buffer.getvalue())) as sent:
        wanted = ImageOps.exif_transpose(sent)
    assert wanted is not None
    assert kept.size == wanted.size == (photo["width"], photo["height"])
    difference = np.abs(np.asarray(kept, float) - np.asarray(wanted.convert("RGB"), float))
    assert difference.mean() < 3
    assert ("mirrored_exif" in photo["notes"]) == (orientation in (2, 4, 5, 7))  # type: ignore[operator]


def test_place_date_and_owner_do_not_reach_disk_or_reader(desk: Desk) -> None:
    exif = Image.Exif()
    exif[ExifTags.Base.Artist] = "A. Owner of Mill Lane"
    exif[ExifTags.Base.DateTime] = "2026:05:04 10:11:12"
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitude] = (51.0, 30.0, 12.5)
    buffer = io.BytesIO()
    _picture().save(buffer, "JPEG", exif=exif, comment=b"Mill Lane")
    assert b"Mill Lane" in buffer.getvalue()
    _, kept, body = _kept(desk, buffer.getvalue())
    assert dict(kept.getexif()) == {}
    assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for path in desk.workspace.settings.data_dir.rglob("*"):
        if path.is_file():
            assert b"Mill Lane" not in path.read_bytes(), path
    assert b"Exif" not in body


def test_heic_from_a_desktop_browser_is_taken(desk: Desk) -> None:
    import pillow_heif

    pillow_heif.register_heif_opener()
    buffer = io.BytesIO()
    _picture(320, 200).save(buffer, "HEIF", quality=90)
    # Desktop browsers send HEIC without a type.
    case_id = desk.new_case()
    files = {"photo": ("IMG_1.HEIC", buffer.getvalue(), "application/octet-stream")}
    answer = desk.client.post(f"/api/cases/{case_id}/photos", files=files)
    assert answer.status_code == 201, answer.text
    body = desk.client.get(answer.json()["image"]).content
    assert Image.open(io.BytesIO(body)).format == "JPEG"


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_formats_are_taken(desk: Desk, kind: str) -> None:
    buffer = io.BytesIO()
    _picture().save(buffer, kind)
    _, kept, _ = _kept(desk, buffer.getvalue())
    assert kept.format == "JPEG"


def test_200_megapixel_photo_is_refused_by_its_header_with_the_remedy(desk: Desk) -> None:
    # The header alone says 16320 × 12240; nothing is decoded.
    data = bytearray(jpeg(1))
    start = data.index(b"\xff\xc0")
    data[start + 5 : start + 9] = (12240).to_bytes(2, "big") + (16320).to_bytes(2, "big")
    case_id = desk.new_case()
    answer = desk.add_photo(case_id, bytes(data))
    assert answer.status_code == 413
    assert answer.json()["kind"] == "too_many_pixels"
    assert answer.json()["remedy"]
    link = desk.new_link(case_id)
    assert tus_send(desk.visitor, link, bytes(data)).status_code == 413


def test_originals_are_kept_only_when_set(make_settings: MakeSettings) -> None:
    for keep in (False, True):
        workspace = open_workspace(make_settings(keep_originals=keep, rate_limits=False))
        desk = Desk.open(workspace, name=f"ann{keep}")
        desk.add_photo(desk.new_case(), jpeg(5))
        names = [key for key in workspace.store.keys("cases/") if key.endswith(".original")]
        assert bool(names) == keep
        workspace.close()


def test_image_answers_cannot_become_pages(desk: Desk) -> None:
    case_id = desk.new_case()
    image = desk.client.get(desk.add_photo(case_id).json()["image"])
    assert image.headers["content-type"] == "image/jpeg"
    assert image.headers["x-content-type-options"] == "nosniff"
    assert 'filename="photo-01.jpg"' in image.headers["content-disposition"]
