"""Symptoms that a sender ticks, and the checks that each points to."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

from carbpair.identify.check import checks
from carbpair.identify.error import UnknownNameError
from carbpair.identify.pattern import Pattern
from carbpair.identify.suggestion import did_you_mean


@dataclass(frozen=True)
class Pointer:
    """A check that a symptom points to; ``weight`` orders them."""

    check: str
    weight: float
    why: str


@dataclass(frozen=True)
class Symptom:
    """One symptom."""

    id: str
    title: str
    points: tuple[Pointer, ...]


@cache
def symptoms() -> dict[str, Symptom]:
    """Every symptom by id."""
    file = resources.files("carbpair.identify") / "data" / "symptoms.toml"
    held = tomllib.loads(file.read_text(encoding="utf-8"))
    return {
        row["id"]: Symptom(
            row["id"],
            row["title"],
            tuple(Pointer(p["check"], float(p["weight"]), p["why"]) for p in row["points"]),
        )
        for row in held["symptom"]
    }


def triage(
    ticked: Iterable[str], patterns: Sequence[Pattern], shares: Sequence[float]
) -> list[Pointer]:
    """Checks for the ticked symptoms, most likely first.

    ``shares``: probability of each pattern. A check counts for the share of the patterns
    that have the part; with none above a hundredth it is left out. The weights of several
    symptoms add up, since a cause that explains two of them is the likelier one.
    """
    total: dict[str, float] = {}
    reasons: dict[str, list[str]] = {}
    known = sum(shares)
    for name in dict.fromkeys(ticked):
        symptom = symptoms().get(name)
        if symptom is None:
            raise UnknownNameError(
                f"{name!r} is not a known symptom.", did_you_mean(name, symptoms())
            )
        for point in symptom.points:
            check = checks()[point.check]
            having = sum(s for p, s in zip(patterns, shares, strict=True) if check.applies_to(p))
            share = having / known if known > 0 else 1.0
            if share < 0.01:
                continue
            total[point.check] = total.get(point.check, 0.0) + point.weight * share
            reasons.setdefault(point.check, []).append(f"{symptom.title}: {point.why}")
    order = sorted(total, key=lambda check: -total[check])
    return [Pointer(check, total[check], " ".join(reasons[check])) for check in order]
