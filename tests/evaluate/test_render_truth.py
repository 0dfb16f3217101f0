"""Truth of packed renders: values and the rules for "in view", with literal numbers."""

import json
from pathlib import Path
from typing import Any

import pytest

from carbpair.evaluate.render_truth import (
    bowl_in_view,
    hole_layout,
    holes_in_view,
    is_render_truth,
    mark_in_view,
    photo_truth,
    visible,
)

SAMPLES = Path(__file__).parents[2] / "sample_images"


def sample(name: str) -> Any:
    return json.loads((SAMPLES / f"{name}.truth.json").read_text())


def carb(**changes: Any) -> dict[str, Any]:
    seen = {"cover": 0.5, "mark": 0.5, "bowl": 0.5, "under": 0.0}
    base: dict[str, Any] = {
        "in_front": True, "in_frame": 0.9, "seen": seen, "box": [-10, 5, 300, 900], "rim_px": 115,
        "keypoints": [[0, 0]] * 8 + [[15, 0], [-15, 0], [0, -10], [0, 10], [0, 0]],
        "bolt_seen": [1, 0.6], "bolts": [[-27, 0], [27, 0]], "facing": 0.5,
        "mark_px": 8, "flange_holes": 2, "hand": 1,
        "mark_bearing": 15.0, "chamber": "piston", "filtered": False, "y": -70,
    }  # fmt: skip
    extra = {k: v for k, v in changes.items() if k in seen}
    return base | {k: v for k, v in changes.items() if k not in seen} | {"seen": seen | extra}


def test_what_is_in_view() -> None:
    assert visible(carb())
    assert not visible(carb(in_frame=0.59))
    assert not visible(carb(cover=0.19))
    assert not visible(carb(in_front=False))
    assert holes_in_view(carb())
    for hidden in (
        {"filtered": True}, {"bolt_seen": [1, 0.59]}, {"facing": 0.33},
        {"keypoints": [[0, 0]] * 8 + [[11.5, 0], [-11.5, 0], [0, -11.5], [0, 11.5], [0, 0]]},
    ):  # fmt: skip
        assert not holes_in_view(carb(**hidden)), hidden
    assert mark_in_view(carb())
    assert not mark_in_view(carb(mark_px=7.9))
    assert not mark_in_view(carb(mark=0.33))
    assert bowl_in_view(carb(bowl=0.12))
    assert not bowl_in_view(carb(bowl=0.11))
    assert not bowl_in_view(carb(in_frame=0.8))
    assert bowl_in_view(carb(hand=0, bowl=0.0, under=0.2))
    assert not bowl_in_view(carb(hand=0, bowl=1.0, under=0.1))


@pytest.mark.parametrize(
    ("hands", "sides"),
    [
        ((1, -1), ("inboard", "inboard")), ((-1, 1), ("outboard", "outboard")),
        ((1, 1), ("inboard", "outboard")), ((0, 0), ("none", "none")),
    ],
)  # fmt: skip
def test_positions_and_bowl_sides_of_a_pair(hands: tuple, sides: tuple) -> None:
    carbs = [carb(hand=hands[0], y=-70), carb(hand=hands[1], y=70)]
    for order in (carbs, carbs[::-1]):
        truth = photo_truth("a", order, (1000, 800))
        got = {c.position: c.values["bowl_side"] for c in truth.carbs}
        assert got == {"left": sides[0], "right": sides[1]}


def test_one_or_three_carbs_have_no_position_and_no_side() -> None:
    for count in (1, 3):
        truth = photo_truth("a", [carb(y=k) for k in range(count)], (1000, 800))
        assert [c.position for c in truth.carbs] == [None] * count
        assert all("bowl_side" not in c.values for c in truth.carbs)
    assert photo_truth("a", [carb(hand=0)], (9, 9)).carbs[0].values["bowl_side"] == "none"


def test_values_box_and_size() -> None:
    got = photo_truth("a", [carb(filtered=True, mark=0.04)], (1000, 800)).carbs[0]
    assert got.box == (0.0, 5.0, 300.0, 800.0)
    assert got.size == pytest.approx(115 / 1.15 / 1000)
    assert got.values["mark_verdict"] == "faces_intake"
    assert got.in_view == {"chamber", "filter_fitted", "bowl_side"}
    assert got.hidden == {"flange_holes", "hole_layout", "mark_bearing_deg", "mark_verdict"}


def test_the_samples_truth_is_read() -> None:
    truth = photo_truth("mixed", sample("mixed-pair")["carbs"], (3000, 2000))
    assert [c.position for c in truth.carbs] == ["left", "right"]
    assert truth.carbs[0].values["flange_holes"] != truth.carbs[1].values["flange_holes"]
    assert is_render_truth(sample("mixed-pair"))
    assert is_render_truth({"seed": 3, "carbs": []})
    assert not is_render_truth({"carbs": []})  # a person's "no carb here"
    assert not is_render_truth({"carbs": [{"flange_holes": 2}]})
    assert not is_render_truth([])


def test_how_the_holes_lie_is_told_in_the_flanges_plane() -> None:
    # The throat looks 30 wide and 20 high: seen from the side, upright holes draw together.
    assert hole_layout(carb()) == "side_by_side"
    assert hole_layout(carb(bolts=[[0, -18], [0, 18]])) == "one_above_other"
    assert hole_layout(carb(bolts=[[-27, -18], [27, 18]])) == "diagonal"
    three = [[0, -20], [26, 10], [-26, 10]]
    assert hole_layout(carb(bolts=three, flange_holes=3)) == "one_above"
    assert hole_layout(carb(facing=0.05)) is None
    (only,) = photo_truth("a.jpg", [carb()], (1000, 800)).carbs
    assert only.values["hole_layout"] == "side_by_side"
    assert "hole_layout" in only.in_view
    (covered,) = photo_truth("a.jpg", [carb(filtered=True)], (1000, 800)).carbs
    assert {"flange_holes", "hole_layout"} <= covered.hidden
