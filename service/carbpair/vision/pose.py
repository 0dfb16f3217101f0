"""A carb's pose from its landmarks all at once, with what is known of such carbs' proportions.

The rim's five points alone leave its plane to their errors. Here one pinhole view of one rigid
carb has to explain rim, cap and throat together: the throat tells where the intake points, the cap
how the axis leans. Proportions are unknown but not free: they are drawn to their usual values.
Gauss-Newton on twelve points and four proportions; about 2 ms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbpair.geometry.homography import apply_homography
from carbpair.vision.landmarks import Landmarks, sigmoid
from carbpair.vision.rim import RimPlane

Array = NDArray[np.float64]

PISTON = np.array([1.27, -0.98, 0.405, 1.59])
DIAPHRAGM = np.array([1.14, -0.89, 0.37, 0.80])
"""Throat's centre before and below the rim's, throat radius, cap's top above the rim: all in rim
radii. Means over 400 drawn styles of the training renders (models/training/scene/style.py)."""

SPREAD = np.array([0.24, 0.17, 0.06, 0.24])
"""One and a half times their standard deviations: real carbs may differ more than drawn ones."""

POINT_SPREAD = np.array([6.5, 9, 11, 10, 10, 7.5, 8, 5.5, 6, 5.5, 6, 6]) / 100
"""Median error of each landmark in rim radii, on 270 calibration renders."""

FIELD_OF_VIEW_DEG = 57.0
"""Across the picture's longer side: the middle of common phone lenses. It sets perspective only."""

STEPS = 8
DAMPING = 1e-3
NUDGE = 1e-5


@dataclass(frozen=True, slots=True)
class Pose:
    """Rotation (carb axes to camera: right, down, forward), rim's centre, proportions.

    `centre` is (x / depth, y / depth, log depth) in rim radii; `proportions` as in PISTON.
    """

    rotation: Array
    centre: Array
    proportions: Array
    focal: float
    middle: Array

    def plane(self) -> RimPlane:
        """The rim's plane in photo pixels, as the landmarks alone would give it."""
        depth = np.exp(self.centre[2])
        at = np.array([self.centre[0] * depth, self.centre[1] * depth, depth])
        k = np.array([
            [self.focal, 0, self.middle[0]], [0, self.focal, self.middle[1]], [0, 0, 1]
        ])  # fmt: skip
        h = k @ np.stack([self.rotation[:, 0], self.rotation[:, 1], at], 1)
        top = k @ (self.rotation[:, 2] + at)
        base = apply_homography(h, np.zeros((1, 2)))[0]
        return RimPlane(h / h[2, 2], top[:2] / top[2] - base)


def model(proportions: Array) -> Array:
    """The twelve landmarks (..., 12, 3) about the rim's centre, in rim radii."""
    x, z, r, cap = np.moveaxis(proportions, -1, 0)
    out = np.zeros((*proportions.shape[:-1], 12, 3))
    out[..., 1:6, :] = [[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1]]
    out[..., 6, 2] = cap
    out[..., 7:12, 0] = x[..., None]
    out[..., 7:12, 2] = z[..., None]
    out[..., 8, 1], out[..., 9, 1] = r, -r
    out[..., 10, 2] += r
    out[..., 11, 2] -= r
    return out


def rotations(vectors: Array) -> Array:
    """Rotation matrices (N, 3, 3) of rotation vectors (N, 3), by Rodrigues' formula."""
    angle = np.linalg.norm(vectors, axis=1)[:, None, None]
    axis = vectors / np.maximum(angle[:, 0], 1e-12)
    cross = np.zeros((len(vectors), 3, 3))
    cross[:, [0, 1, 2], [1, 2, 0]] = -axis[:, [2, 0, 1]]
    cross[:, [1, 2, 0], [0, 1, 2]] = axis[:, [2, 0, 1]]
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross)


def fit_pose(marks: Landmarks, photo_points: Array, size: tuple[int, int]) -> Pose | None:
    """The pose that explains the landmarks, or None where they explain none.

    `photo_points` (13, 2): the landmarks in pixels of the photograph of `size` (width, height).
    """
    points = np.asarray(photo_points[:12], np.float64)
    focal = max(size) / 2 / np.tan(np.radians(FIELD_OF_VIEW_DEG / 2))
    middle = np.array(size, np.float64) / 2
    axes = np.stack(
        [(points[1] - points[2]) / 2, (points[3] - points[4]) / 2, points[5] - points[0]], 1
    )
    u, s, v = np.linalg.svd(axes, full_matrices=False)
    if not np.isfinite(s).all() or s[1] < max(1e-3 * s[0], 1e-6):
        return None
    rows = u @ v
    start = np.stack([rows[0], rows[1], np.cross(rows[0], rows[1])])
    chance = sigmoid(marks.diaphragm)
    usual = (1 - chance) * PISTON + chance * DIAPHRAGM
    weight = np.sqrt(np.clip(marks.weights, 0.05, 1)) / (POINT_SPREAD * s[:2].mean())
    theta = np.concatenate([
        np.zeros(3), (points[0] - middle) / focal, [np.log(focal / s.mean())], usual
    ])  # fmt: skip

    def residuals(sets: Array) -> Array:
        """(N, 28) of parameter sets (N, 10)."""
        x = model(sets[:, 6:]) @ np.swapaxes(rotations(sets[:, :3]) @ start, 1, 2)
        depth = np.exp(sets[:, 5])
        at = np.stack([sets[:, 3] * depth, sets[:, 4] * depth, depth], 1)
        x = x + at[:, None]
        seen = x[..., :2] / np.maximum(x[..., 2:], 1e-3) * focal + middle
        off = (seen - points) * weight[:, None]
        return np.concatenate([off.reshape(len(sets), -1), (sets[:, 6:] - usual) / SPREAD], 1)

    steps = np.vstack([np.zeros(10), NUDGE * np.eye(10)])
    best, least = theta, np.inf
    for _ in range(STEPS):
        r = residuals(theta + steps)
        cost = float(r[0] @ r[0])
        if not np.isfinite(cost):
            break
        if cost < least:
            best, least = theta, cost
        jacobian = ((r[1:] - r[0]) / NUDGE).T
        normal = jacobian.T @ jacobian
        normal[np.diag_indices(10)] *= 1 + DAMPING
        theta = theta - np.linalg.solve(normal, jacobian.T @ r[0])
    if not np.isfinite(least):
        return None
    return Pose(rotations(best[None, :3])[0] @ start, best[3:6], best[6:], float(focal), middle)
