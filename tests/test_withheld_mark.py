"""Marks that were read and are not told."""

import pytest

from carbpair.vision import Feature
from carbpair.withheld_mark import MIRROR_MOVES_DEG, mirrored_bearing, opposed_mark
from tests.pair.readings import bearing

SPREAD = {"mean_deg": 40.0, "sd_deg": 2.0}


@pytest.mark.parametrize(
    "answer",
    [
        Feature(40.0, 0.97, "seen", None, SPREAD, (36.7, 43.3)),
        Feature("turned", 0.99, "seen", None, {"turned": 0.99, "faces_intake": 0.01}),
        Feature(None, 0.6, "unsure", "low_confidence", SPREAD),
    ],
)
def test_a_carb_turned_against_its_neighbour_says_nothing_of_its_mark(answer: Feature) -> None:
    assert opposed_mark(answer) == Feature(None, None, "unsure", "carbs_point_different_ways")


def test_what_cannot_be_seen_keeps_its_reason() -> None:
    hidden = Feature(None, None, "not_visible", "edge_on")
    assert opposed_mark(hidden) == hidden


@pytest.mark.parametrize(
    ("read", "kept"), [(0.0, True), (3.0, True), (-178.0, True), (12.0, False), (-90.0, False)]
)
def test_a_mirror_image_never_swaps_a_bearing(read: float, kept: bool) -> None:
    got = mirrored_bearing(bearing(read))
    assert MIRROR_MOVES_DEG == 8.0
    if kept:
        assert got == bearing(read)
    else:
        assert (got.value, got.status, got.reason) == (None, "unsure", "mirrored")
        assert got.distribution is None
        assert got.interval_deg is None
    low = Feature(None, 0.5, "unsure", "low_confidence", {"mean_deg": 0.0, "sd_deg": 3.0})
    assert mirrored_bearing(low).distribution is None
