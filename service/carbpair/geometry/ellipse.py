"""Ellipses: conic coefficients, axes, least-squares fit and the image of a circle.

Angles are in degrees from the +x axis towards +y, so clockwise as seen in an image.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from carbpair.geometry.angles import axis_difference_deg


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse by centre, semi-axes and direction of the major axis.

    `semi_major` ≥ `semi_minor` > 0 in the units of the plane (pixels in an image);
    `angle_deg` in [0, 180) is the direction of the major axis.
    """

    cx: float
    cy: float
    semi_major: float
    semi_minor: float
    angle_deg: float

    @property
    def axis_ratio(self) -> float:
        """Minor over major axis, in (0, 1]; the cosine of the tilt if this is a circle's image."""
        return self.semi_minor / self.semi_major

    @property
    def area(self) -> float:
        """Enclosed area."""
        return math.pi * self.semi_major * self.semi_minor

    def as_tuple(self) -> tuple[float, float, float, float, float]:
        """(cx, cy, semi_major, semi_minor, angle_deg)."""
        return (self.cx, self.cy, self.semi_major, self.semi_minor, self.angle_deg)

    def points(self, count: int = 64) -> NDArray[np.float64]:
        """`count` points on the ellipse, shape (count, 2), from the major axis' end onwards."""
        t = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
        cos_a, sin_a = _cos_sin(self.angle_deg)
        u = self.semi_major * np.cos(t)
        v = self.semi_minor * np.sin(t)
        return np.stack([self.cx + u * cos_a - v * sin_a, self.cy + u * sin_a + v * cos_a], axis=1)

    def normalised_radius(self, points: ArrayLike) -> NDArray[np.float64]:
        """Radius of each point (N, 2) in units of the ellipse: 1 on it, below 1 inside; (N,)."""
        offset = np.asarray(points, dtype=np.float64) - (self.cx, self.cy)
        cos_a, sin_a = _cos_sin(self.angle_deg)
        u = offset[..., 0] * cos_a + offset[..., 1] * sin_a
        v = -offset[..., 0] * sin_a + offset[..., 1] * cos_a
        return np.asarray(np.hypot(u / self.semi_major, v / self.semi_minor))


def make_ellipse(cx: float, cy: float, first: float, second: float, angle_deg: float) -> Ellipse:
    """Build an ellipse from semi-axes in either order; `angle_deg` is `first`'s direction.

    Raises ValueError unless both semi-axes are positive and finite.
    """
    if not (math.isfinite(first) and math.isfinite(second) and min(first, second) > 0.0):
        raise ValueError(f"an ellipse needs two positive semi-axes, got {first} and {second}")
    if first < second:
        first, second, angle_deg = second, first, angle_deg + 90.0
    angle = angle_deg % 180.0
    return Ellipse(
        float(cx), float(cy), float(first), float(second), 0.0 if angle >= 180 else angle
    )


def ellipse_to_conic(ellipse: Ellipse) -> NDArray[np.float64]:
    """(A, B, C, D, E, F) of A x² + B xy + C y² + D x + E y + F = 0, scaled to unit norm, A > 0.

    Source: standard conic algebra, Q = R diag(1/a², 1/b²) Rᵀ about the centre.
    """
    cos_a, sin_a = _cos_sin(ellipse.angle_deg)
    inv_a2, inv_b2 = ellipse.semi_major**-2, ellipse.semi_minor**-2
    a = inv_a2 * cos_a**2 + inv_b2 * sin_a**2
    b = 2.0 * (inv_a2 - inv_b2) * cos_a * sin_a
    c = inv_a2 * sin_a**2 + inv_b2 * cos_a**2
    x, y = ellipse.cx, ellipse.cy
    d = -2.0 * a * x - b * y
    e = -b * x - 2.0 * c * y
    f = a * x * x + b * x * y + c * y * y - 1.0
    conic = np.array([a, b, c, d, e, f])
    return np.asarray(conic / np.linalg.norm(conic))


