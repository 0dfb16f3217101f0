"""Photos that cannot show one pair: the same carb read differently, and surely, in both."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

Json = Mapping[str, Any]

SURE = 0.95
"""Both readings must be at least this sure: one misread photo should rarely raise the alarm."""

FIXED = ("flange_holes", "chamber", "bowl_side")
"""What stays as it is between two photos of a pair; filters come off and marks are turned."""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A feature of the carb at `position` with one value in one photo and another in another."""

    position: str
    feature: str
    values: tuple[object, object]
    files: tuple[str, str]


def contradictions(inspection: Json) -> list[Contradiction]:
    """All of an inspection, of the schema carbpair/inspection/1, in the order of FIXED.

    Photos that call themselves mirror images are left out: their left may be another's right.
    """
    photos = [p for p in inspection["photos"] if p["carbs"] and "mirrored_exif" not in p["notes"]]
    found = [c for first, second in combinations(photos, 2) for c in _between(first, second)]
    return sorted(found, key=lambda c: FIXED.index(c.feature))


def _between(first: Json, second: Json) -> Iterator[Contradiction]:
    for a in first["carbs"]:
        for b in second["carbs"]:
            if a["position"] is None or a["position"] != b["position"]:
                continue
            for name in FIXED:
                one, other = a["features"][name], b["features"][name]
                if _sure(one) and _sure(other) and one["value"] != other["value"]:
                    values, files = (one["value"], other["value"]), (first["file"], second["file"])
                    yield Contradiction(a["position"], name, values, files)


def _sure(feature: Json) -> bool:
    return feature["status"] == "seen" and (feature["probability"] or 0.0) >= SURE
