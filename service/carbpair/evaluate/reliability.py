"""Reliability diagram with its noise floor: what a perfectly calibrated reader would show.

Expected calibration error (ECE) as in Guo, Pleiss, Sun and Weinberger 2017, "On calibration of
modern neural networks", ICML. It is biased upwards: with few cases even a perfect reader has an
ECE well above 0, so the floor is simulated from the same probabilities.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from carbpair.evaluate.candidate import Candidate
from carbpair.evaluate.intervals import share

BINS = 10
ROUNDS = 2000


def reliability(guesses: Sequence[Candidate], seed: int = 0) -> dict[str, Any]:
    """Equal-width bins of probability, ECE, and the ECE of a perfect reader (mean, 95 %)."""
    n = len(guesses)
    if n == 0:
        return {"n": 0, "ece": None, "floor_mean": None, "floor_95": None, "bins": []}
    p = np.array([g.probability for g in guesses])
    right = np.array([g.right for g in guesses])
    bins = np.minimum((p * BINS).astype(int), BINS - 1)
    rng = np.random.default_rng(seed)
    floor = [ece(p, rng.random(n) < p, bins) for _ in range(ROUNDS)]
    rows = []
    for b in range(BINS):
        inside = bins == b
        if not inside.any():
            continue
        rows.append(
            {
                "from": b / BINS,
                "to": (b + 1) / BINS,
                "mean_probability": round(float(p[inside].mean()), 4),
                "right": share(int(right[inside].sum()), int(inside.sum())),
            }
        )
    return {
        "n": n,
        "ece": round(ece(p, right, bins), 4),
        "floor_mean": round(float(np.mean(floor)), 4),
        "floor_95": round(float(np.quantile(floor, 0.95)), 4),
        "bins": rows,
    }


def ece(p: NDArray[np.float64], right: NDArray[np.bool_], bins: NDArray[np.int64]) -> float:
    """Mean gap of probability and share right over bins, weighted by their cases."""
    gaps = np.bincount(bins, weights=right - p, minlength=BINS)
    return float(np.abs(gaps).sum() / len(p))
