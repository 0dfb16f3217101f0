"""Against SciPy's circmean, circstd and vonmises."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from carbpair.geometry.angles import difference_deg
from carbpair.geometry.circular import (
    bin_centres_deg,
    bin_von_mises,
    circular_mean_deg,
    circular_sd_deg,
    probability_within,
    resultant,
    summarise,
    von_mises_kappa,
)

samples = st.lists(st.floats(-720, 720), min_size=2, max_size=20)


@given(samples)
def test_mean_and_sd_agree_with_scipy(angles: list[float]) -> None:
    mean, length = resultant(angles)
    if length < 1e-3:
        return  # no direction to speak of: both libraries return rounding noise
    theirs = math.degrees(stats.circmean(np.radians(angles)))
    assert abs(difference_deg(mean, theirs)) < 1e-6
    spread = math.degrees(stats.circstd(np.radians(angles)))
    # Near R = 1 the logarithm magnifies the last bits of R.
    assert circular_sd_deg(angles) == pytest.approx(spread, abs=1e-5 + 1e-6 * spread)


def test_mean_across_the_cut() -> None:
    assert circular_mean_deg([170, -170]) == pytest.approx(180)
    assert circular_mean_deg([10, 350, 0], weights=[1, 1, 0]) == pytest.approx(0)


def test_opposite_angles_have_no_mean_but_an_infinite_spread() -> None:
    assert circular_sd_deg([0, 180]) > 300


@pytest.mark.parametrize("kappa", [0.3, 1.0, 2.0, 5.0, 20.0, 200.0])
def test_concentration_inverts_the_bessel_ratio(kappa: float) -> None:
    # R = I1(κ)/I0(κ): Mardia and Jupp (2000), eq. 3.5.31, by SciPy's scaled Bessel functions.
    length = special.ive(1, kappa) / special.ive(0, kappa)
    assert von_mises_kappa(length) == pytest.approx(kappa, rel=0.02)


def test_ends_of_the_concentration() -> None:
    assert von_mises_kappa(0.0) == 0.0
    assert von_mises_kappa(1.0) == math.inf


@pytest.mark.parametrize(("mean", "kappa"), [(0, 30), (179, 8), (-90, 100)])
def test_summary_of_a_binned_von_mises(mean: float, kappa: float) -> None:
    summary = summarise(bin_von_mises(360, mean, kappa))
    half = math.degrees(stats.vonmises(kappa).ppf(0.95))
    assert abs(difference_deg(summary.mean_deg, mean)) < 0.01
    assert summary.mode_deg == mean
    low, high = summary.interval_deg
    # Whole 1° bins: the arc may exceed the exact 90 % interval by one bin at each end.
    assert abs(difference_deg(low, mean) + half) <= 1.01
    assert abs(difference_deg(high, mean) - half) <= 1.01
    assert 0.9 <= summary.interval_mass <= 0.9 + 0.03
    # 40 samples per degree would not do better: SciPy's circular sd of the same distribution.
    length = special.ive(1, kappa) / special.ive(0, kappa)
    assert summary.sd_deg == pytest.approx(math.degrees(math.sqrt(-2 * math.log(length))), rel=1e-3)


def test_interval_of_certainty_is_one_bin() -> None:
    p = np.zeros(72)
    p[36] = 1.0
    summary = summarise(p)
    assert summary.mean_deg == 180
    assert summary.interval_deg == pytest.approx((177.5, -177.5))
    assert summary.sd_deg == pytest.approx(0)


def test_interval_of_ignorance_is_nearly_the_whole_circle() -> None:
    summary = summarise(np.ones(100), mass=1.0)
    assert summary.interval_deg == (-180.0, 180.0)
    assert summary.interval_mass == pytest.approx(1.0)


def test_probability_within_matches_the_von_mises_integral() -> None:
    p = bin_von_mises(720, 12.0, 25.0)
    exact = stats.vonmises(25.0, loc=math.radians(12)).cdf(np.radians([-15, 15]))
    assert probability_within(p, 0, 15) == pytest.approx(exact[1] - exact[0], abs=1e-3)


def test_a_cut_bin_counts_by_its_share() -> None:
    # 8 bins of 45°: ±45° covers bin 0 and half of each neighbour.
    assert probability_within(np.ones(8), 0, 45) == pytest.approx(0.25)
    assert probability_within(np.ones(8), 0, 180) == pytest.approx(1.0)
    assert probability_within(np.ones(8), 0, 9) == pytest.approx(18 / 360)


def test_bin_centres_start_at_the_intake() -> None:
    assert bin_centres_deg(4).tolist() == [0, 90, 180, -90]


@pytest.mark.parametrize("weights", [[0, 0], [-1, 2], [1]])
def test_bad_weights_are_refused(weights: list[float]) -> None:
    with pytest.raises(ValueError, match="weights"):
        circular_mean_deg([1, 2], weights)
