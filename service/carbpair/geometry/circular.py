"""Circular statistics in degrees, for samples and for distributions over bins.

Bins: bin k of n is centred at k · 360 / n degrees (so bin 0 straddles bearing 0).
Sources: Mardia and Jupp, Directional Statistics (2000), ch. 2; Best and Fisher (1981) for
the concentration estimate.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from carbpair.geometry.angles import wrap_deg, wrap_deg_array


@dataclass(frozen=True, slots=True)
class CircularSummary:
    """Summary of a distribution over the circle, angles in degrees in (−180, 180].

    `interval_deg` (lo, hi) is the shortest arc of whole bins that runs clockwise (in rising
    angle) from lo to hi and holds at least the asked mass; lo > hi when it crosses ±180.
    `mode_deg` is the likeliest bin's centre, `resultant` the mean vector's length in [0, 1].
    """

    mean_deg: float
    sd_deg: float
    mode_deg: float
    resultant: float
    interval_deg: tuple[float, float]
    interval_mass: float


def resultant(angles_deg: ArrayLike, weights: ArrayLike | None = None) -> tuple[float, float]:
    """Mean direction (degrees) and mean resultant length of angles (N,).

    Raises ValueError if there is no angle or the weights are negative or sum to zero.
    """
    radians = np.radians(np.asarray(angles_deg, dtype=np.float64))
    mass = np.ones_like(radians) if weights is None else np.asarray(weights, dtype=np.float64)
    if radians.size == 0 or mass.shape != radians.shape or (mass < 0).any() or mass.sum() <= 0:
        raise ValueError("circular statistics need angles and as many weights ≥ 0, some > 0")
    mass = mass / mass.sum()
    x, y = float(mass @ np.cos(radians)), float(mass @ np.sin(radians))
    return wrap_deg(math.degrees(math.atan2(y, x))), min(1.0, math.hypot(x, y))


def circular_mean_deg(angles_deg: ArrayLike, weights: ArrayLike | None = None) -> float:
    """Mean direction in degrees, in (−180, 180]."""
    return resultant(angles_deg, weights)[0]


def circular_sd_deg(angles_deg: ArrayLike, weights: ArrayLike | None = None) -> float:
    """Circular standard deviation √(−2 ln R) in degrees; infinite when R is 0."""
    return sd_from_resultant(resultant(angles_deg, weights)[1])


def sd_from_resultant(length: float) -> float:
    """Circular standard deviation in degrees from the mean resultant length R."""
    return math.degrees(math.sqrt(-2.0 * math.log(length))) if length > 0.0 else math.inf


def von_mises_kappa(length: float) -> float:
    """Concentration κ of the von Mises distribution with mean resultant length R.

    Best and Fisher's piecewise approximation (within 0.01 relative of the root of
    I₁(κ)/I₀(κ) = R in its middle range); infinite at R = 1.
    """
    r = min(max(length, 0.0), 1.0)
    if r < 0.53:
        return 2.0 * r + r**3 + 5.0 * r**5 / 6.0
    if r < 0.85:
        return -0.4 + 1.39 * r + 0.43 / (1.0 - r)
    return 1.0 / (r**3 - 4.0 * r**2 + 3.0 * r) if r < 1.0 else math.inf


def bin_centres_deg(count: int) -> NDArray[np.float64]:
    """Centres of `count` bins in degrees, wrapped into (−180, 180]; shape (count,)."""
    return wrap_deg_array(np.arange(count) * (360.0 / count))


def bin_von_mises(count: int, mean_deg: float, kappa: float) -> NDArray[np.float64]:
    """Von Mises probabilities at the bin centres, summing to 1; shape (count,)."""
    cosine = np.cos(np.radians(bin_centres_deg(count) - mean_deg))
    density = np.exp(kappa * (cosine - 1.0))
    return np.asarray(density / density.sum())


def summarise(probabilities: ArrayLike, mass: float = 0.9) -> CircularSummary:
    """Mean, spread, mode and shortest arc of a distribution over bins, shape (n,).

    Raises ValueError for negative or all-zero probabilities or a mass outside (0, 1].
    """
    if not 0.0 < mass <= 1.0:
        raise ValueError(f"the interval's mass must lie in (0, 1], not {mass}")
    p = np.asarray(probabilities, dtype=np.float64)
    mean, length = resultant(bin_centres_deg(len(p)), p)
    p = p / p.sum()
    start, width, held = _shortest_arc(p, mass)
    step = 360.0 / len(p)
    low = wrap_deg((start - 0.5) * step)
    high = wrap_deg((start + width - 0.5) * step)
    # The whole circle has no ends; say so with the cut at ±180.
    ends = (-180.0, 180.0) if width == len(p) else (low, high)
    mode = wrap_deg(float(np.argmax(p)) * step)
    return CircularSummary(mean, sd_from_resultant(length), mode, length, ends, held)


def probability_within(probabilities: ArrayLike, centre_deg: float, half_width_deg: float) -> float:
    """Mass of a distribution over bins within `half_width_deg` of a direction, in [0, 1].

    A bin that the limit cuts counts by the share of its width inside.
    """
    p = np.asarray(probabilities, dtype=np.float64)
    half_bin = 180.0 / len(p)
    away = np.abs(wrap_deg_array(bin_centres_deg(len(p)) - centre_deg))
    limit = min(half_width_deg, 180.0)
    # The second term is the part of a bin that reaches round past the opposite direction.
    inside = sum(
        np.clip(np.minimum(at + half_bin, limit) - np.maximum(at - half_bin, -limit), 0.0, None)
        for at in (away, away - 360.0)
    )
    share = inside / (2.0 * half_bin)
    return float(min(1.0, (p * share).sum() / p.sum()))


def _shortest_arc(p: NDArray[np.float64], mass: float) -> tuple[int, int, float]:
    """First bin, number of bins and mass of the shortest (then heaviest) arc holding `mass`."""
    count = len(p)
    cumulative = np.concatenate([[0.0], np.cumsum(np.concatenate([p, p]))])
    need = min(mass, float(cumulative[count])) - 1e-12
    widths = np.searchsorted(cumulative, cumulative[:count] + need, side="left") - np.arange(count)
    widths = np.minimum(widths, count)
    shortest = int(widths.min())
    starts = np.flatnonzero(widths == shortest)
    held = cumulative[starts + shortest] - cumulative[starts]
    best = int(np.argmax(held))
    return int(starts[best]), shortest, float(min(1.0, held[best]))
