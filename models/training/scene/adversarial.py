"""Scenes made to mislead: nine kinds of forty, each a pure function of its seed.

Styles, materials and outlines come from the evaluation side. Every kind has one trap, named in
``KINDS``; the view is drawn so that the trap is in the picture. A reader passes when each answer
that it gives is right; staying silent is never wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from . import material
from .camera import View, look
from .material import Material
from .mesh import Array, Mesh, spline, tube
from .scene import FLOAT, Scene, build_scene
from .style import Style, draw, partner_of

FIRST_SEED = 911_000
SEEDS_A_KIND = 40
SEED_STEP = 100

KINDS = {
    "vents_beside_bolts": "vents nearly as large as bolt holes, between them or close beside them",
    "studs_in_holes": "a stud, bolt or screw in every hole",
    "hose_over_a_hole": "a hose before one bolt hole of each carb",
    "mark_near_180": "the marks point away from the intake, 170 to 190 degrees",
    "same_side_bowls": "both bowls on the same side of their carb",
    "single_carb": "one carb alone: left or right cannot be known",
    "three_carbs": "three in a row: neither is the pair's left nor its right",
    "mirror_image": "the picture is turned left to right",
    "picture_of_a_picture": "a photograph of a print or of a screen",
}


@dataclass(frozen=True)
class Case:
    """One adversarial photograph before light and phone: what stands there, seen from where."""

    seed: int
    kind: str
    scene: Scene
    view: View


def seeds_of(kind: str) -> range:
    """The forty seeds of a kind."""
    first = FIRST_SEED + SEED_STEP * list(KINDS).index(kind)
    return range(first, first + SEEDS_A_KIND)


def all_seeds() -> list[int]:
    """Every seed of every kind, the kinds taking turns so that a run cut short has all of them."""
    return [seeds_of(kind)[i] for i in range(SEEDS_A_KIND) for kind in KINDS]


def kind_of(seed: int) -> str:
    """The kind that a seed belongs to. Raises ValueError for a seed of none."""
    number, rest = divmod(seed - FIRST_SEED, SEED_STEP)
    if not 0 <= number < len(KINDS) or rest >= SEEDS_A_KIND:
        raise ValueError(f"{seed} is no adversarial seed ({FIRST_SEED} and on)")
    return list(KINDS)[number]


def build_case(seed: int, size: tuple[int, int] = (640, 480), attempt: int = 0) -> Case:
    """Scene and view of an adversarial seed; another attempt is another view of the same scene."""
    kind = kind_of(seed)
    rng = np.random.default_rng([seed, 15485863])
    styles = STYLES[kind](rng, seed % SEED_STEP)
    scene = build_scene(seed, True, styles=styles, filtered=(False,) * len(styles))
    rng = np.random.default_rng([seed, 32452843, attempt])
    view = draw_front_view(scene, kind, rng, seed % SEED_STEP, size)
    if kind == "hose_over_a_hole":
        for carb in range(len(scene.carbs)):
            scene = hose_before_a_hole(scene, view, carb, rng)
    return Case(seed, kind, scene, view)


def _drawn(rng: np.random.Generator, wanted: Callable[[Style], bool] = lambda s: True) -> Style:
    """A style of the evaluation side that is as wanted."""
    while not wanted(style := draw(rng, True)):
        pass
    return style


def _pair(rng: np.random.Generator, first: Style, **changes: Any) -> list[Style]:
    """The style and its matching partner with a mirrored bowl."""
    changes.setdefault("bowl_hand", -first.bowl_hand)
    return [first, partner_of(rng, first, **changes)]


def _plain(rng: np.random.Generator, i: int) -> list[Style]:
    return _pair(rng, _drawn(rng))


def _vents(rng: np.random.Generator, i: int) -> list[Style]:
    """Even numbers: vents half-way between the bolts; odd ones: 26 to 42 degrees beside them."""
    first = _drawn(rng, lambda s: s.hole_count in (2, 3))
    beside = float(rng.uniform(26, 42)) * float(rng.choice([-1, 1]))
    offset = beside if i % 2 else 180.0 / first.hole_count
    first = replace(
        first,
        vents=first.hole_count,
        vent_angle=first.pattern_angle + offset,
        vent_ratio=float(rng.uniform(1.34, 1.6)),
        vent_size=float(rng.uniform(0.6, 0.85)),
        bolt_radius_ratio=float(rng.uniform(1.8, 2.05)),
    )
    return _pair(rng, first)


def _studs(rng: np.random.Generator, i: int) -> list[Style]:
    first = _drawn(rng)
    out = []
    for style in _pair(rng, first):
        one = str(rng.choice(["stud", "bolt", "screw"]))
        mixed = rng.choice(["stud", "bolt", "screw"], first.hole_count)
        fills = tuple(str(f) for f in mixed) if i % 3 == 0 else (one,) * first.hole_count
        out.append(replace(style, hole_fill=fills))
    return out


def _turned_marks(rng: np.random.Generator, i: int) -> list[Style]:
    bearings = [float(-((-b + 180) % 360 - 180)) for b in rng.uniform(170, 190, 2)]
    first = replace(_drawn(rng), mark_bearing=bearings[0])
    out = _pair(rng, first)
    return [out[0], replace(out[1], mark_bearing=bearings[1])]


def _same_side(rng: np.random.Generator, i: int) -> list[Style]:
    hand = 1 if i % 2 else -1
    first = replace(_drawn(rng, lambda s: s.bowl_hand != 0), bowl_hand=hand)
    return _pair(rng, first, bowl_hand=hand)


def _single(rng: np.random.Generator, i: int) -> list[Style]:
    return [_drawn(rng)]


def _three(rng: np.random.Generator, i: int) -> list[Style]:
    first = _drawn(rng)
    return [*_pair(rng, first), partner_of(rng, first)]


STYLES: dict[str, Callable[[np.random.Generator, int], list[Style]]] = {
    "vents_beside_bolts": _vents,
    "studs_in_holes": _studs,
    "hose_over_a_hole": _plain,
    "mark_near_180": _turned_marks,
    "same_side_bowls": _same_side,
    "single_carb": _single,
    "three_carbs": _three,
    "mirror_image": _plain,
    "picture_of_a_picture": _plain,
}


def draw_front_view(
    scene: Scene, kind: str, rng: np.random.Generator, i: int, size: tuple[int, int]
) -> View:
    """A view with every carb in frame: from the intake's side, for marks also from above."""
    d, count = scene.scale_hint, len(scene.carbs)
    azimuth, elevation = float(rng.normal(0, 20)), float(rng.uniform(4, 44))
    if kind == "mark_near_180" and i % 2:
        elevation = float(rng.uniform(52, 84))
    most = min(0.3, 0.8 / ((scene.pitch / d) * (count - 1) + 1.7))
    fraction = float(np.exp(rng.uniform(np.log(0.55 * most), np.log(most))))
    fov = float(rng.uniform(42, 68))
    focal = size[0] / 2 / np.tan(np.radians(fov / 2))
    a, e = np.radians(azimuth), np.radians(elevation)
    direction = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    target = np.array([0.0, 0.0, 0.1 * d])
    # Measured from the flanges, which stand nearer than the dashpots.
    distance = focal * d / (fraction * size[0]) + 0.7 * d
    origin = target + direction * distance
    rotation = look(origin, target, float(rng.normal(0, 5)))
    shift = rng.uniform(-0.03, 0.03, 2) * np.asarray(size)
    centre = (size[0] / 2 + float(shift[0]), size[1] / 2 + float(shift[1]))
    return View(origin, rotation, float(focal), centre, size)


