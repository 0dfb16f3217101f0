"""Evidence from how the bolt holes lie, among the layouts of the count that was read.

How many holes there are is another reading's evidence and counts once: a pattern with another count
is judged by it alone, and takes every layout that was possible as equally likely, as the unknown
source does.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from carbpair.geometry.hole_layout import COUNT_OF
from carbpair.identify.confusion import LabelConfusion
from carbpair.identify.evidence import Evidence
from carbpair.identify.label_words import in_order, label_words
from carbpair.identify.likelihood import (
    favoured_value,
    matched_likelihood,
    same_kind,
    soft_likelihood,
)
from carbpair.identify.pattern_table import PatternTable, log_over_patterns
from carbpair.identify.reading import LabelReading

NAME = "hole_layout"

Vector = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


def hole_layout_evidence(
    left: LabelReading, right: LabelReading, table: PatternTable, confusion: LabelConfusion
) -> Evidence | None:
    """Both carburettors' layouts; None where neither was read."""
    one, two = soft_likelihood(left, confusion), soft_likelihood(right, confusion)
    both = matched_likelihood(
        one, two, confusion.pair_correlation, same_kind(left, right, confusion)
    )
    if both is None:
        return None
    ours, theirs = _of_count(left, confusion), _of_count(right, confusion)
    single = [
        None if likelihood is None or own is None else _among(likelihood, own)
        for likelihood, own in ((one, ours), (two, theirs))
    ]
    own = ours if theirs is None else theirs
    if ours is not None and theirs is not None and (ours != theirs).any():
        # Two counts: no pattern has both, each reading stands by itself.
        together = np.asarray(single[0]) * np.asarray(single[1])
    else:
        together = _among(both, np.asarray(own))
    codes = table.codes[NAME]

    def per_pattern(likelihood: Vector | None) -> Vector:
        if likelihood is None:
            return np.zeros(codes.size + 1)
        return log_over_patterns(codes, in_order(likelihood, confusion.labels, table.values[NAME]))

    return Evidence(
        NAME,
        "photo",
        label_words(NAME, left, right, confusion),
        per_pattern(together),
        per_pattern(single[0]),
        per_pattern(single[1]),
    )


def _of_count(reading: LabelReading, confusion: LabelConfusion) -> Flags | None:
    """Which of the labels are layouts of the count that a reading goes with."""
    favoured = favoured_value(reading, confusion)
    if favoured is None:
        return None
    return np.array([COUNT_OF[label] == COUNT_OF[favoured] for label in confusion.labels])


def _among(likelihood: Vector, own: Flags) -> Vector:
    """The likelihood of these layouts; of any other, their mean."""
    return np.where(own, likelihood, likelihood[own].mean())
