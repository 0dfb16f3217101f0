"""What is believed before a photo is looked at: from the stated car, or nothing stated.

The shares are judgements, no source: they say how often a pair on a classic car is the one
its maker fitted, comes from another model, or from elsewhere. simulate_identification.py
reports what happens when they are wrong.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from carbpair.identify.fitment import Fitment

OTHER_SHARE = 0.12
"""None of the catalogue's patterns: another maker's, a copy, a pattern not written down."""
MIXED_SHARE = 0.03
"""Left and right from two different patterns: one minus the matched prior."""
ODD_OTHER_SHARE = 0.5
"""Of a mixed pair, how often the carburettor that was put in is none of the catalogue's: what is
at hand when one is replaced is as likely from elsewhere as from another of these cars."""
FITTED_SHARE = 0.65
"""The pattern (or patterns) listed for the stated car; the rest of the catalogue shares
what remains. Without a car every pattern is as likely as the next."""

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Prior:
    """Probabilities: ``patterns`` (shape (patterns,)), ``other``, ``mixed``; sum is 1."""

    patterns: Vector
    other: float = OTHER_SHARE
    mixed: float = MIXED_SHARE

    @property
    def single(self) -> Vector:
        """The prior of one carburettor's own pattern: patterns then other, sums to 1."""
        members = np.append(self.patterns, self.other)
        return np.asarray(members / members.sum())

    @property
    def odd(self) -> Vector:
        """The prior of the carburettor of a mixed pair that was put in; patterns then other."""
        count = self.patterns.size
        return np.append(np.full(count, (1.0 - ODD_OTHER_SHARE) / count), ODD_OTHER_SHARE)


@dataclass(frozen=True)
class Shares:
    """The three shares above; another set describes another world to be tried on."""

    fitted: float = FITTED_SHARE
    other: float = OTHER_SHARE
    mixed: float = MIXED_SHARE


BELIEVED = Shares()


def prior_for(
    index: Mapping[str, int], fitments: Sequence[Fitment], shares: Shares = BELIEVED
) -> Prior:
    """The prior for a car with ``fitments``; an empty sequence means no car was stated.

    ``index``: pattern id → place. Fitments of one car share its portion per pattern.
    """
    count = len(index)
    available = 1.0 - shares.other - shares.mixed
    fitted = sorted({index[fitment.pattern] for fitment in fitments})
    if not fitted or len(fitted) == count:
        weights = np.full(count, available / count)
    else:
        weights = np.full(count, (available - shares.fitted) / (count - len(fitted)))
        weights[fitted] = shares.fitted / len(fitted)
    return Prior(weights, shares.other, shares.mixed)
