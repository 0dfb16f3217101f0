"""Whether a mark points where it must: yes, no, or cannot be said."""

from __future__ import annotations

from dataclasses import dataclass

from carbpair.identify.pattern import Mark
from carbpair.identify.reading import BearingReading, wrap_deg

NORMAL_90 = 1.6449
"""Half-width of a normal's central 90 % in standard deviations."""

HALF_TURN_DEG = 150.0


@dataclass(frozen=True)
class MarkVerdict:
    """``result``: pass, fail or cannot_see. Angles in degrees, clockwise from the intake.

    ``interval_deg``: 90 %, unwrapped around the bearing (the ends may pass ±180).
    """

    result: str
    bearing_deg: float | None
    interval_deg: tuple[float, float] | None
    expected: str
    seen: str
    reason: str


def mark_verdict(reading: BearingReading, required: Mark, by_hand: str | None) -> MarkVerdict:
    """Pass only if the whole interval lies within tolerance, fail only if all of it is out.

    ``by_hand``: "faces_intake" or "turned" where a person looked; it settles the matter for
    a mark that must face the intake, which is what it states.
    """
    expected = (
        "facing the air intake" if required.bearing_deg == 0 else f"at {required.bearing_deg:+.0f}°"
    ) + f", within {required.tolerance_deg:.0f}°"
    bearing = reading.bearing_deg if reading.status == "seen" else None
    interval = None if bearing is None else bearing_interval(reading)
    if by_hand is not None and required.bearing_deg == 0:
        faces = by_hand == "faces_intake"
        return MarkVerdict(
            "pass" if faces else "fail",
            bearing,
            interval,
            expected,
            "faces the intake" if faces else "turned",
            "confirmed by hand",
        )
    if bearing is None:
        reason = (reading.reason or "not seen").replace("_", " ")
        return MarkVerdict("cannot_see", None, None, expected, "not seen", reason)
    if interval is None:
        return MarkVerdict(
            "cannot_see", bearing, None, expected, f"{bearing:+.0f}°", "no interval was given"
        )
    low, high = interval
    seen = f"{bearing:+.0f}° (90 % interval {wrap_deg(low):+.0f}° to {wrap_deg(high):+.0f}°)"
    ends = [abs(wrap_deg(end - required.bearing_deg)) for end in interval]
    inside = high - low <= 2 * required.tolerance_deg and max(ends) <= required.tolerance_deg
    crossed = wrap_deg(required.bearing_deg - bearing) + bearing
    reached = any(low <= crossed + turn <= high for turn in (-360.0, 0.0, 360.0))
    outside = not reached and min(ends) > required.tolerance_deg
    if inside:
        return MarkVerdict("pass", bearing, interval, expected, seen, f"bearing {seen}")
    if outside:
        off = abs(wrap_deg(bearing - required.bearing_deg))
        reason = f"{off:.0f}° off: {seen}"
        if off >= HALF_TURN_DEG:
            reason += "; a reader that mistakes front for back looks like this, so look by hand"
        return MarkVerdict("fail", bearing, interval, expected, seen, reason)
    return MarkVerdict(
        "cannot_see", bearing, interval, expected, seen, f"the interval straddles the limit: {seen}"
    )


def bearing_interval(reading: BearingReading) -> tuple[float, float] | None:
    """The 90 % interval around the bearing, unwrapped; from the spread if none was given.

    An interval that does not hold its own bearing is worth nothing: the whole circle.
    """
    if reading.bearing_deg is None:
        return None
    if reading.interval_deg is not None:
        low, high = reading.interval_deg
        # The ends may be written wrapped: 173 to −177 is ten degrees, not minus 350.
        width = high - low if high >= low else high - low + 360.0
        below = (reading.bearing_deg - low) % 360.0
        if width >= 360.0 or below > width:
            return (reading.bearing_deg - 180.0, reading.bearing_deg + 180.0)
        return (reading.bearing_deg - below, reading.bearing_deg - below + width)
    if reading.sd_deg is not None:
        half = NORMAL_90 * reading.sd_deg
        return (reading.bearing_deg - half, reading.bearing_deg + half)
    return None
