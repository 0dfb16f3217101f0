"""Draws one carburettor's evidence: box, throat, holes and the bearing's dial."""

import math

import numpy as np

from carbpair.annotate.canvas import DASHED, DOTTED, SOLID, Canvas, Point
from carbpair.annotate.evidence import Evidence
from carbpair.annotate.palette import (
    BLUISH_GREEN,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    WHITE,
    YELLOW,
    Colour,
)
from carbpair.geometry.ellipse import Ellipse
from carbpair.geometry.frame import CarbFrame

SIDE_STYLE: dict[str | None, tuple[Colour, tuple[float, ...]]] = {
    "left": (SKY_BLUE, SOLID),
    "right": (ORANGE, DASHED),
    None: (WHITE, DOTTED),
}
"""Colour and line style of a carb's box by its position."""

MIN_DIAL = 7.0
"""A dial with a smaller half-axis, in units, would be an unreadable blot: words only."""

MIN_HOLE = 2.5
"""Holes are circled with at least this radius, units."""


def draw_box(canvas: Canvas, evidence: Evidence, position: str | None) -> None:
    """Draw the carb's box with its position in words."""
    colour, style = SIDE_STYLE.get(position, SIDE_STYLE[None])
    x0, y0, x1, y1 = evidence.box
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    canvas.line(corners, colour, closed=True, width=1.2, style=style)
    words = position.upper() if position else "SIDE UNKNOWN"
    above = y0 - 2 * canvas.unit
    if above > 14 * canvas.unit:
        canvas.text((x0, above), words, colour, size=13, anchor="ls")
    else:
        canvas.text(
            (x0 + 4 * canvas.unit, y0 + 3 * canvas.unit), words, colour, size=13, anchor="la"
        )


def draw_flange(canvas: Canvas, evidence: Evidence) -> None:
    """Draw the throat and the holes: bolt holes numbered and solid, vents dotted.

    A bolt hole that is hidden but follows from the pattern is dashed and has a "?".
    """
    if evidence.throat is not None:
        canvas.line(evidence.throat.points(96), YELLOW, closed=True, width=0.7)
    centre = _middle(evidence)
    number = 0
    for hole in evidence.holes:
        radius = max(hole.radius, MIN_HOLE * canvas.unit)
        outside = _beyond(hole.centre, centre, radius + 7 * canvas.unit)
        if hole.kind == "bolt":
            number += 1
            style = SOLID if hole.seen else DASHED
            canvas.circle(hole.centre, radius, BLUISH_GREEN, width=1.1, style=style)
            canvas.text(outside, f"{number}" if hole.seen else f"{number}?", WHITE, size=11)
        else:
            canvas.circle(hole.centre, radius, REDDISH_PURPLE, width=1.0, style=DOTTED)
            canvas.text(outside, "vent", REDDISH_PURPLE, size=8)


def draw_dial(canvas: Canvas, evidence: Evidence, bearing_deg: float | None) -> None:
    """Draw the cover's rim, the intake direction, the mark and the arc between them."""
    dial, frame = evidence.dial(), evidence.frame
    if dial is None:
        return
    centre, rim = dial
    canvas.line(rim.points(96), WHITE, closed=True, width=0.6, style=DOTTED)
    if evidence.mark is not None:
        canvas.circle(evidence.mark, 3 * canvas.unit, YELLOW, width=1.1)
    if bearing_deg is None or frame is None or rim.semi_major < MIN_DIAL * canvas.unit:
        return
    canvas.arrow(centre, _at_bearing(frame, centre, rim, 0.0, 1.45), WHITE, width=0.9)
    canvas.arrow(centre, _at_bearing(frame, centre, rim, bearing_deg, 1.0), YELLOW, width=1.1)
    steps = max(2, math.ceil(abs(bearing_deg) / 4) + 1)
    arc = [
        _at_bearing(frame, centre, rim, float(angle), 0.6)
        for angle in np.linspace(0.0, bearing_deg, steps)
    ]
    canvas.line(np.array(arc), YELLOW, width=0.9)
    middle = _at_bearing(frame, centre, rim, bearing_deg / 2, 0.6)
    away = _beyond(middle, centre, 13 * canvas.unit)
    canvas.text(away, f"{bearing_deg:+.0f}°" if round(bearing_deg) else "0°", YELLOW, size=12)
    tip = _at_bearing(frame, centre, rim, 0.0, 1.45)
    canvas.text(_beyond(tip, centre, 7 * canvas.unit), "intake", WHITE, size=9)


def _at_bearing(
    frame: CarbFrame, centre: Point, rim: Ellipse, bearing_deg: float, share: float
) -> Point:
    """Point at a bearing as far from the centre as `share` of the rim."""
    angle = math.radians(bearing_deg)
    x = math.cos(angle) * frame.ux[0] - math.sin(angle) * frame.uy[0]
    y = math.cos(angle) * frame.ux[1] - math.sin(angle) * frame.uy[1]
    radius = float(rim.normalised_radius([(rim.cx + x, rim.cy + y)])[0])
    length = share / max(radius, 1e-6)
    return centre[0] + length * x, centre[1] + length * y


def _middle(evidence: Evidence) -> Point:
    if evidence.throat is not None:
        return evidence.throat.cx, evidence.throat.cy
    x0, y0, x1, y1 = evidence.box
    return (x0 + x1) / 2, (y0 + y1) / 2


def _beyond(point: Point, centre: Point, distance: float) -> Point:
    """Point moved by `distance` pixels away from a centre."""
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    length = math.hypot(dx, dy) or 1.0
    return point[0] + distance * dx / length, point[1] + distance * dy / length
