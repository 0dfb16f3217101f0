"""What a rim's window may show instead of the cover's mark: lugs, screws, rods, cables, brackets.

For training: evaluation scenes have none. Nothing of it stands on the cover, so that a reader
learns to tell the cover's own mark from what is cast or screwed onto the body below it, or passes
beside or behind it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .cover import Part
from .mesh import Array, box, cylinder, helix, hexagon_head, merge, rotation, spline, tube
from .style import Style

UNMARKED = 0.1
"""Share of covers without a mark."""

NO_PARTNER, PARTNER_ANYWHERE = 0.15, 0.5
"""Shares of bodies without a partner mark, and with one at any bearing; others have it in front."""

MOST = 6
"""Decoys about one cover at most."""

KINDS = ("lug", "lug", "screw", "rod", "rod", "cable", "bracket", "spring")


def mistakable(rng: np.random.Generator, style: Style) -> Style:
    """The style with its partner mark in front, anywhere or missing; at times without a mark."""
    u = rng.random()
    partner: float | None = 0.0
    if u < NO_PARTNER:
        partner = None
    elif u < NO_PARTNER + PARTNER_ANYWHERE:
        partner = float(rng.uniform(-180, 180))
    kind = "none" if rng.random() < UNMARKED else style.mark_kind
    return replace(style, partner_bearing=partner, mark_kind=kind)


def build_decoys(style: Style, rng: np.random.Generator) -> list[Part]:
    """Up to six decoys at random bearings, in the carb frame (millimetres)."""
    builders = {
        "lug": _lug,
        "screw": _screw,
        "rod": _rod,
        "cable": _cable,
        "bracket": _bracket,
        "spring": _spring,
    }
    parts = []
    for _ in range(int(rng.integers(0, MOST + 1))):
        mesh, slot = builders[str(rng.choice(KINDS))](style, rng)
        parts.append((mesh.moved(rotation("z", float(rng.uniform(-180, 180)))), slot))
    return parts


def _lug(style: Style, rng: np.random.Generator) -> Part:
    """A boss or rib cast onto the body's round pad, below the cover's rim."""
    out, wide, high = rng.uniform(1, 4), rng.uniform(2, 9), rng.uniform(2, 9)
    top = style.rim_height - rng.uniform(0.5, 2.5)
    at = (style.rim_radius + out / 2 - 1.0, 0.0, top - high / 2)
    slot = "body_material" if rng.random() < 0.75 else "dark"
    return box((out + 2, wide, high), at, 0.6), slot


def _screw(style: Style, rng: np.random.Generator) -> Part:
    """A screw's head that stands out sideways below the rim."""
    outwards = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])
    start, out = style.rim_radius * 0.95, float(rng.uniform(1.5, 5))
    size = float(rng.uniform(2, 4.5))
    head = (
        cylinder(size, 0, 0.06 * style.rim_radius + out, 0.6, 18)
        if rng.random() < 0.5
        else hexagon_head(2 * size, 0, 0.06 * style.rim_radius + out)
    )
    at = (start, 0.0, style.rim_height - size - float(rng.uniform(0.5, 5)))
    return head.moved(outwards, at), "screw_material"


def _beside(style: Style, rng: np.random.Generator) -> float:
    """Distance from the dashpot's axis of something that passes close to the rim."""
    return style.rim_radius * float(rng.uniform(1.1, 1.6))


def _rod(style: Style, rng: np.random.Generator) -> Part:
    """A rod or stud beside the rim, upright or leaning, its end at about the rim's height."""
    foot = np.array([_beside(style, rng), 0.0, style.rim_height - rng.uniform(15, 50)])
    end = np.array([_beside(style, rng), 0.0, style.rim_height + rng.uniform(-12, 40)])
    end[1] = rng.normal(0, 12)
    rod = tube(np.stack([foot, end]), float(rng.uniform(1, 3.2)), 12)
    if rng.random() < 0.3:
        knob = cylinder(5, -3, 3, 1, 18).moved(offset=tuple(end))
        rod = merge([rod, knob])
    return rod, str(rng.choice(["lever_material", "screw_material", "dark"]))


def _cable(style: Style, rng: np.random.Generator) -> Part:
    """A cable or pipe that passes the rim at a tangent."""
    x, z = _beside(style, rng), style.rim_height + float(rng.uniform(-25, 12))
    path: list[Array] = [
        np.array([x + rng.uniform(-25, 40), y, z + rng.uniform(-25, 25)]) for y in (-90.0, 90.0)
    ]
    path.insert(1, np.array([x, rng.uniform(-8, 8), z]))
    return tube(spline(path, 14), float(rng.uniform(1, 3)), 10), "hose"


def _bracket(style: Style, rng: np.random.Generator) -> Part:
    """A strip of sheet that stands up beside the rim."""
    low, top = style.rim_height - 20, style.rim_height + float(rng.uniform(-4, 12))
    size = (1.5, float(rng.uniform(4, 16)), top - low)
    at = (style.rim_radius * float(rng.uniform(1.12, 1.35)), 0.0, (low + top) / 2)
    slot = str(rng.choice(["lever_material", "body_material"]))
    return box(size, at, 0.4).moved(rotation("x", float(rng.normal(0, 8)))), slot


def _spring(style: Style, rng: np.random.Generator) -> Part:
    """A coil spring beside the rim."""
    x, z = _beside(style, rng), style.rim_height + float(rng.uniform(-20, 5))
    turn = float(rng.uniform(-1, 1))
    half = np.array([0.3 * turn, np.cos(turn), np.sin(turn)]) * float(rng.uniform(8, 18))
    middle = np.array([x, 0.0, z])
    return tube(helix(middle - half, middle + half, 3.2, 9), 0.9, 6, False), "lever_material"
