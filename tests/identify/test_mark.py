"""Against SciPy's von Mises distribution."""

import numpy as np
import pytest
from scipy.stats import vonmises

from carbpair.identify.confusion import BearingConfusion
from carbpair.identify.mark import (
    concentration,
    required_density,
    unknown_convention_density,
    von_mises,
)
from carbpair.identify.mark_record import MarkCounts, MarkRecord
from carbpair.identify.reading import NO_BEARING, BearingReading
from tests.identify.example import mark

CIRCLE = np.arange(-180.0, 180.0, 0.25)
ERRORS = BearingConfusion(4.0, 0.0, 100)


@pytest.mark.parametrize("sd", [1.0, 4.0, 15.0, 40.0])
def test_density_is_scipys(sd: float) -> None:
    reference = vonmises.pdf(np.radians(CIRCLE), concentration(sd)) * np.pi / 180
    assert von_mises(CIRCLE, sd) == pytest.approx(reference, rel=2e-3, abs=1e-12)


@pytest.mark.parametrize("sd", [0.6, 2.0, 20.0])
def test_density_integrates_to_one(sd: float) -> None:
    fine = np.arange(-180.0, 180.0, 0.05)
    assert von_mises(fine, sd).sum() * 0.05 == pytest.approx(1.0, abs=2e-3)


def test_a_patterns_density_integrates_to_one() -> None:
    required = np.array([0.0, 90.0, np.nan])
    total = sum(required_density(mark(float(x)), required, ERRORS) for x in CIRCLE) * 0.25
    assert total == pytest.approx([1.0, 1.0, 1.0], abs=1e-3)


def test_a_mark_where_one_pattern_wants_it_speaks_for_that_one() -> None:
    density = required_density(mark(88.0), np.array([0.0, 90.0, np.nan]), ERRORS)
    assert density[1] > density[2] > density[0]


def test_an_unsure_mark_counts_for_as_much_as_unsure_marks_are_right() -> None:
    held = BearingConfusion(4.0, 0.0, 10_000, unsure_right_rate=0.5, unsure_n=10_000)
    sure = required_density(mark(0.0), np.array([0.0]), held)[0] - 0.15 / 360
    unsure = BearingReading("unsure", 0.0, 4.0)
    doubted = required_density(unsure, np.array([0.0]), held)[0] - 0.15 / 360
    # Half of the time it says nothing: half the peak and half of a uniform share.
    assert doubted == pytest.approx(0.5 * sure + 0.5 * 0.85 / 360, rel=1e-3)
    total = sum(
        required_density(BearingReading("unsure", float(x), 4.0), np.array([0.0]), held)
        for x in CIRCLE
    )
    assert total * 0.25 == pytest.approx([1.0], abs=1e-3)


def test_bearings_either_side_of_half_a_turn_are_neighbours() -> None:
    one, two = (required_density(mark(x), np.array([180.0]), ERRORS)[0] for x in (179.0, -179.0))
    assert one == pytest.approx(two)


def test_agreeing_marks_are_no_surprise_for_an_unknown_convention() -> None:
    agreeing = unknown_convention_density(mark(50.0), mark(52.0), ERRORS)
    apart = unknown_convention_density(mark(50.0), mark(-130.0), ERRORS)
    assert agreeing > 5 * apart
    assert unknown_convention_density(mark(50.0), NO_BEARING, ERRORS) == pytest.approx(1 / 360)
    assert unknown_convention_density(NO_BEARING, NO_BEARING, ERRORS) == 1.0


def test_no_flip_in_a_small_test_is_not_proof_against_flips() -> None:
    # Jeffreys' interval midpoint for 0 of n, (½)/(n + 1).
    assert BearingConfusion(4.0, 0.0, 60).smoothed_flip_rate == pytest.approx(0.5 / 61)


def by_certainty() -> BearingConfusion:
    good, poor = MarkCounts(10_000_000, 6_250_000, 1_500_000), MarkCounts(1200, 100, 200)
    rows = (MarkRecord("unsure", 0.0, poor, poor, 4.0), MarkRecord("unsure", 0.5, good, good, 4.0))
    return BearingConfusion(4.0, 0.0, 100, records=rows)


def test_a_mark_counts_for_as_much_as_its_like_were_found_right() -> None:
    held, required = by_certainty(), np.array([0.0])
    likely, unlikely = (
        required_density(BearingReading("unsure", 0.0, 4.0, probability=p), required, held)[0]
        for p in (0.6, 0.2)
    )
    # 60 % found, 10 % opposite, 30 % anywhere; 85 % seated; a normal of 4° and 4° of seating.
    peak = 1 / (np.sqrt(2 * np.pi) * np.hypot(4, 4))
    assert likely == pytest.approx(0.85 * (0.6 * peak + 0.3 / 360) + 0.15 / 360, rel=5e-3)
    # As often right and flipped as chance is: it says next to nothing.
    assert unlikely == pytest.approx(1 / 360, rel=0.1)
    total = sum(
        required_density(
            BearingReading("unsure", float(x), 4.0, probability=0.6), np.array([90.0]), held
        )
        for x in CIRCLE
    )
    assert total * 0.25 == pytest.approx([1.0], abs=1e-3)


def test_two_marks_of_an_unknown_convention_by_their_certainty() -> None:
    held = by_certainty()

    def both(one: float, two: float) -> float:
        left, right = (BearingReading("unsure", x, 4.0, probability=0.6) for x in (one, two))
        return unknown_convention_density(left, right, held)

    total = sum(both(20.0, float(x)) for x in CIRCLE) * 0.25 * 360
    assert total == pytest.approx(1.0, abs=1e-3)
    # Alike: both found or both opposite (0.36 + 0.01); opposed: one of each (2 * 0.06).
    peak = 1 / (np.sqrt(2 * np.pi) * np.sqrt(4 * 16))
    alike, opposed = 0.85**2 * 0.37, 0.85**2 * 0.12
    rest = (1 - alike - opposed) / 360
    assert both(20.0, 20.0) * 360 == pytest.approx(alike * peak + rest, rel=5e-3)
    assert both(20.0, -160.0) * 360 == pytest.approx(opposed * peak + rest, rel=5e-3)
