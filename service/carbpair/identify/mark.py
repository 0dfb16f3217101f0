"""What a mark's bearing says about the pattern.

A pattern states where its mark must point. A correctly assembled cover has it there within
a few degrees; a cover that was turned can have it anywhere. Densities are per degree on the
circle (von Mises; Mardia and Jupp, Directional Statistics, 2000).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from numpy import i0  # modified Bessel function I0

from carbpair.identify.confusion import BearingConfusion
from carbpair.identify.mark_record import MarkShares, record_of
from carbpair.identify.reading import BearingReading

ASSEMBLY_SD_DEG = 4.0
"""Spread of a correctly seated cover. A judgement, no source."""
TURNED_SHARE = 0.15
"""Share of covers that were refitted turned. A judgement, no source."""
UNIFORM = 1.0 / 360.0

Vector = npt.NDArray[np.float64]


def spread_deg(reading: BearingReading, confusion: BearingConfusion) -> float:
    """The reader's error in degrees, as measured; wider for a reading that says so of itself."""
    record = record_of(confusion.records, reading.status, reading.probability)
    if record is not None:
        return record.spread_deg(reading.sd_deg)
    return max(confusion.sd_deg, reading.sd_deg or 0.0)


def shares_of(reading: BearingReading, confusion: BearingConfusion) -> MarkShares:
    """How often a reading of this kind found the mark, or its opposite; else it may say anything.

    By the record of its own certainty where one was counted, else by that of all of its status.
    """
    record = record_of(confusion.records, reading.status, reading.probability)
    if record is not None:
        return record.counts.shares
    found = (
        1.0 - confusion.smoothed_stray_rate
        if reading.status == "seen"
        else confusion.smoothed_unsure_right
    )
    flip = confusion.smoothed_flip_rate
    return MarkShares(found * (1.0 - flip), found * flip, 1.0 - found)


def concentration(sd_deg: float) -> float:
    """Von Mises κ whose small-angle spread is ``sd_deg``."""
    return float(1.0 / np.radians(max(sd_deg, 0.5)) ** 2)


def von_mises(angle_deg: Vector | float, sd_deg: float) -> Vector:
    """Density per degree at ``angle_deg`` from the centre."""
    kappa = concentration(sd_deg)
    scaled = _scaled_bessel(kappa)
    turned = np.cos(np.radians(np.asarray(angle_deg, dtype=np.float64))) - 1.0
    return np.asarray(np.exp(kappa * turned) / (360.0 * scaled))


@lru_cache(maxsize=256)
def _scaled_bessel(kappa: float) -> float:
    """I0(κ) e^−κ: of exp(κ(cos θ − 1)) / (I0(κ) e^−κ), which does not overflow at large κ."""
    if kappa < 500.0:
        return float(i0(kappa) * np.exp(-kappa))
    return float(1.0 / np.sqrt(2 * np.pi * kappa))


def required_density(
    reading: BearingReading, required_deg: Vector, confusion: BearingConfusion
) -> Vector:
    """P(bearing read | pattern requires ``required_deg``) per degree.

    ``required_deg``: shape (patterns,), NaN where the pattern requires none (uniform).
    """
    assert reading.bearing_deg is not None  # noqa: S101 - callers ask informative first
    shares = shares_of(reading, confusion)
    sd = float(np.hypot(spread_deg(reading, confusion), ASSEMBLY_SD_DEG))
    offset = reading.bearing_deg - np.nan_to_num(required_deg)
    seated = shares.found * von_mises(offset, sd) + shares.flipped * von_mises(offset + 180.0, sd)
    seated = seated + shares.stray * UNIFORM
    density = (1.0 - TURNED_SHARE) * seated + TURNED_SHARE * UNIFORM
    return np.where(np.isnan(required_deg), UNIFORM, density)


def unknown_convention_density(
    left: BearingReading, right: BearingReading, confusion: BearingConfusion
) -> float:
    """P(both bearings | a pair whose convention is not known), per degree squared.

    Both covers of such a pair follow one convention, whichever it is: two marks that agree
    are no surprise, wherever they point.
    """
    if not (left.informative and right.informative):
        return UNIFORM if left.informative or right.informative else 1.0
    assert left.bearing_deg is not None  # noqa: S101
    assert right.bearing_deg is not None  # noqa: S101
    sd = float(
        np.sqrt(
            spread_deg(left, confusion) ** 2
            + spread_deg(right, confusion) ** 2
            + 2 * ASSEMBLY_SD_DEG**2
        )
    )
    one, two = shares_of(left, confusion), shares_of(right, confusion)
    seated = (1.0 - TURNED_SHARE) ** 2
    # Both are of the mark, or both of its opposite; or one of each.
    alike = seated * (one.found * two.found + one.flipped * two.flipped)
    opposed = seated * (one.found * two.flipped + one.flipped * two.found)
    apart = left.bearing_deg - right.bearing_deg
    together = alike * von_mises(apart, sd) + opposed * von_mises(apart + 180.0, sd)
    return UNIFORM * (float(together) + (1.0 - alike - opposed) * UNIFORM)
