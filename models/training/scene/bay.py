"""What stands around the carbs: engine, wing, hoses, cables and things that look alike."""

from __future__ import annotations

import numpy as np

from . import material
from .material import Material
from .mesh import (
    Array,
    Mesh,
    aligned,
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

Placed = tuple[Mesh, Material]


def build_engine(
    rng: np.random.Generator, pitch: float, rear_x: float, evaluation: bool
) -> list[Placed]:
    """Head, rocker cover, inlet pipes and sometimes a heat shield, behind carbs that face +x."""
    paint = material.draw(rng, "engine", evaluation)
    cast = material.draw(rng, "body", evaluation)
    gap = float(rng.uniform(15, 90))
    back = rear_x - gap
    length = pitch + float(rng.uniform(200, 420))
    y0 = float(rng.uniform(-60, 60))
    out: list[Placed] = []
    head_top = float(rng.uniform(-60, 60))
    out.append(
        (
            box((160, length, 170), (back - 80, y0, head_top - 85), 8),
            paint if rng.random() < 0.6 else cast,
        )
    )
    rocker_h = float(rng.uniform(50, 110))
    rocker = box(
        (float(rng.uniform(90, 150)), length * 0.92, rocker_h),
        (back - 90 - float(rng.uniform(0, 40)), y0, head_top + rocker_h / 2),
        22,
    )
    out.append((rocker, material.draw(rng, "engine", evaluation)))
    if rng.random() < 0.7:
        z = head_top + rocker_h
        cap = merge([cylinder(26, z, z + 10), cylinder(22, z + 10, z + 24, 3)])
        out.append(
            (
                cap.moved(offset=(back - 100, y0 + rng.uniform(-0.35, 0.35) * length, 0)),
                material.draw(rng, "clutter", evaluation),
            )
        )
    for s in (-0.5, 0.5):
        path = spline(
            [
                [rear_x + 4, s * pitch, 0],
                [rear_x - gap * 0.5, s * pitch * 1.02, rng.uniform(-8, 8)],
                [back + 5, s * pitch * rng.uniform(0.85, 1.1), -20],
            ],
            12,
        )
        out.append((tube(path, float(rng.uniform(20, 28)), 24, False), cast))
    if rng.random() < 0.35:
        w = pitch + float(rng.uniform(110, 220))
        x = rear_x - float(rng.uniform(4, 12))
        plate = extrude(
            np.array([[-w / 2, -70.0], [w / 2, -70], [w / 2, 50], [-w / 2, 50]]), 0, 1.2, bevel=0.2
        )
        to_wall = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])
        shield = plate.moved(to_wall, (x, 0, float(rng.uniform(-30, 20))))
        out.append(
            (
                shield,
                material.named(
                    rng,
                    str(
                        rng.choice(
                            ["polished_aluminium", "zinc_plate", "rust", "stained_aluminium"]
                        )
                    ),
                ),
            )
        )
    block = box((260, length * 1.05, 260), (back - 100, y0, head_top - 300), 10)
    out.append((block, paint))
    if rng.random() < 0.5:
        for k in range(4):
            y = y0 + (k - 1.5) * length / 5
            lead = spline(
                [
                    [back - 10, y, head_top - 10],
                    [back + 25, y + 10, head_top + 20],
                    [back - 40, y0 + k * 12, head_top + rocker_h + 15],
                    [back - 90, y0 + length * 0.4, head_top + rocker_h + 10],
                ]
            )
            out.append((tube(lead, 3.6, 10, False), material.draw(rng, "hose", evaluation)))
    return out


