"""A whole scene: carbs in their bay, merged into one mesh, with light, dirt and the true landmarks.

``build_scene(seed)`` is a pure function of its arguments: the data set is a list of seeds.
World frame: millimetres, +x out of the air intakes, +z up, +y to the right of somebody who faces
the intakes; the origin is the middle of the pair.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from . import material
from .bay import Placed, build_clutter, build_engine, build_hoses, build_lookalike, build_wing
from .carb import CarbBuild, build_carb
from .decoy import build_decoys, mistakable
from .material import Material
from .mesh import Array, box, cylinder, merge, rotation
from .style import Style, draw, partner_of

FLOAT = np.float32
_FIXED = {
    "dark": Material((0.012, 0.011, 0.010), 0.8, 0.0),
    "bore": Material((0.30, 0.29, 0.27), 0.5, 0.6),
    "piston": Material((0.45, 0.45, 0.44), 0.4, 0.8),
    "brass_disc": Material((0.62, 0.46, 0.20), 0.35, 0.9),
    "filter_mesh": Material((0.20, 0.18, 0.15), 0.85, 0.1),
}


@dataclass(frozen=True)
class PlacedCarb:
    """One carb in the world: its style, landmarks (world millimetres) and what is true about it."""

    style: Style
    landmarks: dict[str, Array]
    surface: dict[str, Array]
    filtered: bool
    y: float


@dataclass(frozen=True)
class Scene:
    """Merged geometry with per-vertex surface, and the truth."""

    seed: int
    evaluation: bool
    vertices: NDArray[np.float32]
    normals: NDArray[np.float32]
    faces: NDArray[np.uint32]
    colour: NDArray[np.float32]
    roughness: NDArray[np.float32]
    metallic: NDArray[np.float32]
    uv: NDArray[np.float32]
    carbs: list[PlacedCarb]
    pitch: float
    dirt: float
    dirt_rgb: tuple[float, float, float]
    scale_hint: float
    negatives: list[str] = field(default_factory=list)


def _slot(style: Style, name: str, extra: dict[str, Material]) -> Material:
    if name in extra:
        return extra[name]
    if name in _FIXED:
        return _FIXED[name]
    found = getattr(style, name)
    assert isinstance(found, Material)
    return found


def _styles(rng: np.random.Generator, evaluation: bool, count: int) -> list[Style]:
    first = draw(rng, evaluation)
    if count <= 1:
        return [first] * count
    out = [first]
    for i in range(1, count):
        if rng.random() < 0.08:
            out.append(draw(rng, evaluation))
        else:
            mirrored = rng.random() < 0.72
            hand = -first.bowl_hand if mirrored else first.bowl_hand
            out.append(partner_of(rng, first, bowl_hand=hand if i == 1 else first.bowl_hand))
    return out


def _pitch(rng: np.random.Generator, left: Style, right: Style) -> float:
    """Distance of the two dashpot axes: wide enough for whatever sits between them."""
    need = 1.25 * max(left.rim_radius, right.rim_radius) * 2
    inner = [left.bowl_offset + left.bowl_diameter / 2] if left.bowl_hand == 1 else []
    inner += [right.bowl_offset + right.bowl_diameter / 2] if right.bowl_hand == -1 else []
    if len(inner) == 2:
        need = max(need, sum(inner) * rng.uniform(0.98, 1.08))
    elif inner:
        need = max(need, inner[0] + left.diameter * 0.55)
    return float(max(need, left.diameter * 1.75) * rng.uniform(1.0, 1.25))


def build_scene(
    seed: int,
    evaluation: bool = False,
    carb_count: int | None = None,
    styles: list[Style] | None = None,
    filtered: tuple[bool, ...] | None = None,
    decoys: bool = False,
) -> Scene:
    """Build the scene of a seed; styles and filters may be given for a chosen case.

    ``decoys``: surround the rims with what can be mistaken for a mark, else leave all as it is.
    """
    rng = np.random.default_rng([seed, 7919 if evaluation else 104729])
    own = np.random.default_rng([seed, 611953])
    count = (
        carb_count
        if carb_count is not None
        else int(rng.choice([0, 1, 2, 3], p=[0.09, 0.07, 0.82, 0.02]))
    )
    pool = styles if styles is not None else _styles(rng, evaluation, count)
    count = len(pool)
    pitch = _pitch(rng, pool[0], pool[1]) if count >= 2 else 150.0
    ys = (np.arange(count) - (count - 1) / 2) * pitch
    base = rng.random()
    fit = filtered or tuple(bool((base < 0.22) != (rng.random() < 0.08)) for _ in range(count))
    placed: list[Placed] = []
    carbs: list[PlacedCarb] = []
    tilt = rotation("y", float(rng.normal(0, 5)))
    for style, y, has_filter in zip(pool, ys, fit, strict=True):
        extra = {
            "filter": material.draw(rng, "filter", evaluation),
            "hose": material.draw(rng, "hose", evaluation),
        }
        if decoys:
            style = mistakable(own, style)
        built: CarbBuild = build_carb(style, rng, has_filter)
        solids = built.parts + (build_decoys(style, own) if decoys else [])
        at = np.array([0.0, y, 0.0])
        placed += [(m.moved(tilt, at), _slot(style, s, extra)) for m, s in solids]
        carbs.append(
            PlacedCarb(
                style,
                {k: v @ tilt.T + at for k, v in built.landmarks.items()},
                {k: v @ tilt.T + at for k, v in built.surface.items()},
                has_filter,
                float(y),
            )
        )
    if count >= 2 and all(fit) and rng.random() < 0.3:
        placed += _air_box(rng, carbs, pitch, evaluation)
    names: list[str] = []
    rear = min((c.style.rear_x for c in carbs), default=-60.0)
    if rng.random() < 0.85:
        placed += build_engine(rng, pitch, rear - 8, evaluation)
    if rng.random() < 0.8:
        placed += build_wing(rng, evaluation)
    placed += build_hoses(rng, pitch, evaluation)
    if count == 0:
        for k in range(int(rng.integers(1, 3))):
            name, parts = build_lookalike(rng, evaluation)
            names.append(name)
            at = np.array(
                [rng.uniform(-40, 40), (k - 0.5) * rng.uniform(120, 220), rng.uniform(-30, 30)]
            )
            placed += [
                (m.moved(rotation("z", float(rng.uniform(-60, 60))), at), mat) for m, mat in parts
            ]
    if rng.random() < 0.85:
        placed += build_clutter(rng, evaluation, pitch * (count / 2 + 0.3) + 40)
    return _assemble(seed, evaluation, placed, carbs, pitch, names, rng)


def _air_box(
    rng: np.random.Generator, carbs: list[PlacedCarb], pitch: float, evaluation: bool
) -> list[Placed]:
    """One long filter housing over both intakes."""
    mat = material.draw(rng, "filter", evaluation)
    depth, height = float(rng.uniform(60, 110)), float(rng.uniform(110, 170))
    x = max(c.style.flange_x for c in carbs) + 6 + depth / 2
    length = pitch * (len(carbs) - 1) + float(rng.uniform(130, 240))
    shell = box((depth, length, height), (x, 0, float(rng.uniform(-10, 20))), 26)
    nut = cylinder(9, 0, 8).moved(
        np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]]), (x + depth / 2, 0, 0)
    )
    return [(shell, mat), (nut, material.draw(rng, "screw", evaluation))]


def _wobble(points: Array, rng: np.random.Generator) -> Array:
    """Low-frequency random field in [-1, 1] over points (N, 3): stains and uneven ageing."""
    total = np.zeros(len(points))
    for wave in (0.02, 0.05, 0.13):
        k = rng.normal(0, wave, (3, 3))
        total += np.sin(points @ k + rng.uniform(0, 6.28, 3)).mean(1)
    return np.asarray(total / 1.5)


def _assemble(
    seed: int,
    evaluation: bool,
    placed: list[Placed],
    carbs: list[PlacedCarb],
    pitch: float,
    names: list[str],
    rng: np.random.Generator,
) -> Scene:
    mesh = merge([m for m, _ in placed])
    sizes = [len(m.vertices) for m, _ in placed]
    rgb = np.repeat(np.array([mat.rgb for _, mat in placed]), sizes, axis=0)
    rough = np.repeat(np.array([mat.roughness for _, mat in placed]), sizes)
    metal = np.repeat(np.array([mat.metallic for _, mat in placed]), sizes)
    shift = np.repeat(rng.uniform(0, 1, (len(placed), 2)), sizes, axis=0)
    age = float(rng.beta(1.2, 2.2))
    field_ = _wobble(mesh.vertices, rng)
    rgb = np.clip(rgb * (1 + 0.25 * age * field_[:, None]), 0.002, 0.95)
    rough = np.clip(rough + 0.22 * age * _wobble(mesh.vertices, rng), 0.06, 1)
    axis = np.argmax(np.abs(mesh.normals), axis=1)
    pick = np.array([[1, 2], [0, 2], [0, 1]])[axis]
    span = np.repeat(
        [np.clip(np.ptp(m.vertices, axis=0).max() * 0.8, 70, 900) for m, _ in placed], sizes
    )
    uv = np.take_along_axis(mesh.vertices, pick, axis=1) / span[:, None] + shift
    dirt = float(np.clip(rng.beta(1.1, 2.0), 0, 0.95))
    tone = np.array(
        [[0.10, 0.075, 0.05], [0.02, 0.018, 0.015], [0.22, 0.19, 0.15], [0.14, 0.08, 0.04]]
    )[rng.integers(4)]
    return Scene(
        seed,
        evaluation,
        mesh.vertices.astype(FLOAT),
        mesh.normals.astype(FLOAT),
        mesh.faces.astype(np.uint32),
        rgb.astype(FLOAT),
        rough.astype(FLOAT),
        metal.astype(FLOAT),
        uv.astype(FLOAT),
        carbs,
        pitch,
        dirt,
        (float(tone[0]), float(tone[1]), float(tone[2])),
        carbs[0].style.diameter if carbs else 70.0,
        names,
    )
