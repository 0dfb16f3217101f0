from typing import Any

import pytest

from carbpair.report_text import CAUTION, report_text
from tests.inspection_example import features, hidden, inspection, photo, seen


def test_the_whole_report_says_what_was_read_and_what_was_not() -> None:
    text = report_text(inspection(), 100)
    for words in (
        "Both carburettors found (2 of 3 photos used).",
        "3, 97 %",
        "-38°, towards the intake and",
        "not seen, hidden by the air",
        "unsure (perhaps inboard, 62 %)",
        "Matched pair: yes, the two look alike, 90 %",
        "Take the air filter off the right carburettor",
        "dark.jpg: left; picture usable",
        "mirror image; left and right need a second look",
        "cut.jpg: NOT READ. The photo is cut short",
    ):
        assert words in text
    assert " ".join(CAUTION.split()) in " ".join(text.split())


@pytest.mark.parametrize("width", [60, 80, 110])
def test_lines_fit_the_terminal(width: int) -> None:
    assert max(len(line) for line in report_text(inspection(), width).splitlines()) <= width


def test_nothing_found() -> None:
    report = inspection()
    report["pair"].update(status="none", photos_used=0, carbs={"left": None, "right": None})
    report["photos"] = [{**report["photos"][0], "carbs": []}]
    text = report_text(report, 90)
    assert "No pair of carburettors found (0 of 1 photo used)." in text
    assert "front.jpg: no carburettor seen; picture good" in text


def test_one_carb_found() -> None:
    report = inspection()
    report["pair"].update(status="partial", carbs={"left": {"features": features()}, "right": None})
    text = report_text(report, 90)
    assert "Only one carburettor found" in text
    assert "not found" in text


def two_photos(left: dict[str, Any], right: dict[str, Any] | None = None) -> dict[str, Any]:
    """Two photos of the same carbs, the second with other features on its left (and right)."""
    report = inspection()
    second = photo("second.jpg", 2000, 1500, 150.0)
    second["carbs"][0]["features"] = features(**left)
    second["carbs"][1]["features"] = features(**(right or {}))
    report["photos"] = [photo("first.jpg", 3000, 2000, 300.0), second]
    return report


def test_each_photos_carbs_are_listed_when_there_are_several() -> None:
    text = report_text(two_photos({"flange_holes": hidden("edge_on")}), 120)
    for line in (
        "    left: 3 bolt holes (97 %), bowl inboard, mark -38° towards the intake and "
        "right (96 %), piston, filter off (98 %)",
        "    left: bolt holes not seen (seen edge on), bowl inboard, mark -38° towards the intake",
        "    right: bolt holes not seen (hidden by the air filter), bowl unsure (perhaps inboard, ",
    ):
        assert line in text
    assert "MORE THAN ONE PAIR" not in text


def test_one_photos_carbs_stand_in_the_table_alone() -> None:
    report = inspection()
    report["photos"] = report["photos"][:1]
    text = report_text(report, 120)
    assert "    left: " not in text
    assert "percentage" not in text


def test_photos_of_several_pairs_are_told_apart() -> None:
    report = two_photos({"flange_holes": seen(4, 0.97)})
    clash = {"position": "left", "feature": "flange_holes"}
    report["pair"]["contradictions"] = [
        {**clash, "values": [3, 4], "files": ["first.jpg", "second.jpg"]}
    ]
    text = " ".join(report_text(report, 100).split())
    assert (
        "THESE PHOTOS SEEM TO SHOW MORE THAN ONE PAIR. The left carburettor's flange bolt holes: 3 "
        "in first.jpg, but 4 in second.jpg. Inspect one pair at a time; with --each" in text
    )


def test_long_names_are_not_cut_at_a_hyphen() -> None:
    report = two_photos({"chamber": seen("diaphragm", 0.99)})
    report["photos"][0]["file"] = "a-rather-long-name-of-a-photo-of-the-left-bank.jpg"
    assert "a-rather-long-name-of-a-photo-of-the-left-bank.jpg" in report_text(report, 70)


def test_the_caution_can_be_left_to_the_caller() -> None:
    assert CAUTION[:40] in report_text(inspection(), 200)
    assert CAUTION[:40] not in report_text(inspection(), 200, caution=False)
