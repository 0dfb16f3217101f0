"""The door to the vision line, with the real weights and a sample picture."""

import io
from pathlib import Path

import pytest
from PIL import Image

from carbpair.cases.analyser import analyse
from carbpair.cases.photo_intake import clean_photo
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.source_photo import SourcePhoto
from carbpair.drawn_carb import DrawnCarb

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


def test_carburettor_drawn_by_hand_is_read_in_the_drawn_box(
    service_settings: ServiceSettings,
) -> None:
    whole = analyse([SourcePhoto("one.jpg", SAMPLE.read_bytes())], service_settings)
    found = {carb["position"]: carb for carb in whole["photos"][0]["carbs"]}
    for position, carb in found.items():
        x0, y0, x1, y1 = carb["box"]
        # As a person draws: up to an eighth beside the true edge.
        w, h = x1 - x0, y1 - y0
        box = (x0 - w / 8, y0 - h / 9, x1 + w / 10, y1 + h / 12)
        source = SourcePhoto("one.jpg", SAMPLE.read_bytes(), drawn=(DrawnCarb(position, box),))
        again = analyse([source], service_settings)["photos"][0]["carbs"]
        # It takes the place of the locator's find; the other one keeps its own.
        assert sorted(one["position"] for one in again) == ["left", "right"]
        drawn = again[0]
        assert drawn["position"] == position
        assert drawn["box"] == pytest.approx(list(box), abs=0.1)
        assert drawn["score"] == 1.0
        for feature in ("flange_holes", "bowl_side", "chamber"):
            assert drawn["features"][feature]["value"] == carb["features"][feature]["value"]


def test_box_around_nothing_gives_no_confident_flange(service_settings: ServiceSettings) -> None:
    grey = io.BytesIO()
    Image.new("RGB", (1200, 900), (120, 120, 120)).save(grey, "JPEG")
    drawn = (DrawnCarb("left", (300.0, 200.0, 700.0, 800.0)),)
    photo = analyse([SourcePhoto("a.jpg", grey.getvalue(), drawn=drawn)], service_settings)
    (carb,) = photo["photos"][0]["carbs"]
    assert carb["position"] == "left"
    assert carb["features"]["flange_holes"]["value"] is None
    assert carb["features"]["mark_bearing_deg"]["value"] is None


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
