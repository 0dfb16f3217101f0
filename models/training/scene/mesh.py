"""Triangle meshes for the scene generator, written as analytic primitives.

Every primitive returns a :class:`Mesh` in millimetres with its own vertex normals, so that turned
parts look turned and cast edges stay crisp without any boolean operation: solids may overlap, and
holes are made by extruding an outline that already has them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import mapbox_earcut
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CREASE_COS = np.cos(np.radians(38.0))
"""Edges sharper than 38 degrees are drawn as edges, flatter ones are shaded smooth."""


@dataclass
class Mesh:
    """Vertices (N, 3), unit normals (N, 3) and faces (M, 3) of one solid, millimetres."""

    vertices: Array
    normals: Array
    faces: NDArray[np.int64]

    def moved(
        self, rotation: Array | None = None, offset: Sequence[float] | Array = (0, 0, 0)
    ) -> Mesh:
        """Rotate about the origin by a (3, 3) matrix, then shift."""
        v, n = self.vertices, self.normals
        if rotation is not None:
            v, n = v @ rotation.T, n @ rotation.T
        return Mesh(v + np.asarray(offset, float), n, self.faces)


def merge(meshes: Sequence[Mesh]) -> Mesh:
    """One mesh out of several."""
    start, faces = 0, []
    for m in meshes:
        faces.append(m.faces + start)
        start += len(m.vertices)
    return Mesh(
        np.concatenate([m.vertices for m in meshes]),
        np.concatenate([m.normals for m in meshes]),
        np.concatenate(faces),
    )


def rotation(axis: str, degrees: float) -> Array:
    """Right-handed rotation matrix about a coordinate axis."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    m = np.eye(3)
    m[i, i], m[i, j], m[j, i], m[j, j] = c, -s, s, c
    return m


def aligned(direction: Sequence[float] | Array, up: Sequence[float] = (0, 0, 1)) -> Array:
    """Rotation that takes +z to ``direction``; +x stays as near to ``up`` as it can."""
    z = np.asarray(direction, float)
    z = z / np.linalg.norm(z)
    u = np.asarray(up, float)
    if abs(z @ u) > 0.95:
        u = np.array([1.0, 0.0, 0.0]) if abs(z[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    x = u - (u @ z) * z
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z], 1)


def lathe(profile: Sequence[tuple[float, float]] | Array, segments: int = 64) -> Mesh:
    """Turn a profile of (radius, height) points about the z axis.

    The profile runs so that the material lies on its left: going up the outside of a solid.
    """
    p = np.asarray(profile, float)
    keep = np.r_[True, np.linalg.norm(np.diff(p, axis=0), axis=1) > 1e-6]
    p = p[keep]
    t = np.diff(p, axis=0)
    nrm = np.stack([t[:, 1], -t[:, 0]], 1)
    nrm /= np.linalg.norm(nrm, axis=1, keepdims=True)
    pts: list[Array] = []
    nor: list[Array] = []
    rows: list[tuple[int, int]] = []
    for i in range(len(t)):
        n0 = n1 = nrm[i]
        if i > 0 and nrm[i - 1] @ nrm[i] > CREASE_COS:
            n0 = nrm[i - 1] + nrm[i]
        if i + 1 < len(t) and nrm[i + 1] @ nrm[i] > CREASE_COS:
            n1 = nrm[i] + nrm[i + 1]
        rows.append((len(pts), len(pts) + 1))
        pts += [p[i], p[i + 1]]
        nor += [n0 / np.linalg.norm(n0), n1 / np.linalg.norm(n1)]
    pt, no = np.array(pts), np.array(nor)
    a = np.linspace(0, 2 * np.pi, segments + 1)
    ca, sa = np.cos(a), np.sin(a)
    v = np.stack(
        [pt[:, :1] * ca, pt[:, :1] * sa, np.broadcast_to(pt[:, 1:], (len(pt), len(a)))], -1
    )
    n = np.stack(
        [no[:, :1] * ca, no[:, :1] * sa, np.broadcast_to(no[:, 1:], (len(pt), len(a)))], -1
    )
    w = segments + 1
    k = np.arange(segments)
    faces = []
    for r0, r1 in rows:
        a0, a1, b0, b1 = r0 * w + k, r0 * w + k + 1, r1 * w + k, r1 * w + k + 1
        faces += [np.stack([a0, a1, b1], 1), np.stack([a0, b1, b0], 1)]
    return Mesh(v.reshape(-1, 3), n.reshape(-1, 3), np.concatenate(faces))


