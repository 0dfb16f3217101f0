"""Views of one carb made by plain camera formulas, and landmarks to go with them.

Carb units: rim radius 1. View pixels: 384 a side, the carb's rim centre in the middle.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbpair.vision.crop import SIZE, Crop
from carbpair.vision.landmarks import KEYPOINTS, Landmarks

Array = NDArray[np.float64]
Project = Callable[[Array], Array]

THROAT_X, THROAT_Z, THROAT_R = 1.4, -1.1, 0.45


@dataclass(frozen=True)
class Camera:
    """Pinhole at `distance` rim radii; azimuth from the intake towards its viewer's right (+y)."""

    azimuth: float = 0.0
    elevation: float = 30.0
    distance: float = 12.0
    pixels: float = 70.0
    roll: float = 0.0

    @property
    def towards(self) -> Array:
        a, e = np.radians(self.azimuth), np.radians(self.elevation)
        return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])

    def axes(self) -> Array:
        """Rows right, down and forward in carb axes."""
        forward = -self.towards
        right = np.cross(forward, [0.0, 0.0, 1.0])
        right /= np.linalg.norm(right)
        down = np.cross(forward, right)
        c, s = np.cos(np.radians(self.roll)), np.sin(np.radians(self.roll))
        return np.stack([c * right - s * down, s * right + c * down, forward])

    def project(self, points: Array) -> Array:
        """View pixels (N, 2) of carb points (N, 3)."""
        local = (np.asarray(points, float) - self.distance * self.towards) @ self.axes().T
        return local[:, :2] / local[:, 2:] * self.pixels * self.distance + SIZE / 2


def carb_points(bowl: float = 1.5) -> Array:
    """The thirteen landmarks in carb axes, in the order of KEYPOINTS."""
    x, z, r = THROAT_X, THROAT_Z, THROAT_R
    return np.array([
        [0, 0, 0], [1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, 1.2],
        [x, 0, z], [x, r, z], [x, -r, z], [x, 0, z + r], [x, 0, z - r], [0, bowl, z],
    ], float)  # fmt: skip


def landmarks(
    project: Project,
    *,
    diaphragm: float = -8.0,
    filtered: float = -8.0,
    hand: tuple[float, float, float] = (-8.0, -8.0, 8.0),
    bowl_readable: float = 0.95,
    flange_readable: float = 0.95,
    mark_readable: float = 0.95,
) -> Landmarks:
    """Landmarks exactly where the camera shows them; answers as logits and chances."""
    return Landmarks(
        project(carb_points()), np.ones(len(KEYPOINTS)), diaphragm, filtered,
        np.array(hand), bowl_readable, flange_readable, mark_readable,
    )  # fmt: skip


def blank(scale: float = 0.5) -> Crop:
    """A grey view of a photograph, `scale` view pixels to the photo pixel."""
    return Crop(np.full((SIZE, SIZE, 3), 90, np.uint8), (400.0, 300.0), scale)


def pixel_centres() -> Array:
    """Coordinates (384, 384, 2) of the view's pixel centres."""
    c = np.arange(SIZE) + 0.5
    return np.stack(np.meshgrid(c, c), -1)


def homography_of(project: Project, origin: Array, first: Array, second: Array) -> Array:
    """Plane (u, v) to view pixels, from four points by the plain linear system (h33 = 1)."""
    uv = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], float)
    xy = project(origin + uv[:, :1] * first + uv[:, 1:] * second)
    rows = []
    for (u, v), (x, y) in zip(uv, xy, strict=True):
        rows.append([u, v, 1, 0, 0, 0, -u * x, -v * x])
        rows.append([0, 0, 0, u, v, 1, -u * y, -v * y])
    h = np.linalg.solve(np.array(rows), xy.ravel())
    return np.append(h, 1.0).reshape(3, 3)


def on_plane(h: Array) -> Array:
    """Plane coordinates (384, 384, 2) of every view pixel."""
    at = np.concatenate([pixel_centres(), np.ones((SIZE, SIZE, 1))], -1) @ np.linalg.inv(h).T
    return np.asarray(at[..., :2] / at[..., 2:])