def build_wing(rng: np.random.Generator, evaluation: bool) -> list[Placed]:
    """Inner wing and bulkhead in the car's colour."""
    paint = material.draw(rng, "panel", evaluation)
    out: list[Placed] = []
    if rng.random() < 0.7:
        x = float(rng.uniform(230, 620))
        tilt = rotation("y", float(rng.uniform(-25, 25)))
        panel = box((12, 1700, 420), (0, 0, 0), 4).moved(
            tilt, (x, 0, float(rng.uniform(-330, -150)))
        )
        out.append((panel, paint))
        if rng.random() < 0.6:
            out.append((box((420, 1700, 14), (x + 200, 0, float(rng.uniform(-80, 120))), 6), paint))
    if rng.random() < 0.6:
        s = float(rng.choice([-1, 1]))
        wall = box(
            (1100, 14, 620),
            (-150, s * float(rng.uniform(360, 620)), float(rng.uniform(-160, 60))),
            4,
        )
        out.append((wall, paint if rng.random() < 0.7 else material.draw(rng, "panel", evaluation)))
    floor = box((2200, 2400, 10), (0, 0, float(rng.uniform(-620, -330))), 2)
    out.append(
        (
            floor,
            material.named(
                rng,
                str(
                    rng.choice(
                        [
                            "black_satin",
                            "rust",
                            "body_primer",
                            "stained_aluminium",
                            "oxidised_aluminium",
                        ]
                    )
                ),
            ),
        )
    )
    return out


def build_hoses(rng: np.random.Generator, pitch: float, evaluation: bool) -> list[Placed]:
    """Hoses and cables that cross the carbs, some of them in front."""
    out: list[Placed] = []
    for _ in range(int(rng.integers(0, 6))):
        front = rng.random() < 0.45
        x = float(rng.uniform(50, 170)) if front else float(rng.uniform(-150, 10))
        span = pitch * float(rng.uniform(0.6, 2.2))
        z = rng.uniform(-110, 150, 4)
        mid = rng.uniform(-0.5, 0.5) * pitch
        pts = np.array(
            [
                [x + rng.uniform(-60, 60), mid - span / 2, z[0]],
                [x, mid - span / 6, z[1]],
                [x, mid + span / 6, z[2]],
                [x + rng.uniform(-60, 60), mid + span / 2, z[3]],
            ]
        )
        if rng.random() < 0.4:
            pts = np.array(
                [
                    [x, mid, rng.uniform(80, 200)],
                    [x + 20, mid + rng.uniform(-40, 40), 40],
                    [x, mid + rng.uniform(-60, 60), -60],
                    [x - 40, mid, -200],
                ]
            )
        thin = rng.random() < 0.5
        radius = float(rng.uniform(1.5, 3.2)) if thin else float(rng.uniform(4, 13))
        out.append((tube(spline(pts, 36), radius, 12), material.draw(rng, "hose", evaluation)))
    if rng.random() < 0.4:
        y = pitch * 0.7
        bar = np.array([[-20.0, -y, rng.uniform(-30, 70)], [-20, y, 0]])
        bar[1, 2] = bar[0, 2] + rng.uniform(-6, 6)
        bar[:, 0] += rng.uniform(-40, 40)
        out.append((tube(bar, float(rng.uniform(2, 4))), material.draw(rng, "lever", evaluation)))
        a = bar[0] * 0.3 + bar[1] * 0.7
        b = a + np.array([rng.uniform(-10, 60), rng.uniform(-20, 20), rng.uniform(-120, -50)])
        out.append(
            (tube(helix(a, b, 5, 16), 1.0, 6, False), material.draw(rng, "lever", evaluation))
        )
    return out


