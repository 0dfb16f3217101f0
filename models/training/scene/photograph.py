"""Render a scene as a training or evaluation photograph with crops and truth."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..render import Renderer
from .camera import View, draw_low_direction, draw_view
from .mesh import Array
from .phone import Phone, develop, draw_phone
from .scene import Scene
from .truth import Flags, carb_truth

CROP = 384
CROP_SIDE = 1.9
"""Side of a reader's crop over the longer side of the carb's box."""

SEEDS, STRIDE = 256, 32
"""Sampler seeds kept for one scene, and for each of its views."""

CLOSEUP = 448
CLOSEUP_SIDE = 1.6
"""Side of a close-up over the longer side of the box of the carb's twelve landmarks."""

RIM = 288
RIM_SIDE = 1.5
"""Side of a rim's window over the longer side of the box of the rim's five landmarks: what the rim
reader unrolls, at two fifths of a close-up's pixels."""

MARK_SEEN, KEEP_UNMARKED = 0.34, 0.6
"""Close-ups whose mark is hidden are needed, but not as many as come up."""

SLACK_MM = 1.2
"""A surface's point counts as seen if nothing is farther before it than this."""

HIDDEN_TRIES = 8
"""Stands tried for a view in which a carb is partly hidden; where none is found, none is made."""

HALF_HIDDEN, LEAST_SEEN = 0.5, 0.15
"""A cover of which less is seen is mostly hidden, and the least to be found by: 46 of the 71 carbs
that earlier networks missed in 2,200 pictures of an evaluation set since retired, at a dashpot of
4 % of the width or more, were mostly hidden."""

COVER_ALONE, BARELY = 0.72, 0.03
"""A cover that shows no more, and of the body and the flange so little, stands behind a panel."""

ONE_BEFORE_THE_OTHER = 0.2
"""Boxes of two carbs that share this much (intersection over union) stand one before the other."""

LEAST_RIM_PX = 24
"""A smaller rim in the phone's picture shows neither mark nor holes."""

PHONE_WIDTHS = (900, 3600)
"""Width in pixels of the phone's picture that a crop is cut from: what a small carb is enlarged
from, noise, sharpening and JPEG included."""


def draw_lamp(rng: np.random.Generator, view: View, evaluation: bool) -> tuple[Array, Array] | None:
    """Flash beside the lens, a lamp in the bay, or a hard sun; none in most photographs."""
    u = rng.random()
    warm = np.array([1.0, rng.uniform(0.75, 1.0), rng.uniform(0.5, 1.0)])
    dist = float(np.linalg.norm(view.origin))
    if u < 0.18:
        at = (
            view.origin
            + view.rotation[0] * rng.uniform(-25, 25)
            + view.rotation[1] * rng.uniform(-40, 10)
        )
        return at, np.ones(3) * dist**2 * rng.uniform(1.5, 14)
    if u < 0.30:
        at = np.array([rng.uniform(-300, 700), rng.uniform(-700, 700), rng.uniform(150, 800)])
        return at, warm * float(at @ at) * rng.uniform(1.5, 10)
    if u < 0.42:
        a, e = rng.uniform(0, 2 * np.pi), rng.uniform(0.35, 1.4)
        at = 30000 * np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
        return at, np.array([1.0, 0.95, 0.85]) * 9e8 * rng.uniform(3, 14)
    return None


def see(renderer: Renderer, scene: Scene, view: View) -> list[dict[str, Any]]:
    """Truth of every carb of a scene in a view."""
    names = [(i, k) for i, c in enumerate(scene.carbs) for k in c.surface if len(c.surface[k])]
    if not names:
        return []
    pts = np.concatenate([scene.carbs[i].surface[k] for i, k in names])
    vis = renderer.visible(view.origin, pts, np.full(len(pts), SLACK_MM))
    ends = np.cumsum([len(scene.carbs[i].surface[k]) for i, k in names])
    per: list[dict[str, Flags]] = [{k: np.zeros(0, bool) for k in c.surface} for c in scene.carbs]
    for (i, k), chunk in zip(names, np.split(vis, ends[:-1]), strict=True):
        per[i][k] = chunk
    return [carb_truth(c, view, per[i]) for i, c in enumerate(scene.carbs)]


