"""Two helpers of evidence from label readings: the catalogue's order of values, and words."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from carbpair.identify.confusion import LabelConfusion
from carbpair.identify.likelihood import favoured_value
from carbpair.identify.reading import LabelReading

Vector = npt.NDArray[np.float64]


def in_order(likelihood: Vector, labels: tuple[str, ...], values: tuple[str, ...]) -> Vector:
    """From the confusion file's order to the catalogue's; an unmeasured value is neutral."""
    if labels == values:
        return likelihood
    held = dict(zip(labels, likelihood, strict=True))
    return np.array([held.get(value, float(likelihood.mean())) for value in values])


def label_words(
    name: str, left: LabelReading, right: LabelReading, confusion: LabelConfusion
) -> str:
    """What both carburettors were read as, in words."""
    parts = []
    for side, reading in (("left", left), ("right", right)):
        value = favoured_value(reading, confusion)
        if value is not None:
            doubt = "" if reading.status == "seen" else " (unsure)"
            parts.append(f"{side} {value}{doubt}")
    return f"{name.replace('_', ' ')} {', '.join(parts)}"
