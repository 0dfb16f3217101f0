"""One piece of evidence: what it says about every hypothesis, as log likelihoods.

Hypotheses are the catalogue's patterns (both carburettors of that pattern), "none of these /
other source", and "mixed pair" (left and right of two different patterns). The last needs
each carburettor's own likelihood, so evidence carries three vectors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Evidence:
    """Natural-log likelihoods, each of shape (patterns + 1,), the last being "other".

    ``pair``: both carburettors being that pattern. ``left``, ``right``: that one
    carburettor being that pattern. ``source`` is photo, confirmed or tag.
    """

    name: str
    source: str
    text: str
    pair: Vector
    left: Vector
    right: Vector

    def tempered(self, temperature: float) -> Evidence:
        """The same with its logarithms divided by ``temperature``."""
        if temperature == 1.0:
            return self
        return Evidence(
            self.name,
            self.source,
            self.text,
            self.pair / temperature,
            self.left / temperature,
            self.right / temperature,
        )


def log(likelihood: Vector) -> Vector:
    """Natural logarithm with a floor, so that nothing is ever impossible."""
    return np.asarray(np.log(np.maximum(likelihood, 1e-300)))


def add(items: list[Evidence], size: int) -> tuple[Vector, Vector, Vector]:
    """Sums of ``pair``, ``left`` and ``right`` over ``items``; zeros of ``size`` for none."""
    pair, left, right = np.zeros(size), np.zeros(size), np.zeros(size)
    for item in items:
        pair = pair + item.pair
        left = left + item.left
        right = right + item.right
    return pair, left, right
