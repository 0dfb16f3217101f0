"""Patterns as arrays of value numbers, so that 500 of them are weighed at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import log

import numpy as np
import numpy.typing as npt

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.feature import FEATURES
from carbpair.identify.pattern import Mark

UNKNOWN = -1
SMALLEST = 1e-300
"""Nothing is ever impossible."""
Codes = npt.NDArray[np.int64]
Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class PatternTable:
    """``codes[feature]``: shape (patterns,), the place of the pattern's value, −1 unknown.

    ``required_mark_deg``: shape (patterns,), NaN where no bearing is required.
    """

    ids: tuple[str, ...]
    codes: dict[str, Codes]
    values: dict[str, tuple[str, ...]]
    required_mark_deg: Vector
    index: dict[str, int] = field(default_factory=dict)


def log_over_patterns(codes: Codes, likelihood: Sequence[float] | Vector) -> Vector:
    """Log likelihood over patterns, then over "other source" as the last member.

    Shape (values,) → (patterns + 1,). A pattern whose value is not known (code −1), and the
    unknown source, take every value as equally likely.
    """
    return _over_patterns(codes, [log(max(x, SMALLEST)) for x in _with_unknown(likelihood)])


def over_patterns(codes: Codes, likelihood: Sequence[float] | Vector) -> Vector:
    """The same without the logarithm."""
    return _over_patterns(codes, _with_unknown(likelihood))


def _with_unknown(likelihood: Sequence[float] | Vector) -> list[float]:
    values = likelihood.tolist() if isinstance(likelihood, np.ndarray) else list(likelihood)
    return [*values, sum(values) / len(values)]


def _over_patterns(codes: Codes, extended: list[float]) -> Vector:
    found = np.empty(codes.size + 1)
    # Index −1 is the appended entry.
    found[:-1] = np.array(extended)[codes]
    found[-1] = extended[-1]
    return found


def table_of(catalogue: Catalogue) -> PatternTable:
    """The table of a catalogue, made once and kept with it."""
    kept = catalogue.__dict__.get("_pattern_table")
    if isinstance(kept, PatternTable):
        return kept
    names = {name: feature.values for name, feature in catalogue.features.items()}
    names["heat_shield"] = FEATURES["heat_shield"].values
    table = PatternTable(
        ids=tuple(pattern.id for pattern in catalogue.patterns),
        codes={
            name: encode([pattern.value(name) for pattern in catalogue.patterns], values)
            for name, values in names.items()
        },
        values=names,
        required_mark_deg=np.array(
            [
                pattern.mark.bearing_deg if isinstance(pattern.mark, Mark) else np.nan
                for pattern in catalogue.patterns
            ]
        ),
        index=dict(catalogue.index),
    )
    catalogue.__dict__["_pattern_table"] = table
    return table


def encode(held: Sequence[str | None], values: Sequence[str]) -> Codes:
    """Each value's place among ``values``, −1 where it is None."""
    places = {value: place for place, value in enumerate(values)}
    return np.array([UNKNOWN if value is None else places[value] for value in held], dtype=np.int64)
