"""Read where the alignment mark on the cover's rim points, as a distribution over bearings.

The rim's landmarks give the plane of the cover's rim; the rim is unrolled from the close-up into a
strip whose columns are bearings from the air intake, so that a mark looks the same wherever it
points.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbpair.geometry.homography import apply_homography, fit_homography
from carbpair.vision.crop import Crop, sample
from carbpair.vision.landmarks import Landmarks

WIDTH, HEIGHT, MARGIN = 720, 48, 36
"""Columns of a full turn, rows, and columns added at either end."""

TOP_ROWS, TOP_RADII = 19, (0.82, 1.12)
"""Rows over the rim's top, and the first and the last one's radius in rim radii."""

BIN_DEG = 2.0
START_DEG = -180.0

REFERENCE = np.array([[0.0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]])
"""Rim centre, front, back, right and left in the carb's (x, y), rim radii."""


@dataclass(frozen=True, slots=True)
class RimPlane:
    """Homography from the rim's (x, y) in rim radii to view pixels, and one radius up the axis."""

    homography: NDArray[np.float64]
    up: NDArray[np.float64]

    def axes(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Centre, and the images of the unit x and y at the centre (view pixels)."""
        e = 0.05
        c, x, y = apply_homography(self.homography, np.array([[0.0, 0], [e, 0], [0, e]]))
        return c, (x - c) / e, (y - c) / e


def plane_of(marks: Landmarks) -> RimPlane | None:
    """The rim's plane, or None if its points fit none."""
    try:
        h = fit_homography(REFERENCE, marks.points[:5])
    except ValueError:
        return None
    return RimPlane(h, marks.point("rim_axis") - marks.point("rim"))


def diameter(marks: Landmarks) -> float:
    """The rim's longer diameter in view pixels."""
    return max(
        float(np.linalg.norm(marks.point("rim_front") - marks.point("rim_back"))),
        float(np.linalg.norm(marks.point("rim_right") - marks.point("rim_left"))),
    )


def bearings() -> NDArray[np.float64]:
    """Bearing of each column of the strip, degrees, margin included (792,)."""
    columns = np.arange(WIDTH + 2 * MARGIN) - MARGIN + 0.5
    return np.asarray(START_DEG + columns * 360 / WIDTH, np.float64)


def unroll(crop: Crop, plane: RimPlane) -> NDArray[np.float32]:
    """The strip with its viewing channels as the rim reader takes it: float32 (6, 48, 792)."""
    b = np.radians(bearings())
    radius = np.r_[np.linspace(*TOP_RADII, TOP_ROWS), 1.03]  # the side's rows all hang from 1.03
    height = np.linspace(0.06, -0.34, HEIGHT - TOP_ROWS)
    unit = np.stack([np.cos(b), -np.sin(b)], -1)
    flat = (radius[:, None, None] * unit[None]).reshape(-1, 2)
    top = apply_homography(plane.homography, flat).reshape(-1, len(b), 2)
    top = np.nan_to_num(top, nan=-1e4, posinf=1e4, neginf=-1e4)
    below = [top[-1, :, k] + height[:, None] * plane.up[k] for k in (0, 1)]
    at = np.concatenate([top[:-1], np.stack(below, -1)])
    out = np.empty((6, HEIGHT, len(b)), np.float32)
    out[:3] = (sample(crop, at) - 127.0) / 128.0
    out[3:] = viewing(plane, b)[:, None]
    return out


def viewing(plane: RimPlane, b: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, N): how squarely each bearing faces the camera, its elevation, the sideways part."""
    d = towards_camera(plane)
    facing = d[0] * np.cos(b) - d[1] * np.sin(b)
    side = -d[0] * np.sin(b) - d[1] * np.cos(b)
    return np.stack([facing, np.full_like(b, d[2]), side])


def towards_camera(plane: RimPlane) -> NDArray[np.float64]:
    """Unit vector (carb axes) to the camera, by the affine view at the rim's centre."""
    _, ux, uy = plane.axes()
    d = np.cross([ux[1], uy[1], plane.up[1]], [ux[0], uy[0], plane.up[0]])
    return np.asarray(d / max(float(np.linalg.norm(d)), 1e-9))


def faces_camera(plane: RimPlane, bearing_deg: float) -> bool:
    """Whether the rim's side at a bearing is turned towards the camera."""
    return bool(viewing(plane, np.radians([bearing_deg]))[0, 0] >= 0)


def bin_bearings() -> NDArray[np.float64]:
    """Centre of each of the 180 bins, degrees."""
    return np.asarray(START_DEG + BIN_DEG * np.arange(180) + BIN_DEG / 2, np.float64)