def conic_to_ellipse(conic: ArrayLike) -> Ellipse:
    """Inverse of `ellipse_to_conic`; the coefficients (6,) may have any scale and sign.

    Raises ValueError if the conic is no real ellipse (a parabola, hyperbola, point or empty).
    """
    a, b, c, d, e, f = (float(v) for v in np.asarray(conic, dtype=np.float64))
    quadratic = np.array([[a, b / 2.0], [b / 2.0, c]])
    if 4.0 * a * c - b * b <= 0.0:
        raise ValueError("these conic coefficients describe no ellipse (4AC − B² ≤ 0)")
    centre = np.linalg.solve(2.0 * quadratic, [-d, -e])
    level = -(f + 0.5 * (d * centre[0] + e * centre[1]))
    values, vectors = np.linalg.eigh(quadratic / level) if level else (np.zeros(2), np.eye(2))
    if level == 0.0 or values.min() <= 0.0:
        raise ValueError("these conic coefficients describe no real ellipse")
    axes = 1.0 / np.sqrt(values)
    angle = math.degrees(math.atan2(vectors[1, 0], vectors[0, 0]))
    return make_ellipse(centre[0], centre[1], axes[0], axes[1], angle)


def fit_ellipse(points: ArrayLike) -> Ellipse:
    """Least-squares ellipse through at least 5 points, shape (N, 2).

    Uses OpenCV's direct method (Fitzgibbon, Pilu and Fisher 1999), which cannot return a
    hyperbola. Raises ValueError for fewer than 5 points or points on a line.
    """
    array = np.asarray(points, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] != 2 or len(array) < 5:
        raise ValueError("an ellipse fit needs at least 5 points of shape (N, 2)")
    centre = array.mean(axis=0)
    spread = np.linalg.svd(array - centre, compute_uv=False)
    if not np.isfinite(spread).all() or spread[1] <= 1e-6 * max(spread[0], 1e-300):
        raise ValueError("an ellipse fit needs points that do not lie on one line")
    # OpenCV works in single precision: take out position and size first.
    scale = float(spread[0]) / math.sqrt(len(array))
    normed = ((array - centre) / scale).astype(np.float32)
    (x, y), (width, height), angle = cv2.fitEllipseDirect(normed)
    return make_ellipse(
        x * scale + centre[0], y * scale + centre[1], width * scale / 2, height * scale / 2, angle
    )


def circle_image(centre: ArrayLike, u: ArrayLike, v: ArrayLike) -> Ellipse:
    """Ellipse {centre + cos t · u + sin t · v}: the image of a circle under an affine camera.

    `centre`, `u`, `v` are 2-vectors; u and v are the images of two perpendicular radii.
    Raises ValueError if u and v are parallel (the circle is seen edge on).
    """
    c = np.asarray(centre, dtype=np.float64)
    matrix = np.stack([np.asarray(u, dtype=np.float64), np.asarray(v, dtype=np.float64)], axis=1)
    left, sizes, _ = np.linalg.svd(matrix)
    if sizes[1] <= 1e-9 * max(sizes[0], 1e-300):
        raise ValueError("the circle is seen edge on: its image is a line, not an ellipse")
    angle = math.degrees(math.atan2(left[1, 0], left[0, 0]))
    return make_ellipse(c[0], c[1], sizes[0], sizes[1], angle)


def same_ellipse(first: Ellipse, second: Ellipse, tolerance: float) -> bool:
    """True if centre and semi-axes agree within `tolerance` and, unless round, the axis too."""
    close = (
        math.hypot(first.cx - second.cx, first.cy - second.cy) <= tolerance
        and abs(first.semi_major - second.semi_major) <= tolerance
        and abs(first.semi_minor - second.semi_minor) <= tolerance
    )
    swing = math.radians(axis_difference_deg(first.angle_deg, second.angle_deg))
    return close and swing * (first.semi_major - first.semi_minor) <= tolerance


def _cos_sin(angle_deg: float) -> tuple[float, float]:
    radians = math.radians(angle_deg)
    return math.cos(radians), math.sin(radians)
