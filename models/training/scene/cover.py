"""The moving half from outside: piston dashpot or diaphragm cover, its cap, screws and mark."""

from __future__ import annotations

import numpy as np

from .mesh import Array, Mesh, box, circle, cylinder, extrude, hexagon_head, lathe, merge, rotation
from .style import Style

Part = tuple[Mesh, str]
"""A solid and the name of the style's material slot that it wears."""


def bearing_direction(bearing_deg: float) -> Array:
    """Unit vector (x, y) of a bearing: 0 towards the intake, clockwise positive from above."""
    b = np.radians(bearing_deg)
    return np.array([np.cos(b), -np.sin(b)])


def build_cover(style: Style, rng: np.random.Generator) -> tuple[list[Part], Array, Array]:
    """Cover, neck, cap, rim screws and alignment mark, in the carb frame.

    Then points on the mark (12, 3) and on its partner on the body (12 or none).
    """
    d, r, rim, z0 = style.diameter, style.diameter / 2, style.rim_radius, style.rim_height
    t = style.rim_thickness
    top = z0 + t
    shoulder = z0 + d * style.shoulder_ratio
    full = z0 + d * style.height_ratio
    cap_h = d * style.cap_height
    neck = d * style.neck_ratio / 2
    neck_top = max(full - cap_h, shoulder + 0.05 * d)
    prof = [(rim * 0.5, z0), (rim - 0.8, z0), (rim, z0 + 0.8), (rim, top - 0.8), (rim - 0.8, top)]
    prof += _wall_profile(style, top, shoulder, neck)
    prof += [(neck * 1.02, shoulder + 0.02 * d), (neck, neck_top), (0, neck_top)]
    parts: list[Part] = [(lathe(prof, 72), "cover_material")]
    parts += _ears(style, r, z0, t)
    parts += _cap(style, neck_top, neck_top + cap_h)
    mark, points, partner = _mark(style, z0, t, rng)
    return parts + mark, points, partner


def _wall_profile(
    style: Style, top: float, shoulder: float, neck: float
) -> list[tuple[float, float]]:
    r, d = style.diameter / 2, style.diameter
    s = np.linspace(0, np.pi / 2, 9)
    if style.profile == "bell":
        rs = r * 0.34
        arc = [(r - rs + rs * np.cos(a), shoulder - rs + rs * np.sin(a)) for a in s]
        return [(r, top + 0.02 * d), *arc]
    if style.profile == "cone":
        return [(r, top), (r * 0.86, shoulder - 3), (r * 0.8, shoulder)]
    if style.profile == "stepped":
        mid = top + 0.55 * (shoulder - top)
        return [
            (r, top),
            (r, mid),
            (r * 0.88, mid + 2.5),
            (r * 0.88, shoulder - 3),
            (r * 0.84, shoulder),
        ]
    if style.profile == "ribbed":
        out: list[tuple[float, float]] = [(r, top)]
        for z in np.linspace(top + 6, shoulder - 5, 4):
            out += [(r, z - 2.2), (r * 0.97, z - 1.4), (r * 0.97, z + 1.4), (r, z + 2.2)]
        return [*out, (r, shoulder - 2), (r - 2, shoulder)]
    if style.profile == "dome":
        h = shoulder - top
        return [
            (style.rim_radius * 0.86 * np.cos(a) + neck * 0.2, top + h * np.sin(a)) for a in s[:-1]
        ]
    if style.profile == "flat_dome":
        return [
            (style.rim_radius * 0.84, top),
            (style.rim_radius * 0.78, shoulder - 4),
            (r * 0.7, shoulder),
        ]
    if style.profile == "stepped_dome":
        mid = top + 0.5 * (shoulder - top)
        return [
            (style.rim_radius * 0.85, top),
            (style.rim_radius * 0.8, mid),
            (r * 0.62, mid + 3),
            (r * 0.55, shoulder),
        ]
    return [(r, top), (r, shoulder - 2.5), (r - 2.5, shoulder)]


def _ears(style: Style, r: float, z0: float, t: float) -> list[Part]:
    """Screw ears of the rim; on wide covers the screws stand in the rim itself."""
    parts: list[Part] = []
    for k, a in enumerate(style.screw_bearings):
        u = bearing_direction(a)
        if style.chamber == "piston":
            rs = style.rim_radius + 1.5
            ear = extrude(circle(5.6, 20), z0 - 4, z0 + t, bevel=0.6).moved(offset=(*(u * rs), 0))
            parts.append((ear, "cover_material"))
        else:
            rs = style.rim_radius - 4.6
        head = (
            cylinder(3.4, z0 + t, z0 + t + 2.6, 0.8, 18)
            if k % 2
            else hexagon_head(6.5, z0 + t, z0 + t + 3)
        )
        parts.append((head.moved(offset=(*(u * rs), 0)), "screw_material"))
        slot = box((5.0, 0.9, 0.4), (0, 0, z0 + t + 2.75), 0.1).moved(
            rotation("z", 40.0 * k + style.screw_phase)
        )
        parts.append((slot.moved(offset=(*(u * rs), 0)), "dark"))
    return parts


