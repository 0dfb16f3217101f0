"""Intervals for what is counted and what is averaged."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """95 % Wilson score interval of a proportion (Wilson 1927, JASA 22)."""
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    mid = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return max(0.0, mid - half), min(1.0, mid + half)


def share(hits: int, n: int) -> dict[str, Any]:
    """A proportion with its n and interval; `share` is None when n is 0."""
    low, high = wilson(hits, n)
    return {
        "hits": hits,
        "n": n,
        "share": round(hits / n, 4) if n else None,
        "interval95": [round(low, 4), round(high, 4)],
    }


def bootstrap(
    values: Sequence[float], what: str, seed: int = 0, rounds: int = 2000
) -> dict[str, Any]:
    """Mean ("mean") or 95th percentile ("p95") with a 95 % percentile-bootstrap interval.

    Efron and Tibshirani 1993, An Introduction to the Bootstrap. `value` is None when n is 0.
    """
    x = np.asarray(values, float)
    if len(x) == 0:
        return {"n": 0, "value": None, "interval95": [None, None]}
    rng = np.random.default_rng(seed)
    draws = x[rng.integers(len(x), size=(rounds, len(x)))]
    stat = draws.mean(1) if what == "mean" else np.quantile(draws, 0.95, axis=1)
    value = x.mean() if what == "mean" else np.quantile(x, 0.95)
    low, high = np.quantile(stat, [0.025, 0.975])
    return {
        "n": len(x),
        "value": round(float(value), 3),
        "interval95": [round(float(low), 3), round(float(high), 3)],
    }
