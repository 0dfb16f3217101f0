"""Class-conditional conformal sets: which hypotheses cannot be ruled out.

For each hypothesis the scores (1 − its probability) of calibration cases in which it was
true give a threshold; a new case's set holds every hypothesis whose score does not exceed
its own threshold. Coverage then holds for each hypothesis, not only on average (Vovk,
Conditional validity of inductive conformal predictors, 2012; "Mondrian" sets).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

Vector = npt.NDArray[np.float64]


def threshold(scores: Sequence[float] | Vector, level: float) -> float:
    """The ⌈(n + 1) level⌉-th smallest score; 1 when n is too small for that level.

    With n continuous exchangeable scores, coverage of a new case is at least ``level`` and,
    given the calibration set, follows Beta(k, n + 1 − k), k = ⌈(n + 1) level⌉.
    """
    rank = order(len(scores), level)
    if rank > len(scores):
        return 1.0
    return float(np.sort(np.asarray(scores, dtype=np.float64))[rank - 1])


def order(count: int, level: float) -> int:
    """⌈(n + 1) level⌉, guarded against 0.9 × 10 being 9.000000000000002."""
    return math.ceil((count + 1) * level - 1e-9)


def conformal_set(
    ids: Sequence[str], probabilities: Vector, thresholds: Mapping[str, float]
) -> tuple[str, ...]:
    """The hypotheses whose score does not exceed their own threshold, most probable first.

    A hypothesis without a threshold was never calibrated and is kept.
    """
    kept = [
        (float(probability), identifier)
        for identifier, probability in zip(ids, probabilities, strict=True)
        if 1.0 - float(probability) <= thresholds.get(identifier, 1.0) + 1e-12
    ]
    return tuple(identifier for _, identifier in sorted(kept, key=lambda pair: -pair[0]))
