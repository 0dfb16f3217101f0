"""Which of the holes seen in a rectified flange form a bolt pattern, and how well.

Coordinates are in the flange's plane, origin at the throat's centre, unit one throat radius.
Patterns (common practice, no source): two holes opposite each other, three at 120°, four at
the corners of a rectangle or square, all about the throat's centre.
"""

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

TOLERANCE = 0.12
"""Largest root-mean-square miss of a pattern's holes, throat radii."""

RADIUS_RANGE = (1.1, 3.0)
"""Where a bolt hole's centre can lie: outside the throat, on the flange."""

MAX_POINTS = 12
"""More candidates than this are no flange but noise."""


@dataclass(frozen=True, slots=True)
class BoltPattern:
    """A pattern and the holes it explains.

    `count` 2, 3 or 4; `radius` in throat radii; `phase_deg` direction of the first used hole
    of the fitted pattern; `residual` root-mean-square distance in throat radii between used
    and ideal holes; `ideal` the fitted positions in the order of `used`, which, like
    `outliers`, holds indices into the points given.
    """

    count: int
    radius: float
    phase_deg: float
    residual: float
    used: tuple[int, ...]
    outliers: tuple[int, ...]
    ideal: tuple[tuple[float, float], ...]


def bolt_patterns(points: ArrayLike, tolerance: float = TOLERANCE) -> list[BoltPattern]:
    """All patterns within `tolerance` among the points (N, 2), best first.

    Better means more holes explained, then a smaller residual. Empty when none fits.
    Raises ValueError for more than MAX_POINTS points.
    """
    array = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if len(array) > MAX_POINTS:
        raise ValueError(
            f"a flange has a handful of holes, not {len(array)} (at most {MAX_POINTS})"
        )
    z = array[:, 0] + 1j * array[:, 1]
    on_flange = [i for i in range(len(z)) if RADIUS_RANGE[0] <= abs(z[i]) <= RADIUS_RANGE[1]]
    found = []
    for count in (4, 3, 2):
        for subset in combinations(on_flange, count):
            order = sorted(subset, key=lambda i: float(np.angle(z[i])))
            ideal = _ideal(z[order])
            residual = float(np.sqrt(np.mean(np.abs(z[order] - ideal) ** 2)))
            if residual <= tolerance:
                found.append(_pattern(order, ideal, residual, len(z)))
    return sorted(found, key=lambda pattern: (-pattern.count, pattern.residual))


def fit_bolt_pattern(points: ArrayLike, tolerance: float = TOLERANCE) -> BoltPattern | None:
    """Best pattern among 2 or more points (N, 2), or None when none fits within `tolerance`.

    Beware: two opposite corners of a four-hole flange whose other holes are hidden are a
    valid two-hole pattern. Counting on it needs to know that the whole flange was in view.
    """
    found = bolt_patterns(points, tolerance)
    return found[0] if found else None


def _ideal(z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Least-squares pattern for holes sorted by direction, as complex numbers."""
    count = len(z)
    if count == 4:
        first, second = (z[0] - z[2]) / 2.0, (z[1] - z[3]) / 2.0
        # A rectangle's corners are equally far from its centre.
        radius = (abs(first) + abs(second)) / 2.0
        first *= radius / max(abs(first), 1e-12)
        second *= radius / max(abs(second), 1e-12)
        return np.array([first, second, -first, -second])
    turns = np.exp(2j * math.pi * np.arange(count) / count)
    return np.asarray((z / turns).mean() * turns)


def _pattern(
    order: list[int], ideal: NDArray[np.complex128], residual: float, total: int
) -> BoltPattern:
    return BoltPattern(
        count=len(order),
        radius=float(np.abs(ideal).mean()),
        phase_deg=math.degrees(float(np.angle(ideal[0]))),
        residual=residual,
        used=tuple(order),
        outliers=tuple(i for i in range(total) if i not in order),
        ideal=tuple((float(p.real), float(p.imag)) for p in ideal),
    )
