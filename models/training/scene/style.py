"""The shape of one carburettor pattern, drawn at random within proportions seen on real ones.

All lengths are in millimetres and in the carb frame: origin where the throat axis meets the
dashpot axis, x out of the air intake, z up the dashpot, y to the right of somebody who faces the
intake. Ratios come from measured photographs and are widened on purpose.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from . import material
from .material import Material

TRAINING_OUTLINES = {
    2: (
        "lozenge",
        "flat_hexagon",
        "oval",
        "disc",
        "rounded_square",
        "superellipse",
        "pear",
        "lobed",
    ),
    3: ("triangle", "disc", "lobed", "rounded_square", "superellipse", "pear", "hexagon"),
    4: ("rounded_square", "disc", "rectangle", "superellipse", "hexagon", "lobed"),
}
EVALUATION_OUTLINES = {
    2: ("bar", "eared_disc"),
    3: ("shield", "eared_disc"),
    4: ("octagon", "eared_disc"),
}

MARK_KINDS = ("raised", "engraved", "painted", "notch_tab")
"""What is drawn; a training scene may also have a cover without a mark (``none``)."""

HOLE_FILLS = ("empty", "empty", "empty", "stud", "bolt", "screw")

MARK_TO_SCREW_DEG = {"piston": 15.0, "diaphragm": 9.0}
"""A cover bears its mark where no screw and no screw's ear stands; middle to middle."""

DARK_COVER = 0.12
"""Mean linear reflectance below which a cover is dark: paint on it is light, a scribed line bare
metal."""


@dataclass(frozen=True)
class Style:
    """Everything about one carb's shape except where it stands and what lies around it."""

    diameter: float
    chamber: Literal["piston", "diaphragm"]
    profile: str
    height_ratio: float
    shoulder_ratio: float
    neck_ratio: float
    cap: str
    cap_ratio: float
    cap_height: float
    rim_height: float
    rim_radius: float
    rim_thickness: float
    cover_screws: int
    screw_phase: float
    throat_radius: float
    flange_x: float
    rear_x: float
    hole_count: int
    outline: str
    bolt_radius_ratio: float
    hole_radius_ratio: float
    pattern_angle: float
    pattern_squash: float
    vents: int
    vent_angle: float
    vent_ratio: float
    vent_size: float
    hole_fill: tuple[str, ...]
    gasket: bool
    bowl_hand: int
    bowl_diameter: float
    bowl_offset: float
    bowl_x: float
    bowl_top: float
    bowl_depth: float
    mark_kind: str
    mark_width: float
    mark_bearing: float
    partner_bearing: float | None
    body_material: Material
    cover_material: Material
    rim_same: bool
    cap_material: Material
    screw_material: Material
    lever_material: Material
    gasket_material: Material
    mark_material: Material
    bowl_lid_material: Material

    @property
    def screw_bearings(self) -> tuple[float, ...]:
        """Bearings of the cover's screws, degrees: evenly spaced, none of them over the mark."""
        step = 360.0 / self.cover_screws
        least = min(MARK_TO_SCREW_DEG[self.chamber], 0.4 * step)
        off = (self.screw_phase - self.mark_bearing) % step
        phase = self.screw_phase - off + float(np.clip(off, least, step - least))
        return tuple(phase + step * k for k in range(self.cover_screws))


def draw_bearing(rng: np.random.Generator) -> float:
    """Where a mark points, degrees: mostly near the intake, else anywhere, with a bump at 180."""
    u = rng.random()
    if u < 0.34:
        b = rng.normal(0, 5)
    elif u < 0.48:
        b = rng.uniform(-40, 40)
    elif u < 0.56:
        b = 180 + rng.normal(0, 8)
    else:
        b = rng.uniform(-180, 180)
    return float(-((-b + 180) % 360 - 180))