def stored(
    phone: Phone,
    linear: NDArray[np.float32],
    native: float,
    size: int,
    rng: np.random.Generator,
) -> NDArray[np.uint8]:
    """A square crop (size, size, 3) as cut from a stored picture in which it was ``native`` wide.

    The phone works at the stored picture's own scale; a smaller crop is enlarged afterwards, as
    the readers do it.
    """
    n = int(np.clip(round(native), 24, size))
    small = cv2.resize(linear, (n, n), interpolation=cv2.INTER_AREA) if n != len(linear) else linear
    picture = develop(phone, np.ascontiguousarray(small, np.float32), rng)
    if n == size:
        return picture
    big = cv2.resize(picture, (size, size), interpolation=cv2.INTER_LINEAR)
    return np.asarray(big, np.uint8)


def readable(t: dict[str, Any], least_px: float) -> bool:
    """Whether a crop of this carb teaches anything: in front, mostly in frame, not covered."""
    side = max(t["box"][2] - t["box"][0], t["box"][3] - t["box"][1])
    return bool(
        t["in_front"] and t["in_frame"] >= 0.45 and t["seen"]["cover"] >= 0.12 and side >= least_px
    )


def photograph(
    renderer: Renderer,
    scene: Scene,
    env: NDArray[np.float32],
    spp: tuple[int, int, int, int] = (8, 12, 12, 0),
    crops: bool = True,
    size: tuple[int, int] = (640, 480),
    passes: int = 1,
    views: int = 2,
    hidden_views: int = 0,
) -> dict[str, Any]:
    """One photograph of a scene, crops of its carbs and close-ups of them; a seed fixes all.

    With crops come ``others``, further photographs of the same scene with windows of their own: a
    scene takes as long to build as a view of it to render. The last ``hidden_views`` of them are
    taken from where carbs are partly hidden. ``spp``: samples a pixel of the photograph, the
    carbs' crops, their close-ups and their rims' windows (0: none of the kind are made).
    """
    rng = np.random.default_rng([scene.seed, 31 if scene.evaluation else 37])
    view = draw_view(scene, rng, size)
    renderer.load(scene, env, rng, draw_lamp(rng, view, scene.evaluation))
    truth = see(renderer, scene, view)
    for _ in range(3):  # a panel right before the lens teaches nothing
        if not truth or max(t["seen"]["cover"] for t in truth) > 0.1:
            break
        view = draw_view(scene, rng, size)
        truth = see(renderer, scene, view)
    first = scene.seed * SEEDS
    linear = renderer.mean(view, 0, spp[0], [first + 8 * k for k in range(passes)])
    phone = draw_phone(rng, linear, scene.evaluation)
    out = _row(scene, develop(phone, linear, rng), truth)
    if not crops:
        return out
    _add_windows(out, renderer, view, phone, spp, first + 1, rng)
    out["others"] = []
    for k in range(1, views + hidden_views):
        if k < views:
            view, truth = another_view(renderer, scene, size, rng)
        elif (found := hidden_view(renderer, scene, size, rng)) is not None:
            view, truth = found
        else:
            continue
        if not any(readable(t, 18) for t in truth):
            continue
        own = first + STRIDE * k
        linear = renderer.render(view, 0, spp[0], own + 24)
        phone = draw_phone(rng, linear, scene.evaluation)
        other = _row(scene, develop(phone, linear, rng), truth)
        _add_windows(other, renderer, view, phone, spp, own, rng)
        out["others"].append(other)
    return out


def _row(scene: Scene, photo: NDArray[np.uint8], truth: list[dict[str, Any]]) -> dict[str, Any]:
    return {"seed": scene.seed, "photo": photo, "carbs": truth} | {
        kind: [] for kind in ("crops", "closeups", "rims")
    }


def _add_windows(
    row: dict[str, Any],
    renderer: Renderer,
    view: View,
    phone: Phone,
    spp: tuple[int, int, int, int],
    seed: int,
    rng: np.random.Generator,
) -> None:
    """Windows of a photograph's carbs, each with a phone picture's width of its own."""
    for i, t in enumerate(row["carbs"]):
        if not readable(t, 18):
            continue
        if spp[1]:
            enlarge = _enlargement(view, rng)
            side0 = max(t["box"][2] - t["box"][0], t["box"][3] - t["box"][1])
            side = float(side0 * CROP_SIDE * np.exp(rng.normal(0, 0.09)))
            mid = (t["box"][:2] + t["box"][2:]) / 2 + rng.normal(0, 0.04, 2) * side0
            how = (CROP, 1, spp[1], seed + i)
            row["crops"].append(_window(renderer, view, (i, mid, side, enlarge), phone, how, rng))
        if spp[2] and (enlarge := _worth_reading(t, view, rng)):
            where = _around(i, t["keypoints"][:12], CLOSEUP_SIDE, enlarge, rng)
            how = (CLOSEUP, 2, spp[2], seed + 10 + i)
            row["closeups"].append(_window(renderer, view, where, phone, how, rng))
        if spp[3] and (enlarge := _worth_reading(t, view, rng)):
            where = _around(i, t["keypoints"][:5], RIM_SIDE, enlarge, rng)
            how = (RIM, 3, spp[3], seed + 20 + i)
            row["rims"].append(_window(renderer, view, where, phone, how, rng))


