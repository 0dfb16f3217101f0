"""Inboard is towards the other carb: geometry of the definition, no other source."""

import pytest

from carbpair.pair.bowl import bowl_side, combine, layout
from tests.pair.readings import hand, hidden, side


@pytest.mark.parametrize(
    ("position", "on", "value"),
    [
        ("left", "right", "inboard"),
        ("left", "left", "outboard"),
        ("right", "left", "inboard"),
        ("right", "right", "outboard"),
        ("left", "none", "none"),
        ("right", "none", "none"),
    ],
)
def test_both_hands_of_both_carbs(position: str, on: str, value: str) -> None:
    got = bowl_side(hand(on), position, None, False)
    assert (got.value, got.status, got.probability) == (value, "seen", 0.98)
    assert got.distribution is not None
    assert set(got.distribution) == {"inboard", "outboard", "none"}
    assert got.distribution[value] == 0.98


def test_an_unsure_hand_gives_an_unsure_side() -> None:
    got = bowl_side(hand(None, 0.7), "right", None, False)
    assert (got.value, got.status, got.reason) == (None, "unsure", "low_confidence")
    assert got.distribution is not None
    assert got.distribution["inboard"] == pytest.approx(0.7)


def test_without_the_other_carb_only_an_integral_bowl_is_sure() -> None:
    got = bowl_side(hand("left"), None, "other_carb_not_seen", False)
    assert (got.status, got.reason) == ("not_visible", "other_carb_not_seen")
    none = bowl_side(hand("none"), None, "other_carb_not_seen", False)
    assert (none.value, none.status) == ("none", "seen")
    # A distribution names sides, never hands; which side is not known without the other carb.
    assert none.distribution == pytest.approx({"none": 0.98, "inboard": 0.01, "outboard": 0.01})


def test_a_hidden_bowl_stays_hidden() -> None:
    got = bowl_side(hidden("out_of_frame"), "left", None, False)
    assert (got.status, got.reason) == ("not_visible", "out_of_frame")


@pytest.mark.parametrize("on", ["left", "right"])
@pytest.mark.parametrize("position", ["left", "right"])
def test_a_mirrored_picture_never_gives_a_side(on: str, position: str) -> None:
    got = bowl_side(hand(on), position, None, True)
    assert (got.value, got.status, got.reason) == (None, "unsure", "mirrored")


def test_an_integral_bowl_has_no_mirror_image() -> None:
    assert bowl_side(hand("none"), "left", None, True).value == "none"


@pytest.mark.parametrize(
    ("left", "right", "name"),
    [
        ("inboard", "inboard", "inboard"),
        ("outboard", "outboard", "outboard"),
        ("none", "none", "none"),
        # both bowls on the right of their carbs: inboard of the left one, outboard of the right
        ("inboard", "outboard", "same_side"),
        ("outboard", "inboard", "same_side"),
        ("none", "inboard", "mixed"),
        ("outboard", "none", "mixed"),
    ],
)
def test_layouts(left: str, right: str, name: str) -> None:
    assert combine(left, right) == name
    got = layout(side(left), side(right))
    assert (got.value, got.status) == (name, "seen")
    assert got.distribution is not None
    assert sum(got.distribution.values()) == pytest.approx(1.0)
    assert got.probability == pytest.approx(got.distribution[name])


def test_a_layout_needs_both_bowls() -> None:
    assert layout(None, side("inboard")).reason == "other_carb_not_seen"
    assert layout(side("inboard"), hidden("occluded")).reason == "occluded"
    got = layout(side("inboard"), side(None, 0.6))
    assert (got.value, got.status, got.reason) == (None, "unsure", "low_confidence")
