import pytest

from carbpair.report_text import CAUTION, feature_words, report_text
from tests.inspection_example import bearing, features, hidden, inspection, seen, unsure


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


@pytest.mark.parametrize(
    ("name", "feature", "words"),
    [
        ("flange_holes", seen(2, 0.91), "2, 91 %"),
        ("bowl_side", seen("none", 0.9), "none at the side (integral), 90 %"),
        ("filter_fitted", seen(False, 0.999), "off, over 99 %"),
        ("filter_fitted", seen(True, 0.9949), "fitted, 99 %"),
        ("mark_verdict", seen("faces_intake", 0.97), "yes, 97 %"),
        ("mark_bearing_deg", bearing(0.2, 1.0), "0°, towards the air intake (-1° to +2°), 96 %"),
        ("flange_holes", hidden("too_small"), "not seen, too small in the picture"),
        ("flange_holes", hidden("new_reason"), "not seen, new reason"),
        ("chamber", unsure({"piston": 0.6, "diaphragm": 0.4}, "blurred"),
         "unsure (perhaps piston, 60 %), blurred"),
        ("filter_fitted", unsure({"true": 0.7, "false": 0.3}),
         "unsure (perhaps fitted, 70 %), not clear enough"),
        ("matched", seen(False, 0.95), "NO: the two differ, 95 %"),
    ],
)  # fmt: skip
def test_a_feature_in_words(name: str, feature: dict, words: str) -> None:
    assert feature_words(name, feature) == words


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
