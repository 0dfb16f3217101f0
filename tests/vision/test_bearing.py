"""From bins to a bearing: mean against SciPy's circular mean, verdict against its normal law."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import circmean, norm

from carbpair.vision.bearing import BearingReading, decode
from carbpair.vision.rim import bin_bearings


def logits(
    bearing: float, spread: float = 3.0, none: float = 0.02, other: float = 0.0
) -> np.ndarray:
    """Logits (181,) of a lobe about a bearing, a share `other` opposite it and "no mark"."""
    off = (bin_bearings() - bearing + 180) % 360 - 180
    lobe = np.exp(-(off**2) / (2 * spread**2))
    p = (1 - other) * lobe / lobe.sum() + other * np.roll(lobe, 90) / lobe.sum()
    return np.log(np.append((1 - none) * p, none) + 1e-12).astype(np.float32)


@given(st.floats(-180, 180))
def test_the_mean_is_scipys_circular_mean(bearing: float) -> None:
    got = decode(logits(bearing, 2.0), 1.0, 0.0)
    p = np.exp(logits(bearing, 2.0)[:180])
    draws = np.repeat(bin_bearings(), np.round(p * 4000).astype(int))
    want = circmean(draws, high=180, low=-180)
    assert abs((got.mean_deg - want + 180) % 360 - 180) < 0.1
    assert -180 < got.mean_deg <= 180


def test_chances_and_spread() -> None:
    got = decode(logits(40.0, 2.0, none=0.1), 1.0, 1.5)
    assert got.none == pytest.approx(0.1, abs=1e-3)
    assert got.probability == pytest.approx(0.9, abs=0.01)
    assert got.sd_deg == pytest.approx(np.hypot(2.0, 1.5), abs=0.1)


def test_a_second_mark_costs_probability_and_does_not_pull() -> None:
    got = decode(logits(-170.0, 2.0, none=0.0, other=0.3), 1.0, 0.0)
    assert got.mean_deg == pytest.approx(-170.0, abs=0.1)
    assert got.probability == pytest.approx(0.7, abs=0.01)


def test_a_higher_temperature_is_less_sure() -> None:
    sharp, soft = decode(logits(0.0), 1.0, 0.0), decode(logits(0.0), 2.0, 0.0)
    assert soft.probability < sharp.probability


@pytest.mark.parametrize(("mean", "sd"), [(0.0, 5.0), (14.0, 4.0), (-20.0, 6.0), (90.0, 3.0)])
def test_the_verdict_is_the_normal_law_within_15_degrees(mean: float, sd: float) -> None:
    want = norm.cdf(15, mean, sd) - norm.cdf(-15, mean, sd)
    assert BearingReading(0.9, 0.0, mean, sd).faces_intake == pytest.approx(want, abs=1e-9)


def test_the_interval_holds_nine_tenths_and_wraps() -> None:
    low, high = BearingReading(0.9, 0.0, 178.0, 4.0).interval_deg
    half = norm.ppf(0.95) * 4.0
    assert low == pytest.approx(178 - half, abs=0.01)
    assert high == pytest.approx(178 + half - 360, abs=0.01)
