"""The likeliest value of a reading with its probability, whether or not it was said."""

from collections.abc import Sequence
from dataclasses import dataclass

from carbpair.evaluate.scored import Case, text
from carbpair.geometry.angles import wrap_deg
from carbpair.vision.feature import Feature

TOLERANCE_DEG = 15.0
"""A bearing farther off than this is wrong: the trade's tolerance for "faces the intake"."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Probability in [0, 1] of the likeliest value, and whether it is right."""

    probability: float
    right: bool


def candidates(cases: Sequence[Case]) -> list[Candidate]:
    """The likeliest value of every case that has one; what is not visible has none."""
    out = []
    for case in cases:
        guess = likeliest(case.reading)
        if guess is not None and case.reading.probability is not None:
            right = _right(case, guess)
            out.append(Candidate(float(case.reading.probability), right))
    return out


def likeliest(reading: Feature) -> str | float | None:
    """The likeliest value as text, or a bearing in degrees; None when nothing was seen."""
    if reading.status == "not_visible":
        return None
    spread = reading.distribution
    if spread is not None and "mean_deg" in spread:
        return float(spread["mean_deg"])
    if reading.value is not None:
        return text(reading.value)
    return max(spread, key=lambda k: spread[k]) if spread else None


def _right(case: Case, guess: str | float) -> bool:
    if isinstance(guess, float):
        return abs(wrap_deg(guess - float(case.truth))) <= TOLERANCE_DEG
    return guess == text(case.truth)
