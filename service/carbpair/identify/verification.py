"""After reassembly: does the pair now look as it should? Pass, fail, or cannot see."""

from __future__ import annotations

from dataclasses import dataclass

from carbpair.identify.fact import CaseFacts
from carbpair.identify.feature import CARB_POSITIONS, SIDES_OF_LAYOUT, sides_text
from carbpair.identify.mark_verdict import bearing_interval, mark_verdict
from carbpair.identify.observation import observe, seen_layout
from carbpair.identify.pattern import Mark, Pattern
from carbpair.identify.reading import PairReading

PASS, FAIL, CANNOT_SEE = "pass", "fail", "cannot_see"
FACES_INTAKE = Mark(0.0, 15.0)


@dataclass(frozen=True)
class VerificationItem:
    """One line. ``result`` is pass, fail or cannot_see; angles in degrees, interval 90 %."""

    item: str
    carb: str | None
    result: str
    expected: str
    seen: str
    reason: str
    bearing_deg: float | None = None
    interval_deg: tuple[float, float] | None = None


@dataclass(frozen=True)
class Verification:
    """Every item, and the pattern or the photos that it was held against."""

    against: str
    items: tuple[VerificationItem, ...]

    @property
    def result(self) -> str:
        """The whole: fail if any item failed, cannot_see if any was not seen, else pass."""
        results = {item.result for item in self.items}
        return FAIL if FAIL in results else CANNOT_SEE if CANNOT_SEE in results else PASS


def verify(
    after: PairReading, pattern: Pattern | None = None, before: PairReading | None = None
) -> Verification:
    """Hold the pair after work against a pattern, or against itself before the work.

    With ``before`` only, marks must face the air intake: the pair before the work may well
    have been the one with the turned cover.
    """
    items: list[VerificationItem] = []
    for feature in ("chamber", "flange_holes", "hole_layout"):
        if feature == "hole_layout" and (pattern is None or pattern.hole_layout is None):
            continue  # the count answers for it where the catalogue does not say how holes lie
        for position in CARB_POSITIONS:
            items.append(_label(feature, position, after, pattern, before))
        items.append(_same(feature, after))
    items.append(_layout(after, pattern, before))
    mark = pattern.mark if pattern is not None else FACES_INTAKE
    if mark is None and pattern is not None:
        mark = FACES_INTAKE
    if isinstance(mark, Mark):
        items += [_mark(position, after, mark, before) for position in CARB_POSITIONS]
    against = f"pattern {pattern.id}" if pattern is not None else "the photos before the work"
    return Verification(against, tuple(items))


def _label(
    feature: str,
    position: str,
    after: PairReading,
    pattern: Pattern | None,
    before: PairReading | None,
) -> VerificationItem:
    name = feature.replace("_", " ")
    wanted = pattern.value(feature) if pattern is not None else None
    if wanted is None and before is not None:
        earlier = observe(before, CaseFacts(), feature, position)
        wanted = None if earlier is None else earlier.value
    seen = observe(after, CaseFacts(), feature, position)
    if seen is None:
        label = after.carb(position).label(feature)
        reason = (label.reason or "not seen").replace("_", " ")
        return VerificationItem(name, position, CANNOT_SEE, wanted or "unknown", "not seen", reason)
    words = seen.words(position)
    if wanted is None:
        return VerificationItem(
            name, position, CANNOT_SEE, "unknown", seen.value, "nothing to compare with"
        )
    result = PASS if seen.value == wanted else FAIL
    return VerificationItem(name, position, result, wanted, seen.value, words)


def _same(feature: str, after: PairReading) -> VerificationItem:
    name = f"same {feature.replace('_', ' ')} on both"
    left, right = (observe(after, CaseFacts(), feature, side) for side in CARB_POSITIONS)
    if left is None or right is None:
        return VerificationItem(
            name, None, CANNOT_SEE, "equal", "not seen", "one of them was not seen"
        )
    result = PASS if left.value == right.value else FAIL
    seen = f"left {left.value}, right {right.value}"
    return VerificationItem(name, None, result, "equal", seen, "read from photos")


def _layout(
    after: PairReading, pattern: Pattern | None, before: PairReading | None
) -> VerificationItem:
    wanted = pattern.bowl_layout if pattern is not None else None
    if wanted is None and before is not None:
        wanted = seen_layout(before, CaseFacts())[0]  # type: ignore[assignment]
    layout, sides = seen_layout(after, CaseFacts())
    seen = ", ".join(f"{side} {one.value}" for side, one in sides.items()) or "not seen"
    expected = sides_text(wanted) if wanted is not None else "unknown"
    if wanted is None:
        return VerificationItem(
            "float bowl layout", None, CANNOT_SEE, expected, seen, "nothing to compare with"
        )
    possible = any(
        all(pair[CARB_POSITIONS.index(side)] == one.value for side, one in sides.items())
        for pair in SIDES_OF_LAYOUT[wanted]
    )
    if not possible:
        return VerificationItem("float bowl layout", None, FAIL, expected, seen, "read from photos")
    if len(sides) < len(CARB_POSITIONS):
        return VerificationItem(
            "float bowl layout", None, CANNOT_SEE, expected, seen, "not both bowls were seen"
        )
    result = PASS if layout == wanted else FAIL
    return VerificationItem("float bowl layout", None, result, expected, seen, "read from photos")


def _mark(
    position: str, after: PairReading, mark: Mark, before: PairReading | None
) -> VerificationItem:
    reading = after.carb(position).bearing
    verdict = mark_verdict(reading, mark, None)
    reason = verdict.reason
    if before is not None:
        earlier = before.carb(position).bearing
        if earlier.status == "seen" and earlier.bearing_deg is not None:
            reason += f"; before the work {earlier.bearing_deg:+.0f}°"
    return VerificationItem(
        "alignment mark",
        position,
        verdict.result,
        verdict.expected,
        verdict.seen,
        reason,
        verdict.bearing_deg,
        bearing_interval(reading) if verdict.bearing_deg is not None else None,
    )
