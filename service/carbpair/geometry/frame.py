"""A carburettor's own axes as an affine camera shows them.

Carb axes: x out of the air intake, z up the dashpot, y = z × x, the right of a viewer who
faces the intake. Bearings lie in a plane z = h, seen from above, from the intake direction,
clockwise positive: the viewer's left (−y) is at +90°.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from carbpair.geometry.angles import wrap_deg

Array = NDArray[np.float64]
Vector = tuple[float, float]

EDGE_ON_RATIO = 0.05
"""Below this minor-to-major ratio (tilt above 87°) a plane's directions cannot be read."""


@dataclass(frozen=True, slots=True)
class CarbFrame:
    """Image point = c + X·ux + Y·uy + Z·uz, all in pixels (per unit of X, Y, Z)."""

    c: Vector
    ux: Vector
    uy: Vector
    uz: Vector

    @property
    def matrix(self) -> Array:
        """Columns ux, uy, uz; shape (2, 3)."""
        return np.array([self.ux, self.uy, self.uz], dtype=np.float64).T

    def project(self, points: ArrayLike) -> Array:
        """Image points (N, 2) of carb points (N, 3)."""
        return np.asarray(np.asarray(points, dtype=np.float64) @ self.matrix.T + self.c)

    def as_json(self) -> dict[str, list[float]]:
        """The frame as plain lists, for an inspection's evidence."""
        return {"c": [*self.c], "ux": [*self.ux], "uy": [*self.uy], "uz": [*self.uz]}


def fit_frame(carb_points: ArrayLike, image_points: ArrayLike) -> CarbFrame:
    """Least-squares frame from at least 4 carb points (N, 3), not all in one plane.

    Raises ValueError for too few points or points in one plane.
    """
    carb = np.asarray(carb_points, dtype=np.float64)
    image = np.asarray(image_points, dtype=np.float64)
    if carb.ndim != 2 or carb.shape[1] != 3 or image.shape != (len(carb), 2) or len(carb) < 4:
        raise ValueError(
            "a carb frame needs at least 4 carb points (N, 3) with image points (N, 2)"
        )
    centre = carb.mean(axis=0)
    spread = np.linalg.svd(carb - centre, compute_uv=False)
    if spread[2] <= 1e-9 * max(float(spread[0]), 1e-300):
        raise ValueError("a carb frame needs points that do not all lie in one plane")
    design = np.column_stack([carb - centre, np.ones(len(carb))])
    solution = np.linalg.lstsq(design, image, rcond=None)[0]
    origin = solution[3] - centre @ solution[:3]
    return CarbFrame(_vector(origin), *(_vector(axis) for axis in solution[:3]))


def bearing_of_point(frame: CarbFrame, point: ArrayLike, height: float = 0.0) -> float:
    """Bearing in degrees, in (−180, 180], of an image point that lies in the plane z = height.

    Raises ValueError if that plane is seen edge on or the point is its centre.
    """
    x, y = plane_coordinates(frame, point, height)
    if math.hypot(x, y) < 1e-12:
        raise ValueError("the point is the circle's centre and has no bearing")
    return wrap_deg(-math.degrees(math.atan2(y, x)))


def plane_coordinates(frame: CarbFrame, point: ArrayLike, height: float = 0.0) -> Vector:
    """(X, Y) of an image point in the plane z = height. Raises ValueError if edge on."""
    if foreshortening(frame.ux, frame.uy) < EDGE_ON_RATIO:
        raise ValueError("the plane is seen edge on: no direction can be read in it")
    offset = np.asarray(point, dtype=np.float64) - frame.c - height * np.asarray(frame.uz)
    x, y = np.linalg.solve(frame.matrix[:, :2], offset)
    return float(x), float(y)


def point_at_bearing(
    frame: CarbFrame, bearing_deg: float, radius: float = 1.0, height: float = 0.0
) -> Vector:
    """Image point on the circle of `radius` in the plane z = height at a bearing."""
    angle = math.radians(bearing_deg)
    carb = [[radius * math.cos(angle), -radius * math.sin(angle), height]]
    return _vector(frame.project(carb)[0])


def foreshortening(first: ArrayLike, second: ArrayLike) -> float:
    """Minor over major axis of the ellipse that a circle spanned by two image axes makes."""
    sizes = np.linalg.svd(np.array([first, second], dtype=np.float64), compute_uv=False)
    return float(sizes[1] / sizes[0]) if sizes[0] > 0.0 else 0.0


def towards_viewer(frame: CarbFrame) -> tuple[float, float, float]:
    """Unit vector towards the viewer in carb axes, if the picture is not mirrored.

    x > 0: the intake's face is in view; z > 0: the top is in view. A frame read from a
    mirrored picture gives the opposite vector, so an intake and a top that were SEEN but
    have x < 0 and z < 0 here prove the picture mirrored. Raises ValueError for a flat frame.
    """
    row_x, row_y = frame.matrix
    away = np.cross(row_x, row_y)
    length = float(np.linalg.norm(away))
    if length <= 1e-12 * max(float(np.abs(frame.matrix).max()) ** 2, 1e-300):
        raise ValueError("this frame is flat and tells no viewing direction")
    x, y, z = (-away / length).tolist()
    return float(x), float(y), float(z)


def view_angles_deg(frame: CarbFrame) -> tuple[float, float]:
    """Bearing of the viewer in (−180, 180] and elevation above the carb in [−90, 90], degrees."""
    x, y, z = towards_viewer(frame)
    return wrap_deg(-math.degrees(math.atan2(y, x))), math.degrees(
        math.asin(max(-1.0, min(1.0, z)))
    )


def third_axes(first: ArrayLike, second: ArrayLike) -> tuple[Vector, Vector]:
    """Both possible images of the axis perpendicular to a plane, for equal units on all axes.

    From the images of the plane's two unit axes, for a scaled orthographic camera M with
    M Mᵀ = s² I: the third column squares to s² I minus the plane's part, and its sign is the
    two-fold ambiguity that something outside the plane must resolve.
    """
    plane = np.array([first, second], dtype=np.float64).T
    values, vectors = np.linalg.eigh(plane @ plane.T)
    axis = math.sqrt(max(0.0, float(values[1] - values[0]))) * vectors[:, 0]
    return _vector(axis), _vector(-axis)


def _vector(values: ArrayLike) -> Vector:
    x, y = np.asarray(values, dtype=np.float64).tolist()
    return float(x), float(y)
