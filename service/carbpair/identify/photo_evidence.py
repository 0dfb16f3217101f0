"""Evidence from the photo readings of a pair."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from carbpair.identify.confusion import Confusion, LabelConfusion
from carbpair.identify.evidence import Evidence, log
from carbpair.identify.feature import BOWL_LAYOUTS, SIDES_OF_LAYOUT
from carbpair.identify.hole_layout_evidence import hole_layout_evidence
from carbpair.identify.label_words import in_order, label_words
from carbpair.identify.likelihood import (
    joint_likelihood,
    matched_likelihood,
    same_kind,
    soft_likelihood,
)
from carbpair.identify.mark import (
    UNIFORM,
    required_density,
    unknown_convention_density,
)
from carbpair.identify.pattern_table import PatternTable, log_over_patterns
from carbpair.identify.reading import BearingReading, LabelReading, PairReading

Vector = npt.NDArray[np.float64]


def photo_evidence(
    reading: PairReading, table: PatternTable, confusion: Confusion
) -> list[Evidence]:
    """One item per feature that the photos say something about; the rest is neutral."""
    found = [
        label_evidence(
            name,
            reading.carb("left").label(name),
            reading.carb("right").label(name),
            table,
            confusion.labels[name],
        )
        for name in ("chamber", "flange_holes")
    ]
    found += [
        weigh(
            reading.carb("left").label(name),
            reading.carb("right").label(name),
            table,
            confusion.labels[name],
        )
        for name, weigh in (("hole_layout", hole_layout_evidence), ("bowl_side", bowl_evidence))
        if name in confusion.labels  # layouts are not measured in every confusion file
    ]
    found.append(
        mark_evidence(reading.carb("left").bearing, reading.carb("right").bearing, table, confusion)
    )
    return [item for item in found if item is not None]


def label_evidence(
    name: str,
    left: LabelReading,
    right: LabelReading,
    table: PatternTable,
    confusion: LabelConfusion,
) -> Evidence | None:
    """A feature that is equal on both carburettors of a matched pair."""
    one, two = soft_likelihood(left, confusion), soft_likelihood(right, confusion)
    same = same_kind(left, right, confusion)
    both = matched_likelihood(one, two, confusion.pair_correlation, same)
    if both is None:
        return None
    values = table.values[name]
    codes = table.codes[name]
    neutral = np.zeros(codes.size + 1)

    def per_pattern(likelihood: Vector) -> Vector:
        return log_over_patterns(codes, in_order(likelihood, confusion.labels, values))

    return Evidence(
        name,
        "photo",
        label_words(name, left, right, confusion),
        per_pattern(both),
        neutral if one is None else per_pattern(one),
        neutral if two is None else per_pattern(two),
    )


def bowl_evidence(
    left: LabelReading, right: LabelReading, table: PatternTable, confusion: LabelConfusion
) -> Evidence | None:
    """The bowl sides of both carburettors together show the pair's layout."""
    one, two = soft_likelihood(left, confusion), soft_likelihood(right, confusion)
    same = same_kind(left, right, confusion)
    joint = joint_likelihood(one, two, confusion.pair_correlation, same)
    if joint is None:
        return None
    place = {label: number for number, label in enumerate(confusion.labels)}
    codes = table.codes["bowl_layout"]

    def over_layouts(cell: npt.NDArray[np.float64], carb: int | None) -> Vector:
        likelihoods = []
        for layout in BOWL_LAYOUTS:
            shown = [
                cell[place[a], place[b]] if carb is None else cell[place[(a, b)[carb]]]
                for a, b in SIDES_OF_LAYOUT[layout]
                if a in place and b in place
            ]
            likelihoods.append(float(np.mean(shown)) if shown else float(cell.mean()))
        return log_over_patterns(codes, likelihoods)

    neutral = np.zeros(codes.size + 1)
    return Evidence(
        "bowl_layout",
        "photo",
        label_words("bowl_side", left, right, confusion),
        over_layouts(joint, None),
        neutral if one is None else over_layouts(one, 0),
        neutral if two is None else over_layouts(two, 1),
    )


def mark_evidence(
    left: BearingReading, right: BearingReading, table: PatternTable, confusion: Confusion
) -> Evidence | None:
    """Where the marks point, against where each pattern requires them."""
    if not left.informative and not right.informative:
        return None
    # Multiplied by 360 so that "any bearing" is 1: a common factor, no evidence.
    size = table.required_mark_deg.size
    pair = np.ones(size + 1)
    sides = []
    for reading in (left, right):
        member = np.ones(size + 1)
        if reading.informative:
            member[:size] = (
                required_density(reading, table.required_mark_deg, confusion.bearing) / UNIFORM
            )
        pair = pair * member
        sides.append(log(member))
    seen = int(left.informative) + int(right.informative)
    free = unknown_convention_density(left, right, confusion.bearing) / UNIFORM**seen
    pair[:size][np.isnan(table.required_mark_deg)] = free
    pair[size] = free
    words = ", ".join(
        f"{side} {reading.bearing_deg:+.0f}°"
        for side, reading in (("left", left), ("right", right))
        if reading.informative
    )
    return Evidence("mark", "photo", f"mark bearing {words}", log(pair), sides[0], sides[1])