def _worth_reading(t: dict[str, Any], view: View, rng: np.random.Generator) -> float:
    """The phone picture's width over the view's, or 0 where a close-up is left out."""
    enlarge = _enlargement(view, rng)
    hidden = t["seen"]["mark"] < MARK_SEEN and rng.random() > KEEP_UNMARKED
    return 0.0 if hidden or t["rim_px"] * enlarge < LEAST_RIM_PX else enlarge


def _around(
    carb: int, points: Array, factor: float, enlarge: float, rng: np.random.Generator
) -> tuple[int, Array, float, float]:
    """A window about landmarks, a little beside and larger or smaller, as ``_window`` takes it."""
    low, high = points.min(0), points.max(0)
    side = float((high - low).max())
    wide = float(side * factor * np.exp(rng.normal(0, 0.05)))
    return carb, (low + high) / 2 + rng.normal(0, 0.02, 2) * side, wide, enlarge


def _enlargement(view: View, rng: np.random.Generator) -> float:
    return float(np.exp(rng.uniform(*np.log(PHONE_WIDTHS)))) / view.size[0]


def _window(
    renderer: Renderer,
    view: View,
    where: tuple[int, Array, float, float],
    phone: Phone,
    how: tuple[int, int, int, int],
    rng: np.random.Generator,
) -> dict[str, Any]:
    """A square of the view. ``where``: carb, middle, side, enlargement; ``how``: pixels, sensor,
    samples, seed."""
    carb, mid, side, enlarge = where
    pixels, sensor, spp, seed = how
    x0, y0 = float(mid[0] - side / 2), float(mid[1] - side / 2)
    rendered = renderer.render(view.cropped(x0, y0, side, pixels), sensor, spp, seed)
    native = min(side * enlarge, pixels)
    return {
        "carb": carb,
        "window": (x0, y0, side),
        "native": native / pixels,
        "picture": stored(phone, rendered, native, pixels, rng),
    }


def another_view(
    renderer: Renderer, scene: Scene, size: tuple[int, int], rng: np.random.Generator
) -> tuple[View, list[dict[str, Any]]]:
    """A second stand of the phone, preferably one from which a mark is seen."""
    for _ in range(5):
        view = draw_view(scene, rng, size)
        truth = see(renderer, scene, view)
        if any(readable(t, 18) and t["seen"]["mark"] > 0.4 for t in truth) or rng.random() < 0.12:
            break
    return view, truth


def hidden_view(
    renderer: Renderer, scene: Scene, size: tuple[int, int], rng: np.random.Generator
) -> tuple[View, list[dict[str, Any]]] | None:
    """A stand of the phone from which a carb is partly hidden; None where none was found."""
    for _ in range(HIDDEN_TRIES):
        view = draw_view(scene, rng, size, direction=draw_low_direction(rng))
        truth = see(renderer, scene, view)
        if partly_hidden([t for t in truth if readable(t, 18)]):
            return view, truth
    return None


def partly_hidden(carbs: list[dict[str, Any]]) -> bool:
    """Whether one of the carbs that can be found hides behind something or another of them."""
    seen = [t for t in carbs if t["seen"]["cover"] >= LEAST_SEEN]
    if any(_behind_something(t["seen"]) for t in seen):
        return True
    return any(
        box_overlap(a["box"], b["box"]) > ONE_BEFORE_THE_OTHER
        for i, a in enumerate(seen)
        for b in seen[i + 1 :]
    )


def _behind_something(seen: dict[str, float]) -> bool:
    alone = max(seen["body"], seen["flange"]) < BARELY
    return seen["cover"] < (COVER_ALONE if alone else HALF_HIDDEN)


def box_overlap(a: Array, b: Array) -> float:
    """Intersection over union of two boxes (x0, y0, x1, y1), as the locator reckons it.

    Scenes know nothing of the networks that read them, so that rendering needs no reader.
    """
    low, high = np.maximum(a[:2], b[:2]), np.minimum(a[2:], b[2:])
    common = float(np.prod(np.maximum(high - low, 0)))
    whole = float(np.prod(a[2:] - a[:2]) + np.prod(b[2:] - b[:2]))
    return common / (whole - common)