def build_lookalike(rng: np.random.Generator, evaluation: bool) -> tuple[str, list[Placed]]:
    """One thing that a careless eye takes for a carb, about the origin, up = z, facing +x."""
    kind = str(
        rng.choice(
            [
                "pressure_cap",
                "reservoir",
                "distributor",
                "headlamp",
                "canister",
                "fixed_choke_pair",
                "coil",
                "pulley",
            ]
        )
    )
    clutter = material.draw(rng, "clutter", evaluation)
    metal = material.draw(rng, "cover", evaluation)
    face = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])
    if kind == "pressure_cap":
        r = float(rng.uniform(26, 38))
        ears = extrude(
            np.array([[-r * 1.3, -8.0], [r * 1.3, -8], [r * 1.3, 8], [-r * 1.3, 8]]), 0, 8, bevel=2
        )
        return kind, [
            (merge([cylinder(r, 0, 10, 2), cylinder(r * 0.6, 10, 14, 2), ears]), metal),
            (cylinder(r * 0.8, -60, 0), clutter),
        ]
    if kind == "reservoir":
        r, h = float(rng.uniform(28, 48)), float(rng.uniform(60, 120))
        body = cylinder(r, 0, h, 5)
        cap = cylinder(r * 0.8, h, h + 22, 3)
        return kind, [
            (body, material.named(rng, "white_plastic")),
            (cap, material.named(rng, "black_plastic")),
        ]
    if kind == "distributor":
        r = float(rng.uniform(30, 42))
        cap = lathe([(r, 0), (r, 25), (r * 0.8, 40), (r * 0.3, 48), (0, 48)], 48)
        out: list[Placed] = [
            (
                cap,
                material.named(
                    rng, str(rng.choice(["black_plastic", "red_rubber", "black_plastic"]))
                ),
            )
        ]
        out.append((cylinder(r * 0.8, -70, 0), metal))
        for k in range(5):
            a = 2 * np.pi * k / 4
            rr = 0.0 if k == 4 else r * 0.62
            p = np.array([rr * np.cos(a), rr * np.sin(a), 42.0])
            tower = tube(np.stack([p, p + np.array([0, 0, 20])]), 7)
            lead = tube(
                spline(
                    [
                        p + np.array([0, 0, 18]),
                        p + np.array([0, 0, 45]),
                        p + np.array([rng.uniform(20, 90), rng.uniform(-60, 60), 60]),
                        p + np.array([150, rng.uniform(-90, 90), 10]),
                    ]
                ),
                3.8,
                10,
            )
            out += [
                (tower, material.named(rng, "black_plastic")),
                (lead, material.draw(rng, "hose", evaluation)),
            ]
        return kind, out
    if kind == "headlamp":
        r = float(rng.uniform(70, 100))
        bowl = lathe([(0, -50), (r * 0.7, -35), (r * 0.95, -5), (r, 0)], 64)
        inner = Mesh(bowl.vertices, -bowl.normals, bowl.faces[:, ::-1])
        ring = lathe([(r, -8), (r * 1.08, -4), (r * 1.08, 4), (r * 0.98, 6)], 64)
        bulb = cylinder(9, -40, -12, 4)
        return kind, [
            (m.moved(face), mat)
            for m, mat in (
                (inner, material.named(rng, "chrome")),
                (ring, material.named(rng, "chrome")),
                (bulb, material.named(rng, "white_plastic")),
            )
        ]
    if kind == "canister":
        r, h = float(rng.uniform(35, 60)), float(rng.uniform(90, 180))
        turn = rotation("x", float(rng.choice([0, 90])))
        return kind, [
            (merge([cylinder(r, 0, h, 6), hexagon_head(22, h, h + 12)]).moved(turn), clutter)
        ]
    if kind == "coil":
        return kind, [
            (cylinder(28, 0, 105, 3).moved(rotation("y", float(rng.uniform(0, 90)))), metal),
            (cylinder(14, 105, 135, 4), material.named(rng, "black_plastic")),
        ]
    if kind == "pulley":
        r = float(rng.uniform(45, 90))
        prof = [(0, 0), (r, 0), (r * 0.85, 8), (r, 16), (r * 0.8, 18), (r * 0.3, 12), (0, 12)]
        bolts = [
            cylinder(5, 12, 18).moved(offset=(r * 0.5 * np.cos(a), r * 0.5 * np.sin(a), 0))
            for a in np.radians([0, 90, 180, 270])
        ]
        return kind, [(merge([lathe(prof, 64), *bolts]).moved(face), clutter)]
    return kind, _fixed_choke(rng, evaluation)


