"""Photographs with truth and reading side by side: what every table is made of."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from carbpair.evaluate.matching import match
from carbpair.evaluate.truth import CarbTruth, PhotoTruth
from carbpair.inspection import CarbInspection, PhotoInspection
from carbpair.vision.feature import Feature, Value


@dataclass(frozen=True, slots=True)
class Found:
    """A true carb that should be found and was."""

    truth: CarbTruth
    carb: CarbInspection


@dataclass(frozen=True, slots=True)
class Scored:
    """One photo; `matched` maps the index of a true carb to that of a found one."""

    truth: PhotoTruth
    inspection: PhotoInspection
    matched: dict[int, int]

    @property
    def found(self) -> list[Found]:
        """Every present carb that was found, with what was read from it."""
        carbs = self.inspection.carbs
        pairs = ((self.truth.carbs[i], carbs[j]) for i, j in self.matched.items())
        return [Found(t, c) for t, c in pairs if t.present]


@dataclass(frozen=True, slots=True)
class Case:
    """The true value of one feature of one found carb, and the reading of it."""

    truth: Value
    reading: Feature


def scored(truth: PhotoTruth, inspection: PhotoInspection) -> Scored:
    """Match the carbs of one photo."""
    return Scored(truth, inspection, match(truth.carbs, inspection.carbs))


def found_carbs(photos: Iterable[Scored]) -> list[Found]:
    """All found carbs of all photos."""
    return [f for p in photos for f in p.found]


def cases(found: Sequence[Found], name: str, only: str | None = None) -> list[Case]:
    """Every carb whose feature is known; `only` keeps those "in_view" or "hidden"."""
    return [
        Case(f.truth.values[name], f.carb.features[name])
        for f in found
        if name in f.truth.values and (only is None or name in getattr(f.truth, only))
    ]


def text(value: Value | None) -> str:
    """A value as the keys of distributions and confusion matrices have it."""
    return str(value).lower()
