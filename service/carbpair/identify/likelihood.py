"""From a reader's answer to the likelihood of each true value: soft, but capped.

A reader's distribution is a posterior under its own training's frequencies. Dividing those
out leaves the evidence. It may say less than the reader's measured confusion warrants (a
blurred photo), never more (an over-confident network): for every other value the log
likelihood ratio against the favoured one is held at the measured one.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import numpy.typing as npt

from carbpair.identify.confusion import SURE, LabelConfusion
from carbpair.identify.reading import LabelReading

SMALLEST = 1e-6
"""A probability of zero from a network is a rounding, not a proof."""

Vector = npt.NDArray[np.float64]


def soft_likelihood(reading: LabelReading, confusion: LabelConfusion) -> Vector | None:
    """P(this answer | each true value), in the order of ``confusion.labels``.

    Each kind of reading is held at its own measured record: unsure ones, answers, and answers
    that are sure of themselves.

    Shape (values,). None when the reading says nothing, or names a value that was never
    measured (nothing may then be concluded from it).
    """
    belief = _belief(reading, confusion.labels) if reading.informative else None
    if belief is None:
        return None
    # Plain floats: for three or four values they are ten times faster than arrays.
    evidence = [share / often for share, often in zip(belief, confusion.prior_list, strict=True)]
    if reading.value is not None:
        favoured = confusion.labels.index(reading.value)
    else:
        favoured = evidence.index(max(evidence))
    if reading.status == "seen":
        measured = confusion.columns[belief[favoured] >= SURE][favoured]
    else:
        measured = confusion.unsure_columns[favoured]
    top, peak = evidence[favoured], measured[favoured]
    likelihood = [
        max(peak * one / top, limit) for one, limit in zip(evidence, measured, strict=True)
    ]
    likelihood[favoured] = peak
    return np.array(likelihood)


def favoured_value(reading: LabelReading, confusion: LabelConfusion) -> str | None:
    """The value that the reading speaks for, None when it says nothing."""
    if reading.value is not None:
        return reading.value if reading.value in confusion.labels else None
    belief = _belief(reading, confusion.labels) if reading.informative else None
    return None if belief is None else confusion.labels[belief.index(max(belief))]


def _belief(reading: LabelReading, labels: tuple[str, ...]) -> list[float] | None:
    """The reader's distribution over all ``labels``; what it left out is shared evenly."""
    if reading.value is not None and reading.value not in labels:
        return None
    given = reading.distribution
    if given is None:
        given = {str(reading.value): 1.0}
    stated = [given.get(label) for label in labels]
    absent = stated.count(None)
    if absent == len(labels):
        return None
    left = max(1.0 - sum(share for share in stated if share is not None), 0.0)
    return [max(left / absent if share is None else share, SMALLEST) for share in stated]


def matched_likelihood(
    left: Vector | None, right: Vector | None, correlation: float, same: bool
) -> Vector | None:
    """P(both readings | each true value that both carburettors share), shape (values,).

    In a share ``correlation`` of scenes one cause (lamp, lens, dirt) decides both readings
    of equal parts, so the second repeats the first and adds nothing; in the others they
    are independent. Agreement therefore counts for more than one reading and less than two;
    disagreement can only come from the independent share. ``same``: both are of one kind
    (same_kind). A missing side is neutral.
    """
    if left is None or right is None:
        return right if left is None else left
    one, two = left.tolist(), right.tolist()
    apart = 1.0 - correlation
    together = correlation if same else 0.0
    return np.array([apart * a * b + together * sqrt(a * b) for a, b in zip(one, two, strict=True)])


def joint_likelihood(
    left: Vector | None, right: Vector | None, correlation: float, same: bool
) -> Vector | None:
    """P(both readings | left truth, right truth), shape (values, values).

    Where the truths are equal this is matched_likelihood; where they differ, the readings
    are taken as independent. A missing side is neutral.
    """
    matched = matched_likelihood(left, right, correlation, same)
    if matched is None:
        return None
    if left is None:
        return np.tile(matched, (matched.size, 1))
    if right is None:
        return np.tile(matched[:, None], (1, matched.size))
    table = np.outer(left, right)
    np.fill_diagonal(table, matched)
    return table


def same_kind(left: LabelReading, right: LabelReading, confusion: LabelConfusion) -> bool:
    """Whether both say the same: the same answer, as sure of itself, or unsure with one lean."""

    def kind(reading: LabelReading) -> tuple[str, str | None, bool]:
        value = favoured_value(reading, confusion)
        own = (reading.distribution or {}).get(value or "", 1.0)
        sure = confusion.sure is not None and reading.status == "seen" and own >= SURE
        return reading.status, value, sure

    return kind(left) == kind(right)
