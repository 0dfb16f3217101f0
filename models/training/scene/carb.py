"""One carburettor: body, flange, float bowl, linkage, filter, and its true landmarks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .cover import Part, bearing_direction, build_cover, mark_extent
from .flange import FACING, build_flange
from .mesh import (
    Array,
    box,
    circle,
    cylinder,
    extrude,
    helix,
    hexagon_head,
    lathe,
    merge,
    rotation,
    spline,
    tube,
)
from .outline import bolt_positions, vent_positions
from .style import Style


@dataclass(frozen=True)
class CarbBuild:
    """Parts with material slots, plus landmarks in the carb frame (millimetres)."""

    parts: list[Part]
    landmarks: dict[str, Array]
    surface: dict[str, Array]


def build_body(style: Style, rng: np.random.Generator) -> list[Part]:
    """Cast body between the flanges, the round pad under the cover, and what hangs below."""
    d, rt = style.diameter, style.throat_radius
    rim, z0 = style.rim_radius, style.rim_height
    x1, x0 = style.flange_x, style.rear_x
    parts: list[Part] = []
    wall = rt * float(rng.uniform(1.22, 1.5))
    shell = lathe([(rt, x0), (wall, x0), (wall, x1 - 6), (rt, x1 - 6)], 48).moved(FACING)
    pad_t = float(rng.uniform(5, 11))
    pad = [
        (rt * 0.9, z0 - pad_t - 8),
        (rim * 0.82, z0 - pad_t),
        (rim * 0.99, z0 - pad_t + 1),
        (rim * 0.99, z0 - 0.4),
        (0, z0 - 0.4),
    ]
    neck = lathe([(rt * 1.1, -rt), (rt * 1.15, 0), (rim * 0.7, z0 - pad_t), (0, z0 - pad_t)], 48)
    rear = extrude(circle(rt * 1.35, 40) * np.array([1.35, 1.0]), x0 - 6, x0 + 2, bevel=1).moved(
        FACING
    )
    parts.append((merge([shell, lathe(pad, 64), neck, rear]), "body_material"))
    if rng.random() < 0.6:
        side = box((d * 0.5, d * float(rng.uniform(0.5, 0.8)), d * 0.35), (0, 0, -0.05 * d), 5)
        parts.append((side, "body_material"))
    parts += _underside(style, rng)
    parts += _linkage(style, rng)
    return parts


def _underside(style: Style, rng: np.random.Generator) -> list[Part]:
    d, rt = style.diameter, style.throat_radius
    if style.bowl_hand != 0:
        jet = [
            (rt * 0.5, -rt * 2.6),
            (rt * 0.55, -rt * 2.2),
            (rt * 0.42, -rt * 2.1),
            (rt * 0.42, -rt),
        ]
        nut = hexagon_head(rt * 0.9, -rt * 2.0, -rt * 1.5)
        return [(lathe(jet, 24), "body_material"), (nut, "cap_material")]
    depth = d * float(rng.uniform(0.4, 0.65))
    if rng.random() < 0.55:
        pan = cylinder(d * float(rng.uniform(0.42, 0.56)), -rt - depth, -rt * 0.8, 2.5, 56)
    else:
        pan = box((d * 0.95, d * 0.85, depth), (0, 0, -rt * 0.8 - depth / 2), 9)
    parts: list[Part] = [(pan, "body_material")]
    for k in range(4):
        a = np.radians(45 + 90 * k)
        s = cylinder(3, -rt - depth - 2, -rt - depth + 3, 0.6, 16)
        parts.append(
            (s.moved(offset=(0.38 * d * np.cos(a), 0.34 * d * np.sin(a), 0)), "screw_material")
        )
    return parts


def _linkage(style: Style, rng: np.random.Generator) -> list[Part]:
    """Throttle spindle with lever, return springs, jet or cam lever: never the same twice."""
    d, rt, x = style.diameter, style.throat_radius, style.rear_x * 0.6
    y = d * 0.62
    parts: list[Part] = [(tube(np.array([[x, -y, 0], [x, y, 0]]), 3.6), "lever_material")]
    for s in (-1, 1):
        if rng.random() < 0.65:
            lever = extrude(_arm(d * float(rng.uniform(0.25, 0.5)), 5.5), 0, 2.2).moved(
                rotation("x", 90)
            )
            lever = lever.moved(rotation("y", float(rng.uniform(-180, 180)))).moved(
                offset=(x, s * y * 0.9, 0)
            )
            parts.append((lever, "lever_material"))
        if rng.random() < 0.4:
            a = np.array([x + rng.uniform(-8, 8), s * y * 0.95, -4.0])
            b = a + np.array(
                [rng.uniform(-15, 30), rng.uniform(-8, 8), -d * rng.uniform(0.35, 0.8)]
            )
            parts.append((tube(helix(a, b, 4.0, 11), 0.9, 6, False), "lever_material"))
    if rng.random() < 0.55:
        low = np.array([0.0, 0.0, -rt * 2.4])
        end = low + np.array(
            [rng.uniform(-25, 35), rng.choice([-1, 1]) * d * 0.5, rng.uniform(-5, 15)]
        )
        parts.append((tube(np.stack([low, end]), 2.4), "lever_material"))
    return parts


def _arm(length: float, radius: float) -> Array:
    a = np.linspace(np.pi / 2, 3 * np.pi / 2, 8)
    left = np.stack([radius * np.cos(a), radius * np.sin(a)], 1)
    a = np.linspace(-np.pi / 2, np.pi / 2, 8)
    right = np.stack([length + 0.7 * radius * np.cos(a), 0.7 * radius * np.sin(a)], 1)
    return np.concatenate([left, right])


def build_bowl(style: Style, rng: np.random.Generator) -> list[Part]:
    """Side float bowl with lid, banjo and arm; empty when the chamber is integral."""
    if style.bowl_hand == 0:
        return []
    y = style.bowl_hand * style.bowl_offset
    r, top, x = style.bowl_diameter / 2, style.bowl_top, style.bowl_x
    bottom = top - style.bowl_depth
    waist = r * float(rng.uniform(0.85, 1.0))
    cup = [
        (0, bottom),
        (waist * 0.7, bottom),
        (waist, bottom + 5),
        (r, top - 6),
        (r, top),
        (0, top),
    ]
    lid_h = float(rng.uniform(4, 12))
    lid = [
        (r * 0.4, top),
        (r * 1.06, top),
        (r * 1.06, top + 3),
        (r * 0.9, top + 3.6),
        (r * 0.75, top + lid_h),
        (0, top + lid_h),
    ]
    parts: list[Part] = [(lathe(cup, 56), "body_material"), (lathe(lid, 56), "bowl_lid_material")]
    if rng.random() < 0.5:
        parts.append(
            (
                merge(
                    [
                        cylinder(5, top + lid_h, top + lid_h + 4),
                        hexagon_head(9, top + lid_h + 4, top + lid_h + 10),
                    ]
                ),
                "cap_material",
            )
        )
    else:
        for k in range(3):
            a = np.radians(120 * k + style.screw_phase)
            s = cylinder(3.2, top + 3, top + 6.5, 0.7, 16).moved(
                offset=(0.9 * r * np.cos(a), 0.9 * r * np.sin(a), 0)
            )
            parts.append((s, "screw_material"))
    a = np.radians(float(rng.uniform(0, 360)))
    hub = np.array([0.72 * r * np.cos(a), 0.72 * r * np.sin(a), top + lid_h])
    parts.append(
        (
            cylinder(6, top + lid_h - 3, top + lid_h + 5).moved(offset=(hub[0], hub[1], 0)),
            "bowl_lid_material",
        )
    )
    placed = [(m.moved(offset=(x, y, 0)), slot) for m, slot in parts]
    inner = np.array([x * 0.3, style.bowl_hand * style.diameter * 0.25, bottom + 6])
    arm = tube(np.stack([np.array([x, y - style.bowl_hand * r * 0.8, bottom + 6]), inner]), 7)
    stalk = tube(
        np.stack([inner, inner * np.array([1, 0.3, 0]) + np.array([0, 0, -style.throat_radius])]), 7
    )
    placed.append((merge([arm, stalk]), "body_material"))
    if rng.random() < 0.8:
        start = np.array([x, y, 0]) + hub
        end = start + np.array(
            [rng.uniform(-60, 90), style.bowl_hand * rng.uniform(-20, 120), rng.uniform(-40, 50)]
        )
        mid = (start + end) / 2 + np.array([0, 0, rng.uniform(5, 35)])
        placed.append(
            (
                tube(
                    spline([start, start + np.array([0, 0, 6]), mid, end]),
                    float(rng.uniform(3.5, 6)),
                ),
                "hose",
            )
        )
    return placed


def build_filter(style: Style, rng: np.random.Generator) -> list[Part]:
    """Round air filter over the intake of one carb."""
    r = style.diameter * float(rng.uniform(0.95, 1.3))
    depth = float(rng.uniform(28, 75))
    x = style.flange_x + 1
    if rng.random() < 0.6:
        shell = [
            (0, 0),
            (r * 0.97, 0),
            (r, 3),
            (r, 5),
            (r * 0.93, 6),
            (r * 0.93, depth - 6),
            (r, depth - 5),
            (r, depth - 3),
            (r * 0.96, depth),
            (0, depth),
        ]
        parts: list[Part] = [
            (lathe(shell, 64).moved(FACING, (x, 0, float(rng.uniform(-6, 6)))), "filter")
        ]
        band = lathe([(r * 0.935, 7), (r * 0.935, depth - 7)], 64).moved(FACING, (x, 0, 0))
        parts.append((band, "filter_mesh"))
    else:
        cone = [(0, 0), (r * 0.75, 0), (r * 0.78, 4), (r * 0.6, depth * 1.5), (0, depth * 1.5)]
        parts = [(lathe(cone, 56).moved(FACING, (x, 0, 0)), "filter_mesh")]
    nut = hexagon_head(11, depth, depth + 7).moved(FACING, (x, 0, 0))
    parts.append(
        (
            merge([nut, cylinder(12, depth - 0.5, depth + 1).moved(FACING, (x, 0, 0))]),
            "screw_material",
        )
    )
    return parts


def build_carb(style: Style, rng: np.random.Generator, filtered: bool) -> CarbBuild:
    """Everything of one carb, with its landmarks."""
    parts = build_body(style, rng) + build_flange(style, rng) + build_bowl(style, rng)
    cover, mark, partner = build_cover(style, rng)
    parts += cover
    if filtered:
        parts += build_filter(style, rng)
    if rng.random() < 0.35:
        tag = box((16, 9, 0.8), (0, 0, 0), 1).moved(rotation("z", float(rng.uniform(0, 360))))
        u = bearing_direction(style.screw_bearings[0])
        parts.append(
            (
                tag.moved(
                    offset=(
                        *(u * (style.rim_radius + 3)),
                        style.rim_height + style.rim_thickness + 0.6,
                    )
                ),
                "brass_disc",
            )
        )
    rim, rt, zt = style.rim_radius, style.throat_radius, style.rim_height + style.rim_thickness
    fx = style.flange_x + (0.9 if style.gasket else 0.0)
    ring = np.radians(np.arange(0, 360, 20))
    flat = np.zeros_like(ring)
    bolts, vents = bolt_positions(style), vent_positions(style)
    r_hole = rt * style.hole_radius_ratio
    side = style.bowl_hand * style.bowl_offset
    top = style.rim_height + style.diameter * style.height_ratio
    marks = {
        "rim": np.array(
            [[0, 0, zt], [rim, 0, zt], [-rim, 0, zt], [0, rim, zt], [0, -rim, zt], [0, 0, zt + rim]]
        ),
        "cap": np.array([[0, 0, top]]),
        "throat": np.array([[fx, 0, 0], [fx, rt, 0], [fx, -rt, 0], [fx, 0, rt], [fx, 0, -rt]]),
        "bowl": np.array([[style.bowl_x, side, style.bowl_top]]),
        "bolts": np.c_[np.full(len(bolts), fx), bolts],
        "vents": np.c_[np.full(len(vents), fx), vents],
        "mark": np.array(
            [
                [
                    *(bearing_direction(style.mark_bearing) * (rim + 0.8)),
                    style.rim_height + 0.6 * style.rim_thickness,
                ]
            ]
        ),
        "mark_extent": mark_extent(style),
    }
    rb, z = style.bowl_diameter / 2 * 1.02, style.bowl_top
    wall = [
        np.stack(
            [
                style.bowl_x + rb * np.cos(ring),
                side + rb * np.sin(ring),
                flat + z - k * style.bowl_depth,
            ],
            1,
        )
        for k in (0.1, 0.4, 0.7)
    ]
    lid = np.stack(
        [style.bowl_x + rb * 0.5 * np.cos(ring), side + rb * 0.5 * np.sin(ring), flat + z + 13], 1
    )
    half = style.diameter / 2 * 1.03 if style.chamber == "piston" else style.rim_radius * 0.9
    span = np.linspace(style.rim_height + style.rim_thickness + 1, top, 4)
    reach = np.linalg.norm(bolts, axis=1).max() + 2 * r_hole
    surface = {
        "mark": mark,
        "partner": partner,
        "throat": np.stack(
            [flat + fx + 0.5, rt * 1.06 * np.cos(ring), rt * 1.06 * np.sin(ring)], 1
        ),
        "flange": np.stack([flat + fx + 0.5, reach * np.cos(ring), reach * np.sin(ring)], 1),
        "bowl": np.concatenate([*wall, lid]) if style.bowl_hand else np.zeros((0, 3)),
        "cover": np.concatenate(
            [np.stack([half * np.cos(ring), half * np.sin(ring), flat + s], 1) for s in span]
        ),
        "body": np.concatenate(
            [
                np.stack(
                    [
                        flat + x,
                        style.diameter * 0.5 * np.cos(ring),
                        style.diameter * 0.5 * np.sin(ring),
                    ],
                    1,
                )
                for x in (style.rear_x, 0.0)
            ]
        ),
        "under": np.stack(
            [half * 0.8 * np.cos(ring), half * 0.8 * np.sin(ring), flat - rt * 1.6], 1
        ),
    }
    for i, b in enumerate(bolts):
        k = np.radians(np.arange(0, 360, 45))
        surface[f"bolt{i}"] = np.stack(
            [np.full(8, fx + 0.6), b[0] + r_hole * np.cos(k), b[1] + r_hole * np.sin(k)], 1
        )
        if style.hole_fill[i] == "stud":
            surface[f"bolt{i}"] = np.stack(
                [np.full(8, fx + 3.0), b[0] + r_hole * np.cos(k), b[1] + r_hole * np.sin(k)], 1
            )
        if style.hole_fill[i] in ("bolt", "screw"):
            surface[f"bolt{i}"] = np.stack(
                [
                    np.full(8, fx + r_hole * 2.1),
                    b[0] + r_hole * 1.2 * np.cos(k),
                    b[1] + r_hole * 1.2 * np.sin(k),
                ],
                1,
            )
    return CarbBuild(parts, marks, surface)