def hose_before_a_hole(scene: Scene, view: View, carb: int, rng: np.random.Generator) -> Scene:
    """The scene with a hose on the line from the lens to one bolt hole of a carb."""
    placed = scene.carbs[carb]
    bolts = placed.landmarks["bolts"]
    hole = bolts[rng.integers(len(bolts))]
    radius = placed.style.throat_radius * placed.style.hole_radius_ratio
    towards = (view.origin - hole) / np.linalg.norm(view.origin - hole)
    middle = hole + towards * float(rng.uniform(22, 45))
    outward = hole - placed.landmarks["throat"][0]
    along = np.cross(towards, outward)
    along /= np.linalg.norm(along)
    lean = outward / np.linalg.norm(outward) * float(rng.uniform(-0.3, 0.3))
    along = (along + lean) / np.linalg.norm(along + lean)
    reach = float(rng.uniform(50, 90))
    bend = outward / np.linalg.norm(outward) * float(rng.uniform(0, 12))
    path = spline([middle - along * reach + bend, middle, middle + along * reach + bend], 24)
    hose = tube(path, float(rng.uniform(1.5, 2.0)) * radius, 16)
    return with_part(scene, hose, material.draw(rng, "hose", True))


def with_part(scene: Scene, part: Mesh, surface: Material) -> Scene:
    """The scene and one more solid of one material."""
    count, start = len(part.vertices), len(scene.vertices)

    def more(name: str, values: Array) -> Any:
        old = getattr(scene, name)
        return np.concatenate([old, values.astype(old.dtype)])

    axis = np.argmax(np.abs(part.normals), axis=1)
    pick = np.array([[1, 2], [0, 2], [0, 1]])[axis]
    return replace(
        scene,
        vertices=more("vertices", part.vertices),
        normals=more("normals", part.normals),
        faces=np.concatenate([scene.faces, (part.faces + start).astype(np.uint32)]),
        colour=more("colour", np.tile(np.asarray(surface.rgb, FLOAT), (count, 1))),
        roughness=more("roughness", np.full(count, surface.roughness)),
        metallic=more("metallic", np.full(count, surface.metallic)),
        uv=more("uv", np.take_along_axis(part.vertices, pick, axis=1) / 120.0),
    )