def draw(rng: np.random.Generator, evaluation: bool = False) -> Style:
    """Draw a pattern. Evaluation styles use outlines and materials that training never sees."""
    d = float(rng.uniform(58, 86))
    chamber: Literal["piston", "diaphragm"] = "diaphragm" if rng.random() < 0.36 else "piston"
    count = int(rng.choice([2, 3, 4], p=[0.38, 0.34, 0.28]))
    pool = EVALUATION_OUTLINES[count] if evaluation else TRAINING_OUTLINES[count]
    outline = str(rng.choice(pool))
    if chamber == "piston":
        profile = str(rng.choice(["bell", "cylinder", "cone", "stepped", "ribbed"]))
        height, shoulder = float(rng.uniform(0.82, 1.12)), float(rng.uniform(0.52, 0.76))
        rim = float(rng.uniform(1.04, 1.2))
    else:
        profile = str(rng.choice(["dome", "flat_dome", "stepped_dome"]))
        height, shoulder = float(rng.uniform(0.42, 0.72)), float(rng.uniform(0.18, 0.36))
        rim = float(rng.uniform(1.12, 1.34))
    rt = d * 0.5 * float(rng.uniform(0.38, 0.52))
    angle = {
        2: rng.choice([0, 0, 90, 45, -45]),
        3: rng.choice([90, -90, 90, -90, 0, 180]),
        4: rng.choice([45, 45, 0]),
    }[count]
    hand = int(rng.choice([-1, 0, 1], p=[0.36, 0.28, 0.36]))
    vents = int(rng.choice([0, 1, 2, 3], p=[0.45, 0.15, 0.3, 0.1]))
    kind = str(rng.choice(MARK_KINDS, p=[0.34, 0.22, 0.22, 0.22]))
    cover = material.draw(rng, "cover", evaluation)
    mark_mat = mark_material(rng, kind, cover, evaluation)
    same_fill = str(rng.choice(HOLE_FILLS))
    fills = tuple(
        same_fill if rng.random() < 0.75 else str(rng.choice(HOLE_FILLS)) for _ in range(count)
    )
    rim_radius = d / 2 * rim
    return Style(
        diameter=d,
        chamber=chamber,
        profile=profile,
        height_ratio=height,
        shoulder_ratio=shoulder,
        neck_ratio=float(rng.uniform(0.26, 0.38)),
        cap=str(rng.choice(["hex", "knurled", "round", "tall_hex", "slotted"])),
        cap_ratio=float(rng.uniform(0.24, 0.37)),
        cap_height=float(rng.uniform(0.12, 0.26)),
        rim_height=d * float(rng.uniform(0.36, 0.56)),
        rim_radius=rim_radius,
        rim_thickness=float(rng.uniform(3.5, 8.0)),
        cover_screws=int(rng.choice([2, 3, 4]))
        if chamber == "piston"
        else int(rng.choice([4, 4, 6])),
        screw_phase=float(rng.uniform(0, 360)),
        throat_radius=rt,
        flange_x=d * float(rng.uniform(0.56, 0.85)),
        rear_x=-d * float(rng.uniform(0.55, 0.85)),
        hole_count=count,
        outline=outline,
        bolt_radius_ratio=float(rng.uniform(1.6, 2.05)),
        hole_radius_ratio=float(rng.uniform(0.19, 0.28)),
        pattern_angle=float(angle + rng.normal(0, 4)),
        pattern_squash=float(rng.uniform(0.8, 1.0)) if count == 4 and rng.random() < 0.4 else 1.0,
        vents=vents,
        vent_angle=float(rng.uniform(0, 360)),
        vent_ratio=float(rng.uniform(1.25, 1.42)),
        vent_size=float(rng.uniform(0.3, 0.62)),
        hole_fill=fills,
        gasket=bool(rng.random() < 0.18),
        bowl_hand=hand,
        bowl_diameter=d * float(rng.uniform(0.6, 0.78)),
        bowl_offset=d * float(rng.uniform(0.92, 1.3)),
        bowl_x=d * float(rng.uniform(-0.25, 0.35)),
        bowl_top=d * float(rng.uniform(-0.2, 0.22)),
        bowl_depth=d * float(rng.uniform(0.55, 0.9)),
        mark_kind=kind,
        mark_width=float(rng.uniform(3.0, 7.5))
        if kind != "engraved"
        else float(rng.uniform(1.6, 3.2)),
        mark_bearing=draw_bearing(rng),
        partner_bearing=None
        if rng.random() < 0.35
        else (0.0 if rng.random() < 0.75 else float(rng.uniform(-180, 180))),
        body_material=material.draw(rng, "body", evaluation),
        cover_material=cover,
        rim_same=bool(rng.random() < 0.8),
        cap_material=material.draw(rng, "cap", evaluation),
        screw_material=material.draw(rng, "screw", evaluation),
        lever_material=material.draw(rng, "lever", evaluation),
        gasket_material=material.draw(rng, "gasket", evaluation),
        mark_material=mark_mat,
        bowl_lid_material=material.draw(rng, "body" if rng.random() < 0.7 else "cap", evaluation),
    )


def mark_material(
    rng: np.random.Generator, kind: str, cover: Material, evaluation: bool
) -> Material:
    """What a mark is made of: a fitter paints and scribes so that it can be found again."""
    dark = float(np.mean(cover.rgb)) < DARK_COVER
    if kind == "painted":
        careless = rng.random() < 0.15
        return material.draw(
            rng, "paint_mark" if careless else f"paint_on_{'dark' if dark else 'light'}", evaluation
        )
    if kind == "engraved":
        return material.named(rng, "scribed_metal") if dark else material.named(rng, "grime")
    return cover


def partner_of(rng: np.random.Generator, style: Style, **changes: object) -> Style:
    """The other carb of a matched pair: same pattern, its own mark bearing and hole fillings."""
    fills = tuple(f if rng.random() < 0.8 else str(rng.choice(HOLE_FILLS)) for f in style.hole_fill)
    return replace(style, mark_bearing=draw_bearing(rng), hole_fill=fills, **changes)  # type: ignore[arg-type]