def cylinder(radius: float, z0: float, z1: float, bevel: float = 0.6, segments: int = 48) -> Mesh:
    """Solid cylinder along z with bevelled ends."""
    b = min(bevel, radius * 0.4, (z1 - z0) * 0.4)
    prof = [
        (0, z0),
        (radius - b, z0),
        (radius, z0 + b),
        (radius, z1 - b),
        (radius - b, z1),
        (0, z1),
    ]
    return lathe(prof, segments)


def circle(
    radius: float, segments: int = 32, centre: tuple[float, float] = (0, 0), phase: float = 0.0
) -> Array:
    """Counter-clockwise polygon (segments, 2)."""
    a = np.linspace(0, 2 * np.pi, segments, endpoint=False) + phase
    return np.asarray(np.stack([centre[0] + radius * np.cos(a), centre[1] + radius * np.sin(a)], 1))


def _ring_normals(poly: Array, outward: float) -> Array:
    e = np.roll(poly, -1, 0) - poly
    n = np.stack([e[:, 1], -e[:, 0]], 1)
    return np.asarray(outward * n / np.maximum(np.linalg.norm(n, axis=1, keepdims=True), 1e-9))


def _wall(poly: Array, z0: float, z1: float, outward: float, top: Array | None = None) -> Mesh:
    """Side wall over a counter-clockwise ring; ``top`` may be an inset ring (a bevel)."""
    n = _ring_normals(poly, outward)
    prev = np.roll(n, 1, 0)
    smooth = np.sum(n * prev, 1) > CREASE_COS
    start = np.where(smooth[:, None], n + prev, n)
    nxt = np.roll(n, -1, 0)
    end = np.where(np.roll(smooth, -1)[:, None], n + nxt, n)
    hi = poly if top is None else top
    slope = 0.0 if top is None else 1.0
    cnt = len(poly)
    a, b = poly, np.roll(poly, -1, 0)
    ta, tb = hi, np.roll(hi, -1, 0)
    sgn = np.sign(z1 - z0)

    def col(xy: Array, z: float) -> Array:
        return np.asarray(np.c_[xy, np.full(cnt, z)])

    v = np.concatenate([col(a, z0), col(b, z0), col(tb, z1), col(ta, z1)])
    nn = np.c_[np.concatenate([start, end, end, start]), np.full(4 * cnt, slope * sgn * 0.7)]
    nn /= np.linalg.norm(nn, axis=1, keepdims=True)
    i = np.arange(cnt)
    f = np.concatenate(
        [np.stack([i, i + cnt, i + 2 * cnt], 1), np.stack([i, i + 2 * cnt, i + 3 * cnt], 1)]
    )
    return Mesh(v, nn, f)


def _cap(outer: Array, holes: Sequence[Array], z: float, up: bool) -> Mesh:
    rings = [outer, *holes]
    pts = np.concatenate(rings)
    ends = np.cumsum([len(r) for r in rings]).astype(np.uint32)
    tri = (
        mapbox_earcut.triangulate_float64(np.ascontiguousarray(pts), ends)
        .reshape(-1, 3)
        .astype(np.int64)
    )
    n = np.zeros((len(pts), 3))
    n[:, 2] = 1.0 if up else -1.0
    return Mesh(np.c_[pts, np.full(len(pts), z)], n, tri if up else tri[:, ::-1])


def extrude(
    outer: Array, z0: float, z1: float, holes: Sequence[Array] = (), bevel: float = 0.5
) -> Mesh:
    """Plate between z0 and z1 with a counter-clockwise outline (N, 2) and holes, bevelled at z1."""
    nrm = _ring_normals(outer, 1.0)
    mean = nrm + np.roll(nrm, 1, 0)
    mean /= np.maximum(np.linalg.norm(mean, axis=1, keepdims=True), 1e-6)
    b = min(bevel, 0.3 * (z1 - z0))
    inset = outer - b * mean
    parts = [_wall(outer, z0, z1 - b, 1.0), _wall(outer, z1 - b, z1, 1.0, inset)]
    parts += [_cap(inset, holes, z1, True), _cap(outer, holes, z0, False)]
    parts += [_wall(h, z0, z1, -1.0) for h in holes]
    return merge(parts)


