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


def unexplained_holes(
    points: ArrayLike, count: int, tolerance: float = TOLERANCE
) -> tuple[int, ...]:
    """Indices of flange holes among (N, 2) that a pattern of `count` holes cannot have.

    The pattern may be seen in part: of three holes any one or any two at 120°, of four any
    corners of one rectangle. What is left over when as many holes as possible are taken for the
    pattern's contradicts it. Points off the flange (RADIUS_RANGE) are no bolt holes and left
    out. Empty for fewer holes than `count` that could all be the pattern's: too few to confirm
    it, none against it. Raises ValueError for a count other than 2, 3 and 4.
    """
    if count not in (2, 3, 4):
        raise ValueError(f"a flange has 2, 3 or 4 bolt holes, not {count}")
    array = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    z = array[:, 0] + 1j * array[:, 1]
    candidates = [int(i) for i in np.flatnonzero(on_flange(array))]
    for size in range(min(count, len(candidates)), 0, -1):
        for subset in combinations(candidates, size):
            if _miss_of_part(z[list(subset)], count) <= tolerance:
                return tuple(i for i in candidates if i not in subset)
    return tuple(candidates)


def on_flange(points: ArrayLike) -> NDArray[np.bool_]:
    """Which of the points (N, 2) lie where a bolt hole can be (RADIUS_RANGE)."""
    distance = np.linalg.norm(np.asarray(points, dtype=np.float64).reshape(-1, 2), axis=1)
    return np.asarray((distance >= RADIUS_RANGE[0]) & (distance <= RADIUS_RANGE[1]))


def diagonal_difference(points: ArrayLike) -> float:
    """How much the diagonals of four holes (4, 2) about the throat differ, over their mean length.

    0 for the corners of any rectangle: they lie on one circle. Two bolt holes and two vents do not.
    Raises ValueError for another number of points.
    """
    array = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if len(array) != 4:
        raise ValueError(f"two diagonals need four holes, not {len(array)}")
    ordered = array[np.argsort(np.arctan2(array[:, 1], array[:, 0]))]
    lengths = np.linalg.norm(ordered[:2] - ordered[2:], axis=1)
    return float(abs(lengths[0] - lengths[1]) / max(float(lengths.mean()), 1e-12))


MIN_SIDE_DEG = 35.0
"""Neighbouring corners of a four-hole flange are at least this far apart, seen from its centre."""


def _miss_of_part(z: NDArray[np.complex128], count: int) -> float:
    """Least root-mean-square miss of holes that are all, or some, of a pattern's; inf if none."""
    if len(z) == count:
        ordered = z[np.argsort(np.angle(z))]
        return float(np.sqrt(np.mean(np.abs(ordered - _ideal(ordered)) ** 2)))
    if len(z) == 1:
        return 0.0
    if count == 3:
        turned = np.exp(2j * math.pi * np.array([[0, 1], [0, 2]]) / 3)
        return float(
            min(np.sqrt(np.mean(np.abs(z - (z / turn).mean() * turn) ** 2)) for turn in turned)
        )
    # Two or three corners of a rectangle: equally far from the centre; a corner's opposite one
    # lies straight across, and no two neighbours come closer than MIN_SIDE_DEG.
    radius = float(np.abs(z).mean())
    best = math.inf
    pairs = list(combinations(range(len(z)), 2))
    for across in [None, *pairs]:
        if across is None and len(z) == 3:
            continue  # two of any three corners are opposite each other
        ideal = radius * z / np.abs(z)
        if across is not None:
            a, b = across
            half = ideal[a] - ideal[b]
            if abs(half) < 1e-9 * radius:
                continue  # a hole found twice is no two corners across from each other
            half *= radius / abs(half)
            ideal[a], ideal[b] = half, -half
        apart = [abs(float(np.degrees(np.angle(ideal[i] / ideal[j])))) for i, j in pairs]
        neighbours = [gap for pair, gap in zip(pairs, apart, strict=True) if pair != across]
        if all(MIN_SIDE_DEG <= gap <= 180.0 - MIN_SIDE_DEG for gap in neighbours):
            best = min(best, float(np.sqrt(np.mean(np.abs(z - ideal) ** 2))))
    return best
