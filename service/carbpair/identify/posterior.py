"""Bayes over patterns, "other source" and "mixed pair"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from carbpair.identify.evidence import Evidence, add
from carbpair.identify.prior import Prior

PHOTO_CAP = 0.99
"""No hypothesis gets more than this from photos alone: they never show the inside."""
OTHER = "other_source"
MIXED = "mixed_pair"

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Posterior:
    """``probabilities``: shape (patterns + 2,), in the order of ``ids``; sums to 1.

    ``uncapped`` is the same before the ceiling for photos alone.
    """

    ids: tuple[str, ...]
    probabilities: Vector
    uncapped: Vector

    @property
    def best(self) -> int:
        """Place of the most probable hypothesis."""
        return int(np.argmax(self.probabilities))

    def probability(self, identifier: str) -> float:
        """The probability of one hypothesis."""
        return float(self.probabilities[self.ids.index(identifier)])


def posterior(
    pattern_ids: Sequence[str], prior: Prior, items: list[Evidence], photos_only: bool
) -> Posterior:
    """Weigh ``items`` against ``prior``. Unseen evidence is simply not among the items."""
    exact = log_posterior(prior, items)
    probabilities = np.exp(exact - exact.max())
    probabilities /= probabilities.sum()
    return Posterior(
        (*pattern_ids, OTHER, MIXED),
        cap(probabilities, PHOTO_CAP) if photos_only else probabilities,
        probabilities,
    )


def log_posterior(prior: Prior, items: list[Evidence]) -> Vector:
    """Unnormalised log posterior, shape (patterns + 2,): patterns, other, mixed."""
    pair, left, right = add(items, prior.patterns.size + 1)
    matched = np.log(np.append(prior.patterns, prior.other)) + pair
    return np.append(matched, np.log(prior.mixed) + log_mixed(prior.single, prior.odd, left, right))


def log_mixed(own: Vector, odd: Vector, left: Vector, right: Vector) -> float:
    """Log of P(evidence | left and right are of two different patterns).

    One is the car's own (prior ``own``), the other was put in (prior ``odd``), and either may
    be the left one: the mean over both of Σ own(a) odd(b) L(a) R(b) over a ≠ b, divided by
    P(a ≠ b). Each prior has shape (patterns + 1,), the last being "other", and sums to 1. Two of
    another source are of two patterns as well: there are many others.
    """
    apart = 1.0 - float(np.sum(own[:-1] * odd[:-1]))
    if apart <= 0.0:
        return -np.inf
    top_left, top_right = float(left.max()), float(right.max())
    one, two = np.exp(left - top_left), np.exp(right - top_right)
    total = (_sum_apart(own * one, odd * two) + _sum_apart(odd * one, own * two)) / 2.0
    if total <= 0.0:
        return -np.inf
    return float(np.log(total) - np.log(apart) + top_left + top_right)


def _sum_apart(one: Vector, two: Vector) -> float:
    """Σ one(a) two(b) over a ≠ b, the last of both taken as different from itself.

    Computed as the product of the sums less the diagonal, so that the cost grows with the
    patterns, not their square.
    """
    rest = two.sum() - two
    # The difference of near-equal sums loses digits when one pattern takes nearly all of
    # both; summing against "all but me" keeps them.
    biggest = int(np.argmax(two))
    rest[biggest] = np.delete(two, biggest).sum()
    rest[-1] += two[-1]
    return float(np.sum(one * np.maximum(rest, 0.0)))


def cap(probabilities: Vector, ceiling: float) -> Vector:
    """Hold the largest at ``ceiling``; what is cut off goes to the rest in proportion."""
    best = int(np.argmax(probabilities))
    if probabilities[best] <= ceiling:
        return probabilities
    rest = 1.0 - probabilities[best]
    if rest <= 0.0:
        capped = np.full(probabilities.size, (1.0 - ceiling) / (probabilities.size - 1))
    else:
        capped = probabilities * ((1.0 - ceiling) / rest)
    capped[best] = ceiling
    return capped


def weights_in_bits(prior: Prior, items: list[Evidence], hypotheses: Sequence[int]) -> list[float]:
    """Each item's weight of evidence for ``hypotheses`` against all others, in bits.

    Good's weight of evidence (I. J. Good, Probability and the Weighing of Evidence, 1950):
    the change of the log odds as the items are taken in order, so the weights and the
    prior log odds add up to the posterior log odds exactly.
    """
    weights = []
    before = log_odds_bits(log_posterior(prior, []), hypotheses)
    for count in range(1, len(items) + 1):
        after = log_odds_bits(log_posterior(prior, items[:count]), hypotheses)
        weights.append(after - before)
        before = after
    return weights


def log_odds_bits(log_weights: Vector, hypotheses: Sequence[int]) -> float:
    """Log odds, in bits, of the union of ``hypotheses`` against the rest."""
    chosen = np.zeros(log_weights.size, dtype=bool)
    chosen[list(hypotheses)] = True
    logs = [float(np.logaddexp.reduce(log_weights[mask])) for mask in (chosen, ~chosen)]
    return (logs[0] - logs[1]) / float(np.log(2.0))
