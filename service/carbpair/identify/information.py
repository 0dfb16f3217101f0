"""Expected information gain, in bits.

Lindley, On a Measure of the Information Provided by an Experiment, 1956; Shannon's entropy.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]


def entropy_bits(probabilities: Vector) -> float:
    """Shannon entropy of a distribution, in bits; 0 log 0 is 0."""
    held = probabilities[probabilities > 0]
    return float(-np.sum(held * np.log2(held)))


def expected_gain_bits(prior: Vector, likelihood: Matrix) -> float:
    """Mutual information between hypothesis and outcome, in bits.

    ``prior``: shape (hypotheses,), sums to 1. ``likelihood``: shape (hypotheses, outcomes),
    each row P(outcome | hypothesis), sums to 1. Never negative beyond rounding.
    """
    outcome = prior @ likelihood
    conditional = -np.sum(likelihood * np.log2(np.where(likelihood > 0, likelihood, 1.0)), axis=1)
    return max(entropy_bits(outcome) - float(prior @ conditional), 0.0)


def product_outcomes(first: Matrix, second: Matrix) -> Matrix:
    """Outcomes of two independent observations, shape (hypotheses, outcomes₁ × outcomes₂)."""
    return np.asarray((first[:, :, None] * second[:, None, :]).reshape(first.shape[0], -1))
