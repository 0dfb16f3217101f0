"""Advice to move closer: literal inspections; the words give both numbers."""

from typing import Any

import pytest

from carbpair.part_width import FEATURE, NEEDED_PX, SmallPart, small_parts
from tests.inspection_example import features, hidden, inspection, seen, unsure


def _report(part: str, widths: list[float], reason: str) -> dict[str, Any]:
    """The left carburettor's `part` unread in two photos, `widths` across; the right one read."""
    report = inspection()
    report["photos"] = report["photos"][:2]
    name = FEATURE[part]  # type: ignore[index]
    unread = hidden(reason)
    read_right = features(mark_bearing_deg=seen(2.0, 0.9, {"mean_deg": 2.0, "sd_deg": 2.0}))
    for photo, width in zip(report["photos"], widths, strict=True):
        carb = photo["carbs"][0]
        carb["widths_px"] = {"throat": 500.0, "rim": 500.0, part: width}
        carb["features"] = features(**{name: unread})
    report["pair"]["carbs"] = {
        "left": {"features": features(**{name: unread})},
        "right": {"features": read_right},
    }
    return report


def test_the_widest_photo_counts_and_both_numbers_are_said() -> None:
    found = small_parts(_report("throat", [11.0, 12.4], "too_small"))
    assert found == [SmallPart("left", "throat", 12, NEEDED_PX["throat"])]
    assert found[0].sentence() == (
        "Move closer to the left carburettor: the opening in the air flange is 12 pixels wide in "
        f"the best photo, {NEEDED_PX['throat']} are needed to count the holes around it."
    )


def test_the_rim_is_told_in_its_own_words() -> None:
    found = small_parts(_report("rim", [34.0, 51.0], "mark_not_in_view"))
    assert [(one.part, one.width_px) for one in found] == [("rim", 51)]
    assert "rim of the cover is 51 pixels wide" in found[0].sentence()


@pytest.mark.parametrize("reason", ["filter_fitted", "facing_away", "out_of_frame", "edge_on"])
def test_what_a_closer_photo_cannot_help_is_not_asked_for(reason: str) -> None:
    assert small_parts(_report("throat", [11.0, 12.0], reason)) == []


def test_a_part_that_is_large_enough_somewhere_is_not_asked_for() -> None:
    assert small_parts(_report("throat", [11.0, 300.0], "low_confidence")) == []


def test_a_part_that_was_read_or_corrected_is_not_asked_for() -> None:
    report = _report("throat", [11.0, 12.0], "too_small")
    left = report["pair"]["carbs"]["left"]["features"]
    left["flange_holes"] = hidden("corrected_by_hand")
    assert small_parts(report) == []
    left["flange_holes"] = seen(3, 0.9)
    assert small_parts(report) == []


def test_results_stored_before_widths_were_kept_say_nothing() -> None:
    report = _report("throat", [11.0, 12.0], "too_small")
    for photo in report["photos"]:
        for carb in photo["carbs"]:
            del carb["widths_px"]
    assert small_parts(report) == []
    assert small_parts({"photos": [], "pair": None}) == []


def test_an_unsure_reading_counts_too() -> None:
    report = _report("throat", [11.0, 12.0], "too_small")
    doubtful = unsure({"2": 0.4, "3": 0.6})
    report["photos"][0]["carbs"][0]["features"]["flange_holes"] = doubtful
    report["pair"]["carbs"]["left"]["features"]["flange_holes"] = doubtful
    assert [one.width_px for one in small_parts(report)] == [12]
