"""The door to the vision line, with the real weights and a sample picture."""

import io
from pathlib import Path

import pytest
from PIL import Image

from carbpair.cases.analyser import analyse
from carbpair.cases.photo_intake import clean_photo
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.source_photo import SourcePhoto

SAMPLE = Path(__file__).parents[2] / "sample_images" / "two-hole-inboard.jpg"


@pytest.fixture
def service_settings(tmp_path: Path) -> ServiceSettings:
    return ServiceSettings(data_dir=tmp_path)


def test_sample_and_broken_file(service_settings: ServiceSettings) -> None:
    seen: list[int] = []
    sources = [SourcePhoto("one.jpg", SAMPLE.read_bytes()), SourcePhoto("one.jpg", b"nothing")]
    result = analyse(sources, service_settings, seen.append)
    assert result["schema"] == "carbpair/inspection/1"
    assert [photo["file"] for photo in result["photos"]] == ["one.jpg", "one.jpg"]
    assert len(result["photos"][0]["carbs"]) == 2
    assert result["photos"][1]["error"]["kind"] == "not_an_image"
    assert seen[-1] == 2


def test_stored_copy_of_a_mirrored_file_still_says_so(service_settings: ServiceSettings) -> None:
    exif = Image.Exif()
    exif[0x0112] = 2
    buffer = io.BytesIO()
    with Image.open(SAMPLE) as opened:
        opened.resize((1500, 1000)).save(buffer, "JPEG", quality=92, exif=exif)
    clean = clean_photo(buffer.getvalue(), service_settings)
    assert list(clean.notes) == ["mirrored_exif"]
    source = SourcePhoto("photo-01.jpg", clean.jpeg, tuple(clean.notes))
    photo = analyse([source], service_settings)["photos"][0]
    assert "mirrored_exif" in photo["notes"]
    assert (photo["width"], photo["height"]) == (clean.width, clean.height)
    for carb in photo["carbs"]:
        assert carb["features"]["bowl_side"]["status"] != "seen"
