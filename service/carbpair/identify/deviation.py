"""What differs between the pair that a car should have and the pair that is there."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.fact import CaseFacts
from carbpair.identify.feature import CARB_POSITIONS, SIDES_OF_LAYOUT, sides_text
from carbpair.identify.mark_verdict import MarkVerdict, mark_verdict
from carbpair.identify.observation import Observation, observe, seen_layout
from carbpair.identify.pattern import Pattern
from carbpair.identify.reading import PairReading
from carbpair.identify.tag import match_tag

SEVERITIES = ("critical", "major", "minor")


@dataclass(frozen=True)
class Deviation:
    """One difference. ``carb`` is left, right or None for the pair.

    ``probability``: the reader's own for what was seen; None where a hand confirmed it or
    the finding is not a reading.
    """

    kind: str
    severity: str
    carb: str | None
    title: str
    expected: str
    seen: str
    probability: float | None
    evidence: str
    explanation: str
    action: str


@dataclass(frozen=True)
class Fit:
    """``deviations`` by severity; ``not_checked``: what could not be compared, and why."""

    deviations: tuple[Deviation, ...]
    not_checked: tuple[str, ...]


@cache
def _words() -> dict[str, Any]:
    file = resources.files("carbpair.identify") / "data" / "deviations.toml"
    return tomllib.loads(file.read_text(encoding="utf-8"))


def compare_fit(
    expected: Sequence[Pattern],
    reading: PairReading,
    facts: CaseFacts,
    catalogue: Catalogue,
    front_carb: str | None,
    subject: str = "this car",
) -> Fit:
    """Compare what is there with ``expected`` (one pattern, or the several listed for a car).

    ``subject`` is what the words say the comparison is with. A value is a deviation only when
    no expected pattern has it. With no expected pattern the pair is compared with itself only
    (left against right, tags against places).
    """
    found: list[Deviation] = []
    missing: list[str] = []
    found += _matching(reading, facts, catalogue)
    found += _swapped(facts, catalogue, front_carb) + _same_place(facts, catalogue)
    if expected:
        found += _layout(expected, reading, facts, catalogue, missing)
        found += _per_carb(expected, reading, facts, missing)
        found += _marks(expected, reading, facts, missing)
        found += _by_hand(expected, facts)
        found += _tags(expected, facts, catalogue)
    found += _heat_shield(expected, reading, facts, missing)
    found.sort(key=lambda deviation: SEVERITIES.index(deviation.severity))
    named = tuple(replace(one, title=one.title.format(subject=subject)) for one in found)
    return Fit(named, tuple(missing))


def _make(
    kind: str,
    *,
    expected: str,
    seen: str,
    evidence: str,
    carb: str | None = None,
    probability: float | None = None,
    **fill: str,
) -> Deviation:
    words = _words()[kind]
    return Deviation(
        kind,
        words["severity"],
        carb,
        words["title"],
        expected,
        seen,
        probability,
        evidence,
        words["explanation"].format(**fill),
        words["action"].format(**fill),
    )


def _values(expected: Sequence[Pattern], feature: str) -> list[str]:
    """The expected values; empty where any expected pattern leaves it open."""
    values = [pattern.value(feature) for pattern in expected]
    return [] if None in values else sorted({str(value) for value in values})


def _layout(
    expected: Sequence[Pattern],
    reading: PairReading,
    facts: CaseFacts,
    catalogue: Catalogue,
    missing: list[str],
) -> list[Deviation]:
    wanted = _values(expected, "bowl_layout")
    if not wanted:
        return []
    layout, sides = seen_layout(reading, facts)
    if not sides:
        missing.append("float bowl layout: neither bowl was seen")
        return []
    allowed = [pair for value in wanted for pair in SIDES_OF_LAYOUT[value]]
    fits = any(
        all(pair[CARB_POSITIONS.index(position)] == side.value for position, side in sides.items())
        for pair in allowed
    )
    if fits:
        return []
    donors = [p for p in catalogue.patterns if layout and p.bowl_layout == layout]
    cars = sorted({f.car for f in catalogue.fitments if f.pattern in {p.id for p in donors}})
    where = f", such as the {' or the '.join(cars)}" if cars else ""
    return [
        _make(
            "bowls_wrong_side",
            expected=" or ".join(sides_text(value) for value in wanted),
            seen=sides_text(layout)
            if layout
            else ", ".join(f"{position} {side.value}" for position, side in sides.items()),
            evidence="; ".join(side.words(position) for position, side in sides.items()),
            probability=_least(list(sides.values())),
            donor=f"Probably a pair from another model{where}.",
        )
    ]


def _per_carb(
    expected: Sequence[Pattern], reading: PairReading, facts: CaseFacts, missing: list[str]
) -> list[Deviation]:
    found = []
    miscounted: set[str] = set()
    for feature in ("chamber", "flange_holes", "hole_layout"):
        wanted = _values(expected, feature)
        if not wanted:
            continue
        wrong: dict[str, Observation] = {}
        for position in CARB_POSITIONS:
            seen = observe(reading, facts, feature, position)
            if seen is None:
                reason = reading.carb(position).label(feature).reason
                why = f" ({reason.replace('_', ' ')})" if reason else ""
                missing.append(f"{position} {feature.replace('_', ' ')}: not seen{why}")
            elif seen.value not in wanted and not (
                feature == "hole_layout" and position in miscounted
            ):
                wrong[position] = seen
        if feature == "flange_holes":  # holes of another number lie otherwise: said once
            miscounted = set(wrong)
        # One line for both where they are alike, one for each where they are not.
        alike = len(wrong) == len(CARB_POSITIONS) and len({o.value for o in wrong.values()}) == 1
        groups = [wrong] if alike else [{position: one} for position, one in wrong.items()]
        found += [_differs(feature, wanted, group) for group in groups]
    return found


def _differs(feature: str, wanted: list[str], seen: dict[str, Observation]) -> Deviation:
    first = next(iter(seen.values()))
    kind = "flange_holes_differ" if feature == "flange_holes" else "hole_layout_differs"
    if feature == "chamber":
        other = first.value == "diaphragm"
        kind = "diaphragm_for_piston" if other else "piston_for_diaphragm"
    return _make(
        kind,
        carb=next(iter(seen)) if len(seen) == 1 else None,
        expected=" or ".join(wanted),
        seen=first.value,
        probability=_least(list(seen.values())),
        evidence="; ".join(one.words(position) for position, one in seen.items()),
    )


def _marks(
    expected: Sequence[Pattern], reading: PairReading, facts: CaseFacts, missing: list[str]
) -> list[Deviation]:
    marks = [pattern.required_mark for pattern in expected]
    bearings = {(m.bearing_deg, m.tolerance_deg) for m in marks if m is not None}
    if len(bearings) != 1 or None in marks:
        return []
    required = next(mark for mark in marks if mark is not None)
    found = []
    for position in CARB_POSITIONS:
        bearing = reading.carb(position).bearing
        verdict = mark_verdict(bearing, required, facts.finding("mark_verdict", position))
        if verdict.result == "cannot_see":
            missing.append(f"{position} alignment mark: {verdict.reason}")
        elif verdict.result == "fail":
            found.append(_turned(position, verdict))
    return found


def _turned(position: str, verdict: MarkVerdict) -> Deviation:
    return _make(
        "mark_turned",
        carb=position,
        expected=verdict.expected,
        seen=verdict.seen,
        evidence=verdict.reason,
    )


def _by_hand(expected: Sequence[Pattern], facts: CaseFacts) -> list[Deviation]:
    found = []
    for feature in ("return_spring", "hole_thread", "choke_linkage"):
        wanted, value = _values(expected, feature), facts.finding(feature)
        if not wanted or value is None or value in wanted:
            continue
        kind = f"{feature}_differs"
        if feature == "return_spring" and wanted == ["external"]:
            kind = "return_spring_missing"
        elif feature == "return_spring" and value == "none_seen":
            continue
        found.append(
            _make(
                kind,
                expected=" or ".join(wanted).replace("_", " "),
                seen=value.replace("_", " "),
                evidence="confirmed by hand",
            )
        )
    return found


def _heat_shield(
    expected: Sequence[Pattern], reading: PairReading, facts: CaseFacts, missing: list[str]
) -> list[Deviation]:
    layout, sides = seen_layout(reading, facts)
    needed = bool(expected) and all(pattern.heat_shield for pattern in expected)
    inboard = bool(sides) and all(side.value == "inboard" for side in sides.values())
    if not (needed or inboard):
        return []
    fitted = facts.finding("heat_shield")
    if fitted == "true":
        return []
    if fitted is None:
        missing.append("heat shield: photos are not read for it; look by hand")
        return []
    return [
        _make(
            "inboard_without_heat_shield",
            expected="heat shield fitted",
            seen="no heat shield",
            evidence="heat shield confirmed missing by hand; "
            + (sides_text(layout) if layout else "this car's pattern needs one"),
        )
    ]


def _matching(reading: PairReading, facts: CaseFacts, catalogue: Catalogue) -> list[Deviation]:
    found = []
    miscounted = False
    for feature in ("chamber", "flange_holes", "hole_layout"):
        left, right = (observe(reading, facts, feature, side) for side in CARB_POSITIONS)
        if left is not None and right is not None and left.value != right.value:
            if feature == "hole_layout" and miscounted:
                continue
            miscounted = feature == "flange_holes"
            found.append(
                _make(
                    "not_same_pattern",
                    expected=f"the same {feature.replace('_', ' ')} on both",
                    seen=f"left {left.value}, right {right.value}",
                    probability=_least([left, right]),
                    evidence=f"{left.words('left')}; {right.words('right')}",
                )
            )
    _, sides = seen_layout(reading, facts)
    shown = [side.value for side in sides.values()]
    if len(shown) == len(CARB_POSITIONS) and shown.count("none") == 1:
        found.append(
            _make(
                "not_same_pattern",
                expected="a side bowl on both or on neither",
                seen=f"left {shown[0]}, right {shown[1]}",
                probability=_least(list(sides.values())),
                evidence="; ".join(side.words(position) for position, side in sides.items()),
            )
        )
    owners = [
        (tag, match.listed[0])
        for tag in facts.tags
        if (match := match_tag(tag.text, catalogue)).listed
    ]
    if len({owner for _, owner in owners}) > 1:
        found.append(
            _make(
                "not_same_pattern",
                expected="both tags of one pattern",
                seen=", ".join(f"{tag.text} of {owner}" for tag, owner in owners),
                evidence="tag numbers in the catalogue",
            )
        )
    return found


def _swapped(facts: CaseFacts, catalogue: Catalogue, front_carb: str | None) -> list[Deviation]:
    if front_carb is None:
        return []
    found = []
    for tag in facts.tags:
        place = match_tag(tag.text, catalogue).place
        if tag.position is None or place not in {"front", "rear"}:
            continue
        belongs = front_carb if place == "front" else _opposite(front_carb)
        if belongs != tag.position:
            found.append(
                _make(
                    "front_rear_swapped",
                    carb=tag.position,
                    expected=f"tag {tag.text} ({place}) on the {belongs} carburettor",
                    seen=f"on the {tag.position} carburettor",
                    evidence=f"on this car the front carburettor is the {front_carb} one, "
                    "seen facing the air intakes",
                )
            )
    return found


def _same_place(facts: CaseFacts, catalogue: Catalogue) -> list[Deviation]:
    """Two tags that both belong on the front carburettor, or both on the rear one."""
    places = [match_tag(tag.text, catalogue).place for tag in facts.tags]
    if len(places) != len(CARB_POSITIONS) or places[0] != places[1]:
        return []
    if places[0] not in {"front", "rear"}:
        return []
    return [
        _make(
            "same_place_twice",
            expected="one tag of a front and one of a rear carburettor",
            seen=f"two of a {places[0]} one: {', '.join(tag.text for tag in facts.tags)}",
            evidence="tag numbers in the catalogue",
        )
    ]


def _tags(expected: Sequence[Pattern], facts: CaseFacts, catalogue: Catalogue) -> list[Deviation]:
    ids = {pattern.id for pattern in expected}
    found = []
    for tag in facts.tags:
        match = match_tag(tag.text, catalogue)
        if match.listed and not ids & set(match.listed):
            found.append(
                _make(
                    "tag_of_other_pattern",
                    carb=tag.position,
                    expected=" or ".join(sorted(ids)),
                    seen=f"tag {tag.text} of {', '.join(match.listed)}",
                    evidence="tag number in the catalogue",
                )
            )
    return found


def _opposite(position: str) -> str:
    return "right" if position == "left" else "left"


def _least(seen: Sequence[Observation]) -> float | None:
    """The least certain of several readings; None when any was confirmed by hand only."""
    known = [one.probability for one in seen if one.probability is not None]
    return min(known) if known else None
