"""The pair over both carbs: matched or mixed, whole or part."""

import pytest

from carbpair.pair.pair import NAMES, assemble, both, matched
from tests.pair.readings import bearing, carb, choice, hidden, holes, side

LIMITS = dict.fromkeys(NAMES, 0.9)


def test_both_carbs() -> None:
    got = assemble([carb()], [carb(bowl_side=side("inboard"))], LIMITS, 1, 0, ["Look."])
    assert (got.status, got.photos_used, got.advice) == ("complete", 1, ("Look.",))
    assert got.layout.value == "inboard"
    assert got.matched.value is True
    assert got.features["flange_holes"].value == 3
    assert got.features["mark_bearing_deg"].reason == "see_each_carb"
    out = got.as_json()
    assert list(out["carbs"]["left"]["features"]) == list(NAMES)
    assert out["features"]["chamber"]["value"] == "piston"


@pytest.mark.parametrize(
    ("left", "right", "loose", "status"),
    [(1, 1, 0, "complete"), (1, 0, 0, "partial"), (0, 1, 0, "partial"), (0, 0, 2, "partial"),
     (0, 0, 0, "none")],
)  # fmt: skip
def test_status(left: int, right: int, loose: int, status: str) -> None:
    got = assemble([carb()] * left, [carb()] * right, LIMITS, 1, loose)
    assert got.status == status
    if status != "complete":
        assert got.matched.reason == got.layout.reason == "other_carb_not_seen"


def test_two_photographs_are_fused_per_carb() -> None:
    got = assemble(
        [carb(flange_holes=hidden("filter_fitted")), carb()],
        [carb(flange_holes=holes(3)), carb(flange_holes=holes(4))],
        LIMITS, 2, 0,
    )  # fmt: skip
    left, right = got.carbs["left"], got.carbs["right"]
    assert left is not None
    assert right is not None
    assert left["flange_holes"].value == 3
    assert right["flange_holes"].reason == "photos_disagree"


def test_a_matched_pair_needs_all_that_is_compared() -> None:
    assert matched(carb(), carb()).value is True
    unread = carb(flange_holes=hidden("filter_fitted"))
    got = matched(unread, carb())
    assert (got.value, got.status, got.reason) == (None, "unsure", "not_all_features_seen")


@pytest.mark.parametrize(
    "other",
    [
        carb(flange_holes=holes(2)),
        carb(chamber=choice("diaphragm", piston=0.02, diaphragm=0.98)),
    ],
)
def test_one_difference_makes_a_mixed_pair(other: dict) -> None:
    got = matched(carb(), other)
    assert (got.value, got.status) == (False, "seen")
    assert got.probability is not None
    assert got.probability > 0.9


def test_a_difference_is_seen_though_the_rest_is_hidden() -> None:
    other = carb(
        chamber=choice("diaphragm", piston=0.02, diaphragm=0.98), flange_holes=hidden("edge_on")
    )
    assert matched(carb(), other).value is False


def test_mirrored_bowls_and_turned_marks_do_not_unmatch() -> None:
    other = carb(bowl_side=side("outboard"), mark_bearing_deg=bearing(170.0))
    assert matched(carb(), other).value is True


def test_nothing_to_compare() -> None:
    blind = carb(
        flange_holes=hidden("edge_on"),
        hole_layout=hidden("edge_on"),
        chamber=hidden("out_of_frame"),
    )
    assert matched(blind, carb()).reason == "nothing_to_compare"
    assert matched(None, carb()).reason == "other_carb_not_seen"


def test_the_pairs_view_of_one_feature() -> None:
    assert both(holes(3, 0.99), holes(3, 0.93)).probability == 0.93
    assert both(holes(3), holes(4)).reason == "carbs_differ"
    assert both(holes(3), hidden("filter_fitted")).reason == "filter_fitted"
    assert both(holes(3), holes(None, 0.7)).reason == "low_confidence"
    assert both(holes(3), None).reason == "other_carb_not_seen"
    assert both(None, None).reason == "not_photographed"


def test_holes_are_read_where_the_filter_is_off() -> None:
    on, off = choice(True, true=0.99, false=0.01), choice(False, true=0.01, false=0.99)
    with_filter = carb(filter_fitted=on, flange_holes=hidden("filter_fitted"))
    got = assemble([with_filter, carb(filter_fitted=off)], [carb()], LIMITS, 2, 0)
    left = got.carbs["left"]
    assert left is not None
    assert (left["flange_holes"].value, left["flange_holes"].status) == (3, "seen")
    assert left["filter_fitted"].reason == "changed_between_photos"
    assert got.features["filter_fitted"].reason == "changed_between_photos"
    assert got.features["flange_holes"].value == 3


def test_holes_that_lie_otherwise_make_a_mixed_pair() -> None:
    aside = choice("one_aside", one_above=0.01, one_below=0.01, one_aside=0.98)
    found = matched(carb(), carb(hole_layout=aside))
    assert (found.value, found.status) == (False, "seen")
    unread = carb(hole_layout=hidden("holes_unconfirmed"))
    assert matched(carb(), unread).value is True  # the count and the chamber suffice