def _fixed_choke(rng: np.random.Generator, evaluation: bool) -> list[Placed]:
    """Two twin-barrel fixed-choke bodies: trumpets and flat tops, no dashpots."""
    cast = material.draw(rng, "body", evaluation)
    face = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])
    out: list[Placed] = []
    pitch = float(rng.uniform(150, 200))
    for c in (-pitch / 2, pitch / 2):
        out.append((box((110, 120, 80), (0, c, 0), 8), cast))
        out.append((box((70, 105, 14), (-5, c, 46), 6), material.draw(rng, "body", evaluation)))
        out.append(
            (
                merge([cylinder(16, 50, 62), hexagon_head(12, 62, 68)]).moved(offset=(-5, c, 0)),
                material.named(rng, "brass"),
            )
        )
        for s in (-35, 35):
            r = float(rng.uniform(19, 23))
            a = np.linspace(0, np.pi / 2, 8)
            out_wall = [(r, 0), (r, 45)] + [
                (r + 12 * (1 - np.cos(t)), 45 + 12 * np.sin(t)) for t in a
            ]
            horn = lathe(out_wall, 40)
            both = merge([horn, Mesh(horn.vertices, -horn.normals, horn.faces[:, ::-1])])
            out.append(
                (both.moved(face, (55, c + s, 0)), material.named(rng, "polished_aluminium"))
            )
            out.append(
                (
                    cylinder(r * 0.95, -2, 0).moved(face, (57, c + s, 0)),
                    material.named(rng, "black_gasket"),
                )
            )
            for q in (45, 135, 225, 315):
                stud = cylinder(3.5, 0, 9).moved(
                    face, (55, c + s + 28 * np.cos(np.radians(q)), 28 * np.sin(np.radians(q)))
                )
                out.append((stud, material.named(rng, "steel")))
    return out


def build_clutter(rng: np.random.Generator, evaluation: bool, keep_out: float) -> list[Placed]:
    """Look-alikes and boxes scattered outside a cylinder of radius ``keep_out`` about the pair."""
    out: list[Placed] = []
    for _ in range(int(rng.integers(1, 6))):
        _, parts = build_lookalike(rng, evaluation)
        a = rng.uniform(0, 2 * np.pi)
        rad = keep_out + rng.uniform(60, 420)
        at = np.array([0.55 * rad * np.cos(a), rad * np.sin(a), rng.uniform(-160, 90)])
        if abs(at[1]) < keep_out * 0.8:
            at[0] = np.sign(at[0]) * (abs(at[0]) + 160)
        turn = rotation("z", float(rng.uniform(-180, 180))) @ rotation(
            "x", float(rng.normal(0, 15))
        )
        out += [(m.moved(turn, at), mat) for m, mat in parts]
    for _ in range(int(rng.integers(0, 5))):
        size = rng.uniform(20, 160, 3)
        at = np.array(
            [
                rng.uniform(-260, 320),
                rng.choice([-1, 1]) * (keep_out + rng.uniform(20, 300)),
                rng.uniform(-220, -20),
            ]
        )
        turn = rotation("z", float(rng.uniform(0, 90)))
        out.append(
            (
                box(size, (0, 0, 0), float(rng.uniform(1, 10))).moved(turn, at),
                material.draw(rng, "clutter", evaluation),
            )
        )
    for _ in range(int(rng.integers(0, 6))):
        p = np.array([rng.uniform(-200, 300), rng.uniform(-500, 500), rng.uniform(-260, 20)])
        q = p + rng.normal(0, 160, 3)
        mid: Array = (p + q) / 2 + rng.normal(0, 60, 3)
        out.append(
            (
                tube(spline([p, mid, q], 24), float(rng.uniform(3, 16)), 12),
                material.draw(rng, "hose", evaluation),
            )
        )
    for _ in range(int(rng.integers(2, 10))):
        at = np.array([rng.uniform(-220, 260), rng.uniform(-420, 420), rng.uniform(-200, -60)])
        direction = rng.normal(0, 1, 3)
        out.append(
            (
                hexagon_head(float(rng.uniform(8, 20)), 0, 9).moved(aligned(direction), at),
                material.draw(rng, "screw", evaluation),
            )
        )
    disc = extrude(circle(float(rng.uniform(30, 70)), 40), 0, 6, bevel=1)
    at = np.array(
        [rng.uniform(-200, 200), rng.choice([-1, 1]) * (keep_out + 150), rng.uniform(-100, 60)]
    )
    out.append(
        (disc.moved(aligned(rng.normal(0, 1, 3)), at), material.draw(rng, "clutter", evaluation))
    )
    return out
