"""Corrections over readings, and what the pair says then."""

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from carbpair.cases.case_result import corrected, verdict_of
from carbpair.cases.correction import Correction
from tests.http.recorded import inspection

ROOT = Path(__file__).parents[2]


def _correction(position: str, feature: str, value: Any) -> Correction:
    return Correction(1, "c", position, feature, value, None, None, "", "ann", 0.0, None)


def test_readings_themselves_are_not_touched() -> None:
    before = inspection(["a.jpg"])
    after = corrected(before, [_correction("left", "flange_holes", 4)])
    assert before == inspection(["a.jpg"])
    assert after["pair"]["carbs"]["left"]["features"]["flange_holes"]["value"] == 4
    assert after["pair"]["carbs"]["right"]["features"]["flange_holes"]["value"] == 3
    assert after["pair"]["features"]["flange_holes"]["value"] is None
    assert after["pair"]["features"]["flange_holes"]["reason"] == "carbs_differ"


@pytest.mark.parametrize(
    ("left", "right", "layout"),
    [
        ("inboard", "inboard", "inboard"),
        ("outboard", "outboard", "outboard"),
        ("none", "none", "none"),
        ("inboard", "outboard", "same_side"),
        ("outboard", "inboard", "same_side"),
        ("none", "inboard", "mixed"),
        (None, "inboard", None),
    ],
)
def test_layout_follows_from_both_bowls(left: str, right: str, layout: str) -> None:
    made = [_correction("left", "bowl_side", left), _correction("right", "bowl_side", right)]
    assert corrected(inspection(["a.jpg"]), made)["pair"]["layout"]["value"] == layout


def test_bearing_sets_the_verdict() -> None:
    after = corrected(inspection(["a.jpg"]), [_correction("left", "mark_bearing_deg", 90.0)])
    assert after["pair"]["carbs"]["left"]["features"]["mark_verdict"]["value"] == "turned"
    assert [verdict_of(value) for value in (15.0, -15.0, 15.1, None)] == [
        "faces_intake", "faces_intake", "turned", None,
    ]  # fmt: skip


@pytest.mark.parametrize("value", [4, None])
def test_a_corrected_feature_is_as_the_schema_has_it(value: int | None) -> None:
    schema = json.loads((ROOT / "docs/inspection.schema.json").read_text(encoding="utf-8"))
    feature = {"$ref": "#/$defs/feature", "$defs": schema["$defs"]}
    after = corrected(inspection(["a.jpg"]), [_correction("left", "flange_holes", value)])
    held = after["pair"]["carbs"]["left"]["features"]["flange_holes"]
    assert held["reason"] == "corrected_by_hand"
    Draft202012Validator(feature).validate(held)


def test_carb_that_was_not_found_can_be_described_by_hand() -> None:
    before = inspection(["a.jpg"])
    before["pair"]["carbs"]["right"] = None
    after = corrected(before, [_correction("right", "chamber", "diaphragm")])
    held = after["pair"]["carbs"]["right"]["features"]["chamber"]
    assert (held["value"], held["reason"]) == ("diaphragm", "corrected_by_hand")


@pytest.mark.parametrize(
    ("made", "matched"),
    [
        ([("left", "flange_holes", 2)], False),
        ([("left", "flange_holes", 2), ("right", "flange_holes", 2)], True),
        ([("left", "flange_holes", None)], None),
        ([("left", "flange_holes", None), ("right", "chamber", "diaphragm")], False),
    ],
)
def test_pair_is_matched_by_what_now_holds(
    made: list[tuple[str, str, Any]], matched: bool | None
) -> None:
    found = corrected(inspection(["a.jpg"]), [_correction(*one) for one in made])
    assert found["pair"]["matched"]["value"] is matched


def test_a_drawn_carburettor_is_no_feature() -> None:
    before = inspection(["a.jpg"])
    assert corrected(before, [_correction("left", "carb", True)]) == before


def test_a_count_by_hand_takes_the_layout_of_another_count_with_it() -> None:
    read = {"pair": {"carbs": {"left": {"features": {"hole_layout": {"value": "diagonal"}}}}}}
    three = corrected(read, [_correction("left", "flange_holes", 3)])
    assert three["pair"]["carbs"]["left"]["features"]["hole_layout"]["value"] is None
    two = corrected(read, [_correction("left", "flange_holes", 2)])
    assert two["pair"]["carbs"]["left"]["features"]["hole_layout"]["value"] == "diagonal"
