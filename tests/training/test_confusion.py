"""The confusion file, counted on readings made by hand."""

import json
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from models.training.evaluation.confusion import (
    bearing_table,
    confusion,
    confusion_of_sets,
    correlation,
    in_full_view,
    label_table,
    most_photos,
)

from carbpair.identify.confusion_file import parse_confusion
from carbpair.inspection import CarbInspection, PhotoInspection
from carbpair.vision.calibration import Calibration
from carbpair.vision.feature import Feature, hidden
from tests.pair.readings import bearing, choice, holes, side

HOLES = ["2", "3", "4"]


def test_counts_overall_in_full_view_and_the_lean_of_the_unsure() -> None:
    leans_to_four = choice(None, n2=0.1, n3=0.3, n4=0.6)
    table = label_table(
        HOLES,
        [
            ("3", holes(3, 0.995), True, 0),
            ("3", holes(2), False, 1),
            ("3", leans_to_four, True, 2),
            ("4", hidden("occluded"), False, 3),
        ],
    )
    assert table["counts"] == [[0] * 5, [1, 1, 0, 1, 0], [0, 0, 0, 0, 1]]
    assert table["in_view_counts"] == [[0] * 5, [0, 1, 0, 1, 0], [0] * 5]
    assert table["sure_counts"] == [[0] * 3, [0, 1, 0], [0] * 3]
    assert table["unsure_counts"] == [[0] * 3, [0, 0, 1], [0] * 3]
    assert table["in_view_unsure_counts"] == table["unsure_counts"]
    assert table["in_view_sure_counts"] == table["sure_counts"]
    assert table["n"] == 4
    assert "pair_correlation" not in table  # four pictures of one carb each say nothing of pairs


def test_correlation_is_scotts_pi() -> None:
    # Two raters agree on yes 45 times and on no 15 times and differ 15 and 25 times: 60 % agree,
    # 65 % of all answers are yes, so (0.6 − 0.545) / (1 − 0.545).
    cases = []
    for k, (a, b) in enumerate([(2, 2)] * 45 + [(2, 3)] * 15 + [(3, 2)] * 25 + [(3, 3)] * 15):
        cases += [("3", holes(a), True, k), ("3", holes(b), True, k)]
    found, pairs = correlation(cases)
    assert pairs == 100
    assert found == pytest.approx(0.055 / 0.455)
    assert correlation(cases[:40]) == (None, 20)
    # Carbs that differ in truth are not of one kind: nothing to compare.
    unlike = [("2", holes(2), True, 0), ("3", holes(3), True, 0)]
    assert correlation(unlike) == (None, 0)