def box(
    size: Sequence[float] | Array, centre: Sequence[float] = (0, 0, 0), radius: float = 2.0
) -> Mesh:
    """Box with rounded vertical edges and a bevelled top."""
    sx, sy, sz = size
    r = min(radius, 0.45 * min(sx, sy))
    poly = rounded_rectangle(sx, sy, r)
    m = extrude(poly, -sz / 2, sz / 2, bevel=min(r, 0.2 * sz))
    return m.moved(offset=centre)


def rounded_rectangle(width: float, height: float, radius: float, steps: int = 5) -> Array:
    """Counter-clockwise rounded rectangle about the origin."""
    pts = []
    for cx, cy, a0 in ((1, 1, 0), (-1, 1, 90), (-1, -1, 180), (1, -1, 270)):
        a = np.radians(np.linspace(a0, a0 + 90, steps))
        x = cx * (width / 2 - radius) + radius * np.cos(a)
        y = cy * (height / 2 - radius) + radius * np.sin(a)
        pts.append(np.stack([x, y], 1))
    return np.concatenate(pts)


def tube(path: Array, radius: float, segments: int = 14, caps: bool = True) -> Mesh:
    """Round bar, hose or wire swept along a polyline (N, 3)."""
    p = np.asarray(path, float)
    t = np.gradient(p, axis=0)
    t /= np.maximum(np.linalg.norm(t, axis=1, keepdims=True), 1e-9)
    ref = np.array([0.0, 0.0, 1.0]) if abs(t[0, 2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    u = ref - (ref @ t[0]) * t[0]
    frames = []
    for ti in t:
        u = u - (u @ ti) * ti
        u = u / max(np.linalg.norm(u), 1e-9)
        frames.append((u, np.cross(ti, u)))
    a = np.linspace(0, 2 * np.pi, segments + 1)
    uu = np.array([f[0] for f in frames])[:, None]
    vv = np.array([f[1] for f in frames])[:, None]
    n = uu * np.cos(a)[None, :, None] + vv * np.sin(a)[None, :, None]
    v = p[:, None] + radius * n
    w = segments + 1
    i, k = np.meshgrid(np.arange(len(p) - 1), np.arange(segments), indexing="ij")
    q = (i * w + k).ravel()
    f = np.concatenate([np.stack([q, q + 1, q + w + 1], 1), np.stack([q, q + w + 1, q + w], 1)])
    body = Mesh(v.reshape(-1, 3), n.reshape(-1, 3), f)
    if not caps:
        return body
    ends = []
    for idx, sgn in ((0, -1.0), (-1, 1.0)):
        d = cylinder(radius, -0.3, 0.3, 0.1, segments)
        ends.append(d.moved(aligned(sgn * t[idx]), p[idx]))
    return merge([body, *ends])


def spline(points: Sequence[Sequence[float] | Array] | Array, steps: int = 40) -> Array:
    """Catmull-Rom curve through control points (N, 3)."""
    p = np.asarray(points, float)
    p = np.concatenate([[2 * p[0] - p[1]], p, [2 * p[-1] - p[-2]]])
    u = np.linspace(0, len(p) - 3 - 1e-6, steps)
    i = u.astype(int)
    t = (u - i)[:, None]
    a, b, c, d = p[i], p[i + 1], p[i + 2], p[i + 3]
    square, cube = 2 * a - 5 * b + 4 * c - d, 3 * b - a - 3 * c + d
    return np.asarray(0.5 * (2 * b + (c - a) * t + square * t**2 + cube * t**3))


def helix(start: Array, end: Array, radius: float, turns: float, steps_per_turn: int = 12) -> Array:
    """Centre line of a coil spring between two points."""
    n = int(turns * steps_per_turn)
    t = np.linspace(0, 1, n)
    m = aligned(end - start)
    length = np.linalg.norm(end - start)
    ang = 2 * np.pi * turns * t
    local = np.stack([radius * np.cos(ang), radius * np.sin(ang), length * t], 1)
    return local @ m.T + start


def hexagon_head(across_flats: float, z0: float, z1: float) -> Mesh:
    """Hexagon bolt head or nut along z."""
    return extrude(circle(across_flats / np.sqrt(3), 6), z0, z1, bevel=0.12 * across_flats)
