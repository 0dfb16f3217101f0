"""Risk–coverage curve: how wrong the answers are when only the surest are given.

El-Yaniv and Wiener 2010, "On the foundations of noise-free selective classification", JMLR 11.
"""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from carbpair.evaluate.candidate import Candidate
from carbpair.evaluate.intervals import share

POINTS = 40
AT = (0.5, 0.7, 0.8, 0.9, 1.0)
"""Coverages at which the risk is stated."""


def risk_coverage(guesses: Sequence[Candidate], n: int) -> dict[str, Any]:
    """Curve over all n cases, of which `guesses` have a likeliest value; surest first.

    `points` are (coverage, risk, least probability); `area` is the mean risk over the coverage
    reached, None without a guess; `at` states the risk at given coverages as far as reached.
    """
    if not guesses or not n:
        return {"n": n, "area": None, "points": [], "at": []}
    p = np.array([g.probability for g in guesses])
    wrong = np.array([not g.right for g in guesses])
    order = np.argsort(-p, kind="stable")
    errors = np.cumsum(wrong[order])
    taken = np.arange(1, len(p) + 1)
    risk = errors / taken
    # Equal probabilities are answered together: a point stands at the last of them.
    last = np.r_[np.diff(p[order]) != 0, True]
    where = np.flatnonzero(last)
    shown = where[np.unique(np.linspace(0, len(where) - 1, POINTS).round().astype(int))]
    at = []
    for coverage in AT:
        k = math.ceil(coverage * n - 1e-9)
        if 1 <= k <= len(p):
            at.append({"coverage": coverage, "risk": share(int(errors[k - 1]), k)})
    return {
        "n": n,
        "area": round(float(risk.mean()), 5),
        "points": [
            [round(float(taken[i] / n), 4), round(float(risk[i]), 4), round(float(p[order][i]), 4)]
            for i in shown
        ],
        "at": at,
    }