def _cap(style: Style, z0: float, z1: float) -> list[Part]:
    r = style.diameter * style.cap_ratio / 2
    base = cylinder(r * 1.08, z0 - 1, z0 + 2.5, 0.6, 40)
    if style.cap in ("hex", "tall_hex"):
        waist = z0 + 0.45 * (z1 - z0) if style.cap == "hex" else z0
        body = hexagon_head(r * 1.75, waist, z1)
        low = cylinder(r, z0, max(waist, z0 + 1), 0.5, 32)
        return [(merge([base, low, body]), "cap_material")]
    if style.cap == "knurled":
        a = np.linspace(0, 2 * np.pi, 96, endpoint=False)
        rad = r * (1 + 0.035 * np.sign(np.sin(24 * a)))
        poly = np.stack([rad * np.cos(a), rad * np.sin(a)], 1)
        return [(merge([base, extrude(poly, z0, z1, bevel=1.5)]), "cap_material")]
    if style.cap == "slotted":
        slot = box((r * 1.6, 1.8, 0.6), (0, 0, z1 + 0.1), 0.2)
        return [(merge([base, cylinder(r, z0, z1, 1.5)]), "cap_material"), (slot, "dark")]
    dome = [
        (r, z0),
        (r, z0 + 0.6 * (z1 - z0)),
        (r * 0.8, z0 + 0.88 * (z1 - z0)),
        (r * 0.4, z1),
        (0, z1),
    ]
    return [(merge([base, lathe(dome, 40)]), "cap_material")]


def _mark(
    style: Style, z0: float, t: float, rng: np.random.Generator
) -> tuple[list[Part], Array, Array]:
    """The cover's alignment mark and its partner on the body below; points (n, 3) on each.

    The points lie just before the mark's own surface, half on its face and half on its top.
    """
    parts: list[Part] = []
    rim, w = style.rim_radius, style.mark_width
    turn = rotation("z", -style.mark_bearing)
    if style.mark_kind == "none":
        points = np.tile([0.0, 0, z0 + t / 2], (12, 1))  # inside the cover, where nobody sees them
    elif style.mark_kind == "raised":
        out, high = float(rng.uniform(1.4, 3.4)), t * float(rng.uniform(0.7, 1.15))
        m = box((out + 3, w, high), (rim + out / 2 - 1.5, 0, z0 + t / 2), 0.7)
        parts.append((m.moved(turn), "cover_material"))
        points = _before(rim + 0.3, rim + out, w, z0 + t / 2, z0 + t / 2 + high / 2)
    elif style.mark_kind == "notch_tab":
        out, high = float(rng.uniform(2.6, 5.5)), t * float(rng.uniform(0.6, 1.0))
        poly = np.array(
            [
                [rim - 2, -w * 0.75],
                [rim + out, -w * 0.22],
                [rim + out, w * 0.22],
                [rim - 2, w * 0.75],
            ]
        )
        m = extrude(poly, z0, z0 + high, bevel=0.4)
        parts.append((m.moved(turn), "cover_material"))
        points = _before(rim + 0.3, rim + out, w * 0.4, z0 + high / 2, z0 + high)
        if rng.random() < 0.5:
            line = box((out + 2, 0.8, 0.3), (rim + out / 2, 0, z0 + t), 0.1)
            parts.append((line.moved(turn), "dark"))
    else:
        inner = rim - float(rng.uniform(2.5, 6))
        face = box((0.3, w, t * 0.96), (rim, 0, z0 + t / 2), 0.1)
        lid = box((rim - inner, w, 0.3), ((rim + inner) / 2, 0, z0 + t), 0.1)
        parts.append((merge([face, lid]).moved(turn), "mark_material"))
        points = _before(inner, rim + 0.15, w, z0 + t / 2, z0 + t + 0.15)
    partner = np.zeros((0, 3))
    if style.partner_bearing is not None:
        turn_partner = rotation("z", -style.partner_bearing)
        out = float(rng.uniform(1.0, 2.6))
        pad = style.rim_radius * 1.0
        kind = "body_material" if rng.random() < 0.7 else "dark"
        wide = float(rng.uniform(2.5, 6))
        m = box((out + 2, wide, 3.2), (pad + out / 2 - 1, 0, z0 - 2.2), 0.6)
        parts.append((m.moved(turn_partner), kind))
        partner = _before(pad + out - 0.8, pad + out, wide, z0 - 3.0, z0 - 0.6) @ turn_partner.T
    return parts, np.asarray(points @ turn.T), np.asarray(partner)


def _before(inner: float, outer: float, w: float, middle: float, top: float) -> Array:
    """Six points 0.5 mm before the outer face of a mark at bearing 0, and six over its top."""
    clear = 0.5
    sides = (-0.35 * w, 0.0, 0.35 * w)
    face = [(outer + clear, y, z) for y in sides for z in (middle, (middle + top) / 2)]
    lid = [(x, y, top + clear) for y in sides for x in (outer - 0.3, (inner + outer) / 2)]
    return np.array(face + lid)


def mark_extent(style: Style) -> Array:
    """Points (9, 3) whose spread in a photograph is the mark's size: edges of face and top."""
    z0, t, rim, w = style.rim_height, style.rim_thickness, style.rim_radius, style.mark_width
    pts = []
    for side in (-0.35, 0.0, 0.35):
        pts += [
            (rim + 1.0, side * w, z0 + 0.5 * t),
            (rim - 1.0, side * w, z0 + t + 0.6),
            (rim + 1.0, side * w, z0 + 0.8 * t),
        ]
    return np.asarray(np.array(pts) @ rotation("z", -style.mark_bearing).T)
