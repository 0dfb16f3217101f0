"""Outlines of the air flange: closed counter-clockwise polygons in its plane, millimetres."""

from __future__ import annotations

import cv2
import numpy as np

from .mesh import Array, circle, rounded_rectangle
from .style import Style


def bolt_positions(style: Style) -> Array:
    """Bolt-hole centres (n, 2) about the throat: R cos(2 pi k / n + phase), R sin(…), in (y, z)."""
    r = style.throat_radius * style.bolt_radius_ratio
    a = np.radians(style.pattern_angle) + 2 * np.pi * np.arange(style.hole_count) / style.hole_count
    p = np.stack([r * np.cos(a), r * np.sin(a)], 1)
    if style.hole_count == 4 and style.pattern_squash < 1:
        half = np.arctan2(style.pattern_squash, 1.0)
        a = np.radians(style.pattern_angle - 45) + np.array(
            [half, np.pi - half, np.pi + half, -half]
        )
        p = np.stack([r * np.cos(a), r * np.sin(a)], 1)
    return p


def vent_positions(style: Style) -> Array:
    """Vent-hole centres (m, 2); those that would touch a bolt hole are left out."""
    if style.vents == 0:
        return np.zeros((0, 2))
    r = style.throat_radius * style.vent_ratio
    a = np.radians(style.vent_angle) + 2 * np.pi * np.arange(style.vents) / style.vents
    v = np.stack([r * np.cos(a), r * np.sin(a)], 1)
    gap = style.throat_radius * style.hole_radius_ratio * 2.2
    near = np.linalg.norm(v[:, None] - bolt_positions(style)[None], axis=2).min(1)
    return np.asarray(v[near > gap])


def _hull(points: Array) -> Array:
    h = cv2.convexHull(points.astype(np.float32).reshape(-1, 1, 2))[:, 0].astype(float)
    area = 0.5 * np.sum(h[:, 0] * np.roll(h[:, 1], -1) - np.roll(h[:, 0], -1) * h[:, 1])
    return h if area > 0 else h[::-1]


def flange_outline(style: Style) -> Array:
    """Outline polygon (n, 2) in (y, z) that leaves an edge around every bolt hole."""
    bolts = bolt_positions(style)
    rt = style.throat_radius
    hole = rt * style.hole_radius_ratio
    edge = hole * 2.1
    reach = np.linalg.norm(bolts, axis=1).max() + edge
    name = style.outline
    centre = circle(rt * 1.38, 40)
    lobes = [circle(edge, 20, (b[0], b[1])) for b in bolts]
    if name in ("lozenge", "triangle", "lobed", "bar"):
        core = centre if name != "bar" else circle(rt * 1.3, 40)
        if name == "lobed":
            return _star(np.concatenate([centre, *lobes]), rt * 1.45)
        return _hull(np.concatenate([core, *lobes]))
    if name == "flat_hexagon":
        u = bolts[0] / np.linalg.norm(bolts[0])
        w = np.array([-u[1], u[0]])
        pts = [s * reach * u + t * edge * w for s in (1, -1) for t in (1, -1)]
        pts += [s * 0.5 * reach * u + t * rt * 1.5 * w for s in (1, -1) for t in (1, -1)]
        return _hull(np.array(pts))
    if name == "oval":
        a = np.linspace(0, 2 * np.pi, 56, endpoint=False)
        phi = np.arctan2(bolts[0][1], bolts[0][0])
        e = np.stack([reach * np.cos(a), max(rt * 1.5, 0.66 * reach) * np.sin(a)], 1)
        c, s = np.cos(phi), np.sin(phi)
        return np.asarray(e @ np.array([[c, s], [-s, c]]))
    if name == "superellipse":
        # the rest of the style fixes exponent and proportions, so that no further draw is needed
        own = (style.screw_phase * 0.0713) % 1.0, (style.vent_angle * 0.0517) % 1.0
        n, ratio = 1.6 + 3.4 * own[0], 0.75 + 0.25 * own[1]
        a = np.linspace(0, 2 * np.pi, 72, endpoint=False)
        phi = np.arctan2(bolts[0][1], bolts[0][0]) + np.pi / 4 * (n > 2.6) * (len(bolts) == 4)
        c, s = np.cos(a), np.sin(a)
        e = np.stack([np.sign(c) * np.abs(c) ** (2 / n), np.sign(s) * np.abs(s) ** (2 / n)], 1)
        e = e * reach * 1.02 * np.array([1.0, max(ratio, rt * 1.45 / reach)])
        turn = np.array([[np.cos(phi), np.sin(phi)], [-np.sin(phi), np.cos(phi)]])
        return _hull(np.concatenate([e @ turn, centre, *lobes]))
    if name == "pear":
        side = np.array(
            [np.cos(np.radians(style.screw_phase)), np.sin(np.radians(style.vent_angle))]
        )
        foot = circle(rt * 0.8, 24, (side[0] * rt * 1.1, side[1] * rt * 1.1))
        return _hull(np.concatenate([centre, foot, *lobes]))
    if name == "hexagon":
        phase = np.arctan2(bolts[0][1], bolts[0][0])
        return _hull(np.concatenate([circle(reach * 1.08, 6, phase=phase), *lobes]))
    if name == "disc":
        return circle(reach, 64)
    if name == "eared_disc":
        return _star(np.concatenate([circle(max(rt * 1.5, reach * 0.8), 48), *lobes]), rt * 1.5)
    if name == "octagon":
        return circle(reach * 1.06, 8, phase=np.pi / 8)
    if name == "shield":
        side = 1.9 * reach
        top = rounded_rectangle(side, side * 0.7, side * 0.12) + np.array([0, side * 0.1])
        return _hull(np.concatenate([top, circle(edge, 16, (0, -reach + edge * 0.4)), *lobes]))
    if name == "rectangle":
        span = np.abs(bolts).max(0) + edge
        return rounded_rectangle(2 * max(span[0], rt * 1.4), 2 * max(span[1], rt * 1.4), edge * 0.8)
    span = max(np.abs(bolts).max() + edge, rt * 1.5)
    return rounded_rectangle(2 * span, 2 * span, edge * 0.9)


def _star(points: Array, least: float) -> Array:
    """Radial outline: the farthest point of the shapes in each direction, at least ``least``."""
    ang = np.arctan2(points[:, 1], points[:, 0])
    rad = np.linalg.norm(points, axis=1)
    bins = np.linspace(-np.pi, np.pi, 97)[:-1]
    out = []
    for b in bins:
        d = np.abs(np.angle(np.exp(1j * (ang - b))))
        near = d < 0.06
        out.append(max(least, rad[near].max() if near.any() else least))
    r = np.array(out)
    r = np.maximum(r, 0.5 * (np.roll(r, 1) + np.roll(r, -1)))
    return np.stack([r * np.cos(bins), r * np.sin(bins)], 1)
