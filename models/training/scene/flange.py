"""The air flange: plate, gasket, bolt holes and what fills them, vents, the throat behind it."""

from __future__ import annotations

import numpy as np

from .cover import Part
from .mesh import Array, Mesh, box, circle, cylinder, extrude, hexagon_head, lathe, merge, rotation
from .outline import bolt_positions, flange_outline, vent_positions
from .style import Style

FACING = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])
"""Takes a plate's own (x, y, z) to the carb's (y, z, x): the flange plane seen from the intake."""


def _plate(outline: Array, x0: float, x1: float, holes: list[Array]) -> Mesh:
    return extrude(outline, x0, x1, holes, bevel=0.8).moved(FACING)


def build_flange(style: Style, rng: np.random.Generator) -> list[Part]:
    """Air flange with bolt holes and vents, what fills the holes, and the throat behind it."""
    x1, x0 = style.flange_x, style.flange_x - float(rng.uniform(5, 10))
    rt = style.throat_radius
    hole_r = rt * style.hole_radius_ratio
    bolts, vents = bolt_positions(style), vent_positions(style)
    outline = flange_outline(style)
    rings = [circle(rt, 48)]
    rings += [circle(hole_r, 20, (b[0], b[1])) for b in bolts]
    rings += [circle(hole_r * style.vent_size, 16, (v[0], v[1])) for v in vents]
    parts: list[Part] = [(_plate(outline, x0, x1, rings), "body_material")]
    if style.gasket:
        big = [circle(rt * 1.04, 48)] + [circle(hole_r * 1.15, 20, (b[0], b[1])) for b in bolts]
        big += [circle(hole_r * style.vent_size, 16, (v[0], v[1])) for v in vents]
        parts.append((_plate(outline * 1.005, x1, x1 + 0.9, big), "gasket_material"))
        x1 += 0.9
    for b, fill in zip(bolts, style.hole_fill, strict=True):
        parts += [
            (m.moved(FACING, (0, b[0], b[1])), slot) for m, slot in _fill(fill, hole_r, x0, x1, rng)
        ]
    for v in vents:
        back = cylinder(hole_r * style.vent_size, x0 - 8, x0 - 5, 0.1, 16).moved(
            FACING, (0, v[0], v[1])
        )
        parts.append((back, "dark"))
    depth = style.flange_x + abs(style.rear_x)
    bore = [
        (rt, style.flange_x - 1),
        (rt * 0.96, style.flange_x - 0.2 * depth),
        (rt * 0.94, style.rear_x),
    ]
    tube_in = lathe([(r, z) for r, z in bore], 40)
    parts.append(
        (Mesh(tube_in.vertices, -tube_in.normals, tube_in.faces[:, ::-1]).moved(FACING), "bore")
    )
    lift = float(rng.uniform(-0.85, -0.1)) * rt
    piston = cylinder(rt * 0.93, 0, 2 * rt, 0.8, 40).moved(offset=(0, 0, lift))
    parts.append((piston, "piston"))
    disc = (
        cylinder(rt * 0.93, -0.8, 0.8, 0.2, 40)
        .moved(rotation("y", 80))
        .moved(offset=(style.rear_x * 0.6, 0, 0))
    )
    parts.append((disc, "brass_disc"))
    return parts


def _fill(kind: str, r: float, x0: float, x1: float, rng: np.random.Generator) -> list[Part]:
    floor = cylinder(r * 1.05, x0 - 9, x0 - float(rng.uniform(0.5, 6)), 0.1, 20)
    if kind == "stud":
        return [(cylinder(r * 0.86, x0, x1 + float(rng.uniform(8, 26)), 1.0, 18), "screw_material")]
    if kind == "bolt":
        head = hexagon_head(r * 3.3, x1 + 0.8, x1 + r * 1.9).moved(
            rotation("z", float(rng.uniform(0, 60)))
        )
        return [(merge([head, cylinder(r * 1.9, x1, x1 + 1.0, 0.3, 24)]), "screw_material")]
    if kind == "screw":
        turn = rotation("z", float(rng.uniform(0, 180)))
        slot = box((r * 2.4, r * 0.4, 0.4), (0, 0, x1 + r + 0.05), 0.1).moved(turn)
        return [(cylinder(r * 1.6, x1, x1 + r, 0.8, 24), "screw_material"), (slot, "dark")]
    wall = lathe([(r, x1 - 0.5), (r, x0 - 8)], 20)
    inside = Mesh(wall.vertices, -wall.normals, wall.faces[:, ::-1])
    return [(inside, "bore"), (floor, "dark")]