def test_always_alike_by_one_answer_only_says_nothing() -> None:
    cases = [("3", holes(3), True, k // 2) for k in range(100)]
    assert correlation(cases) == (None, 50)


def test_errors_of_the_mark() -> None:
    unsure = Feature(None, 0.5, "unsure", "low_confidence", {"mean_deg": 8.0, "sd_deg": 3.0})
    astray = Feature(None, 0.5, "unsure", "low_confidence", {"mean_deg": 90.0, "sd_deg": 3.0})
    table = bearing_table(
        [
            (0.0, bearing(2.0), True),
            (179.0, bearing(-179.0), True),
            (0.0, bearing(40.0), True),
            (0.0, bearing(178.0), False),
            (0.0, unsure, True),
            (0.0, astray, False),
            (0.0, hidden("edge_on"), False),
            (0.0, hidden("edge_on"), False),
        ]
    )
    assert table["n"] == 4
    assert (table["flip_rate"], table["stray_rate"]) == (0.25, 0.25)
    assert table["errors_deg_quantiles"]["0.5"] == 2.0
    assert (table["unsure_rate"], table["not_visible_rate"]) == (0.25, 0.25)
    assert (table["in_view_unsure_rate"], table["in_view_n"]) == (0.25, 4)
    assert (table["unsure_right_rate"], table["unsure_n"]) == (0.5, 2)


def test_marks_are_counted_by_their_own_certainty() -> None:
    def unsure(mean: float, p: float) -> Feature:
        return Feature(None, p, "unsure", "low_confidence", {"mean_deg": mean, "sd_deg": 4.0})

    table = bearing_table(
        [
            (0.0, bearing(3.0, p=0.98), True),
            (0.0, bearing(-4.0, p=0.98), False),
            (0.0, bearing(170.0, p=0.91), False),
            (0.0, unsure(14.0, 0.35), True),
            (0.0, unsure(50.0, 0.31), True),
            (0.0, unsure(-179.0, 0.1), False),
            (0.0, hidden("mark_not_in_view"), True),
        ]
    )
    assert table["in_view_hidden_n"] == 1
    rows = {(r["status"], r["least"]): r for r in table["by_certainty"]}
    assert rows["seen", 0.98]["counts"] == [2, 2, 0]
    assert rows["seen", 0.98]["in_view_counts"] == [1, 1, 0]
    assert rows["seen", 0.0]["counts"] == [1, 0, 1]
    assert rows["unsure", 0.3]["counts"] == rows["unsure", 0.3]["in_view_counts"] == [2, 1, 0]
    assert rows["unsure", 0.0]["counts"] == [1, 0, 1]
    assert rows["unsure", 0.6]["counts"] == [0, 0, 0]
    # Answers near their marks err by 3° and 4°: a mean square of 12.5. Four of those are added.
    assert rows["seen", 0.98]["sd_deg"] == round((75 / 6) ** 0.5, 2)
    assert rows["unsure", 0.3]["sd_deg"] == round(((14**2 + 4 * 12.5) / 5) ** 0.5, 2)
    assert rows["unsure", 0.3]["stated_sd_deg"] == 4.0
    assert "stated_sd_deg" not in rows["unsure", 0.6]


ONE_ABOVE = choice("one_above", one_above=0.98, one_below=0.01, one_aside=0.01)


def picture(name: str, left: dict[str, Feature], right: dict[str, Feature]) -> dict[str, Any]:
    """A kept reading of two matched three-hole carbs with inboard bowls, both found."""
    boxes = [(0.0, 0.0, 100.0, 100.0), (200.0, 0.0, 300.0, 100.0)]
    seen = {"cover": 1.0, "mark": 1.0, "bowl": 1.0, "under": 1.0}
    truth = [
        {
            "box": box, "in_front": True, "in_frame": 1.0, "seen": seen, "hand": hand, "y": y,
            "flange_holes": 3, "chamber": "piston", "filtered": False, "mark_bearing": 0.0,
            "mark_px": 20.0, "bolt_seen": [1.0] * 3, "facing": 0.9,
            "keypoints": np.array([[0.0, 0]] * 8 + [[20, 0], [-20, 0], [0, -20], [0, 20], [0, 0]]),
            "bolts": np.array([[0.0, -36], [31.2, 18], [-31.2, 18]]),
        }
        for box, hand, y in zip(boxes, (1, -1), (-100.0, 100.0), strict=True)
    ]  # fmt: skip
    carbs = [
        SimpleNamespace(box=box, position=position, features=features)
        for box, position, features in zip(boxes, ("left", "right"), (left, right), strict=True)
    ]
    inspection = SimpleNamespace(carbs=carbs)
    return {"file": name, "size": (400, 300), "truth": truth, "inspection": inspection}


def test_the_identification_reads_what_was_counted() -> None:
    plain = {
        "flange_holes": holes(3),
        "hole_layout": ONE_ABOVE,
        "bowl_side": side("inboard"),
        "mark_bearing_deg": bearing(2.0),
        "chamber": choice("piston", piston=0.99, diaphragm=0.01),
        "filter_fitted": choice(False, true=0.01, false=0.99),
    }
    rows = [picture(str(k), plain, {**plain, "flange_holes": holes(None)}) for k in range(40)]
    held = confusion(rows, "made by hand")

    found = parse_confusion(json.dumps(held).encode(), "c.json")
    three = found.labels["flange_holes"]
    assert three.counts[1].tolist() == [0, 40, 0, 40, 0]
    assert three.in_view is not None
    assert three.in_view[1].tolist() == [0, 40, 0, 40, 0]
    assert three.unsure is not None
    assert three.unsure[1].tolist() == [0, 40, 0]
    assert three.pair_correlation == 0.0  # one answers where the other never does
    assert found.bearing.in_view_unsure_rate == 0.0


def view(name: str, left: dict[str, Feature] | None, right: dict[str, Feature]) -> dict[str, Any]:
    """A picture of the pair above with a real inspection; its left carb may not be found."""
    row = picture(name, left or right, right)
    box = row["truth"][0]["box"]
    carbs = [
        CarbInspection(position, box, 0.9, features, {})
        for position, features in (("left", left), ("right", right))
        if features is not None
    ]
    # A fingerprint of its own: a repeated shot would count once.
    shot = PhotoInspection(name, 400, 300, carbs=tuple(carbs), fingerprint=hash(name) & (2**64 - 1))
    return {**row, "inspection": shot}


def test_what_several_photos_say_together_is_counted_once_for_each_pair() -> None:
    plain = {
        "flange_holes": holes(3),
        "hole_layout": ONE_ABOVE,
        "bowl_side": side("inboard"),
        "mark_bearing_deg": bearing(2.0),
        "mark_verdict": choice("faces_intake", faces_intake=0.97, turned=0.03),
        "chamber": choice("piston", piston=0.99, diaphragm=0.01),
        "filter_fitted": choice(False, true=0.01, false=0.99),
    }
    blind = {**plain, "flange_holes": hidden("edge_on"), "mark_bearing_deg": hidden("edge_on")}
    rows = []
    for k in range(3):
        # The left carb is in the second photo only, and is not placed in the first of pair 2.
        rows += [view(f"{k}-a", None, blind), view(f"{k}-b", plain if k < 2 else None, plain)]

    def pair_of_file(file: str) -> int:
        return int(file.split("-")[0])

    assert most_photos(rows, pair_of_file) == 2
    held = confusion_of_sets(rows, pair_of_file, Calibration(), "by hand", 2)
    assert held["photos"] == 2
    assert held["source"] == "by hand: 2 photos each of 3 of 3 pairs"
    three = held["features"]["flange_holes"]
    assert three["n"] == 6
    assert three["counts"][1] == [0, 5, 0, 0, 1]
    assert three["in_view_counts"] == three["counts"]
    assert held["features"]["mark_bearing_deg"]["n"] == 5
    whole = {**confusion([], ""), "several_photos": [held]}
    whole["features"] = held["features"]
    found = parse_confusion(json.dumps(whole).encode(), "c.json")
    assert found.for_photos(1).photos == 1
    assert found.for_photos(2).photos == found.for_photos(5).photos == 2
    short = confusion_of_sets(rows[1:], pair_of_file, Calibration(), "by hand", 2)
    assert short["source"] == "by hand: 2 photos each of 2 of 3 pairs"
    assert short["features"]["flange_holes"]["n"] == 4
    with pytest.raises(ValueError, match="no pair with 3 photos among 3"):
        confusion_of_sets(rows, pair_of_file, Calibration(), "by hand", 3)


@pytest.mark.parametrize(
    ("changed", "seen"),
    [
        ({}, True),
        ({"filtered": True}, False),
        ({"facing": -0.2}, False),
        ({"in_frame": 0.7}, False),
        ({"rim_px": 150.0}, False),  # 100 px across of 150: from the side
    ],
)
def test_an_integral_bowl_is_in_view_where_both_sides_are(
    changed: dict[str, Any], seen: bool
) -> None:
    points = np.zeros((13, 2))
    points[3], points[4] = (100.0, 0.0), (0.0, 0.0)
    plain = {"hand": 0, "filtered": False, "facing": 0.6, "in_frame": 1.0, "rim_px": 100.0}
    assert in_full_view("bowl_side", {"keypoints": points, **plain, **changed}) is seen


def test_how_holes_lie_is_asked_only_of_those_that_were_counted_rightly() -> None:
    read = {
        "flange_holes": holes(3), "hole_layout": ONE_ABOVE, "bowl_side": side("inboard"),
        "mark_bearing_deg": bearing(2.0), "chamber": choice("piston", piston=0.99, diaphragm=0.01),
        "filter_fitted": choice(False, true=0.01, false=0.99),
    }  # fmt: skip
    diamond = choice("diamond", square=0.01, diamond=0.99)
    wrong = {**read, "flange_holes": holes(4), "hole_layout": diamond}
    unread = {**read, "hole_layout": hidden("holes_unconfirmed")}
    rows = [picture("a", read, wrong), picture("b", unread, {**read, "flange_holes": holes(None)})]
    table = confusion(rows, "by hand")["features"]["hole_layout"]
    assert table["n"] == 2
    above = table["counts"][table["labels"].index("one_above")]
    assert above[table["labels"].index("one_above")] == 1
    assert above[-1] == 1
