"""Photos that cannot show one pair: the same carb read differently, and surely, in both."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from carbpair.vision.feature import Feature

SURE = 0.95
"""Both readings must be at least this sure: one misread photo should rarely raise the alarm."""

FIXED = ("flange_holes", "chamber", "bowl_side")
"""What stays as it is between two photos of a pair; filters come off and marks are turned."""

SEVERAL_PAIRS = (
    "These photos seem to show more than one pair of carburettors. Send the photos of one pair "
    "at a time."
)


@dataclass(frozen=True, slots=True)
class Shot:
    """One photograph: its file, and the position of each carb in it with what was read.

    `mirrored`: it calls itself a mirror image, so its left may be another's right.
    """

    file: str
    mirrored: bool
    carbs: Sequence[tuple[str | None, Mapping[str, Feature]]]


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A feature of the carb at `position` with one value in one photo and another in another."""

    position: str
    feature: str
    values: tuple[object, object]
    files: tuple[str, str]

    def as_json(self) -> dict[str, Any]:
        """As the inspection's JSON has it."""
        return {
            "position": self.position,
            "feature": self.feature,
            "values": list(self.values),
            "files": list(self.files),
        }


def contradictions(shots: Sequence[Shot]) -> list[Contradiction]:
    """All between photos of what should be one pair, in the order of FIXED.

    Photos that call themselves mirror images are left out.
    """
    straight = [shot for shot in shots if not shot.mirrored]
    found = [c for first, second in combinations(straight, 2) for c in _between(first, second)]
    return sorted(found, key=lambda c: FIXED.index(c.feature))


def _between(first: Shot, second: Shot) -> Iterator[Contradiction]:
    for here, one in first.carbs:
        for there, other in second.carbs:
            if here is None or here != there:
                continue
            for name in FIXED:
                a, b = one[name], other[name]
                if _sure(a) and _sure(b) and a.value != b.value:
                    yield Contradiction(here, name, (a.value, b.value), (first.file, second.file))


def _sure(feature: Feature) -> bool:
    return feature.status == "seen" and (feature.probability or 0.0) >= SURE
