"""Where the phone stands: pinhole views of a scene, from the whole bay to a close-up."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .mesh import Array
from .scene import Scene


@dataclass(frozen=True)
class View:
    """Pinhole camera; rotation rows: right, down, forward in world axes; pixel centres at +0.5."""

    origin: Array
    rotation: Array
    focal: float
    centre: tuple[float, float]
    size: tuple[int, int]

    def project(self, points: Array) -> tuple[Array, Array]:
        """World points (N, 3) to pixels (N, 2) and depth (N,), millimetres."""
        local = (points - self.origin) @ self.rotation.T
        depth = np.maximum(local[:, 2], 1e-6)
        xy = local[:, :2] / depth[:, None] * self.focal + np.asarray(self.centre)
        return xy, local[:, 2]

    def cropped(self, x0: float, y0: float, side: float, pixels: int) -> View:
        """The square crop (x0, y0, side) of this photograph, seen with ``pixels`` pixels a side."""
        k = pixels / side
        return replace(
            self,
            focal=self.focal * k,
            centre=((self.centre[0] - x0) * k, (self.centre[1] - y0) * k),
            size=(pixels, pixels),
        )


def look(origin: Array, target: Array, roll_deg: float) -> Array:
    """Camera rotation that looks at a target with the horizon turned by ``roll_deg``."""
    f = (target - origin) / np.linalg.norm(target - origin)
    up = np.array([0.0, 0.0, 1.0]) if abs(f[2]) < 0.985 else np.array([-1.0, 0.0, 0.0])
    r = np.cross(f, up)
    r /= np.linalg.norm(r)
    d = np.cross(f, r)
    a = np.radians(roll_deg)
    return np.stack([np.cos(a) * r + np.sin(a) * d, -np.sin(a) * r + np.cos(a) * d, f])


def draw_direction(rng: np.random.Generator) -> Array:
    """Unit vector from the pair to the camera: mostly in front of the intakes and above."""
    u = rng.random()
    if u < 0.72:
        az, el = rng.normal(0, 32), rng.uniform(2, 62)
    elif u < 0.86:
        az, el = rng.uniform(-180, 180), rng.uniform(55, 89)
    elif u < 0.95:
        az, el = rng.choice([-1, 1]) * rng.uniform(50, 115), rng.uniform(5, 55)
    else:
        az, el = rng.uniform(110, 250), rng.uniform(15, 65)
    a, e = np.radians(az), np.radians(el)
    return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])


def draw_low_direction(rng: np.random.Generator) -> Array:
    """Unit vector to a camera held low: one carb before the other, or a panel before both."""
    if rng.random() < 0.55:
        az, el = rng.choice([-1, 1]) * rng.uniform(45, 110), rng.uniform(3, 38)
    else:
        az, el = rng.normal(0, 35), rng.uniform(0, 16)
    a, e = np.radians(az), np.radians(el)
    return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])


def draw_view(
    scene: Scene,
    rng: np.random.Generator,
    size: tuple[int, int] = (640, 480),
    fraction: float | None = None,
    direction: Array | None = None,
) -> View:
    """A photograph of a scene; ``fraction`` is the dashpot's width over the picture's width.

    ``direction``: unit vector from the pair to the camera; drawn if not given.
    """
    d = scene.scale_hint
    count = max(len(scene.carbs), 1)
    if fraction is None:
        top = 0.42 if rng.random() < 0.35 else 0.26
        fraction = float(np.exp(rng.uniform(np.log(0.028), np.log(top))))
    fov = float(rng.uniform(42, 72))
    focal = size[0] / 2 / np.tan(np.radians(fov / 2))
    distance = focal * d / (fraction * size[0])
    if direction is None:
        direction = draw_direction(rng)
    span = fraction * (scene.pitch / d) * (count - 1)
    target = np.array([0.0, 0.0, 0.25 * d])
    if count > 1 and (span > 0.62 or rng.random() < 0.14):
        chosen = scene.carbs[rng.integers(count)]
        target = np.array(
            [0.0, chosen.y * (1.0 if span > 0.9 else rng.uniform(0.6, 1.0)), 0.25 * d]
        )
    origin = target + direction * max(distance, 1.6 * d)
    turn = (
        float(rng.normal(0, 6))
        if direction[2] < 0.9
        else float(rng.choice([0, 90, 180, -90]) + rng.normal(0, 15))
    )
    rot = look(origin, target, turn)
    free = max(0.0, 0.5 - 0.5 * span - 0.9 * fraction)
    shift = (
        rng.uniform(-1, 1, 2)
        * np.array([free * size[0], max(0.0, 0.5 - 1.1 * fraction * size[0] / size[1]) * size[1]])
        * 0.9
    )
    return View(origin, rot, focal, (size[0] / 2 + shift[0], size[1] / 2 + shift[1]), size)
