"""Affine and projective maps of the plane from point pairs.

An affine map is a (2, 3) array, a homography a (3, 3) array with lower right element 1;
points are (N, 2).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def fit_affine(source: ArrayLike, target: ArrayLike) -> Array:
    """Least-squares affine map (2, 3) from at least 3 point pairs.

    Raises ValueError for too few pairs or if the source points lie on one line.
    """
    src, dst = _pairs(source, target, 3, "an affine map")
    centre, scale = _normalisation(src, "an affine map")
    design = np.column_stack([(src - centre) / scale, np.ones(len(src))])
    solution = np.linalg.lstsq(design, dst, rcond=None)[0].T
    linear = solution[:, :2] / scale
    return np.column_stack([linear, solution[:, 2] - linear @ centre])


def fit_homography(source: ArrayLike, target: ArrayLike) -> Array:
    """Homography (3, 3) from at least 4 point pairs by the normalised direct linear transform.

    Source: Hartley and Zisserman, Multiple View Geometry, 2nd ed., algorithm 4.2.
    Raises ValueError for too few pairs or a degenerate configuration (three of four points
    on a line).
    """
    src, dst = _pairs(source, target, 4, "a homography")
    src_norm, dst_norm = _similarity(src), _similarity(dst)
    x, y = apply_homography(src_norm, src).T
    u, v = apply_homography(dst_norm, dst).T
    zero, one = np.zeros_like(x), np.ones_like(x)
    rows_u = np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u])
    rows_v = np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v])
    # full_matrices: with exactly four pairs the null vector is the ninth right vector.
    _, sizes, right = np.linalg.svd(np.concatenate([rows_u, rows_v]), full_matrices=True)
    if sizes[7] <= 1e-9 * sizes[0]:
        raise ValueError("a homography needs four points of which no three lie on one line")
    matrix = np.linalg.inv(dst_norm) @ right[8].reshape(3, 3) @ src_norm
    if abs(np.linalg.det(matrix / np.abs(matrix).max())) < 1e-14 or matrix[2, 2] == 0.0:
        raise ValueError("these point pairs give no invertible homography")
    return np.asarray(matrix / matrix[2, 2])


def apply_affine(matrix: ArrayLike, points: ArrayLike) -> Array:
    """Map points (N, 2) by an affine (2, 3)."""
    m = np.asarray(matrix, dtype=np.float64)
    return np.asarray(np.asarray(points, dtype=np.float64) @ m[:, :2].T + m[:, 2])


def apply_homography(matrix: ArrayLike, points: ArrayLike) -> Array:
    """Map points (N, 2) by a homography (3, 3); points on its horizon become infinite."""
    pts = np.asarray(points, dtype=np.float64)
    mapped = np.column_stack([pts, np.ones(len(pts))]) @ np.asarray(matrix, dtype=np.float64).T
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(mapped[:, :2] / mapped[:, 2:])


def invert_affine(matrix: ArrayLike) -> Array:
    """Inverse of an affine (2, 3). Raises ValueError if it has none."""
    m = np.asarray(matrix, dtype=np.float64)
    if abs(np.linalg.det(m[:, :2])) <= 1e-12 * np.abs(m[:, :2]).max() ** 2:
        raise ValueError("this affine map squashes the plane to a line and has no inverse")
    linear = np.linalg.inv(m[:, :2])
    return np.column_stack([linear, -linear @ m[:, 2]])


def compose_affine(second: ArrayLike, first: ArrayLike) -> Array:
    """Affine (2, 3) that applies `first`, then `second`."""
    outer, inner = np.asarray(second, dtype=np.float64), np.asarray(first, dtype=np.float64)
    linear = outer[:, :2] @ inner[:, :2]
    return np.column_stack([linear, outer[:, :2] @ inner[:, 2] + outer[:, 2]])


def _pairs(source: ArrayLike, target: ArrayLike, least: int, what: str) -> tuple[Array, Array]:
    src, dst = np.asarray(source, dtype=np.float64), np.asarray(target, dtype=np.float64)
    if src.shape != dst.shape or src.ndim != 2 or src.shape[1] != 2 or len(src) < least:
        raise ValueError(f"{what} needs at least {least} point pairs of shape (N, 2)")
    if not (np.isfinite(src).all() and np.isfinite(dst).all()):
        raise ValueError(f"{what} needs finite coordinates")
    return src, dst


def _normalisation(points: Array, what: str) -> tuple[Array, float]:
    centre = points.mean(axis=0)
    spread = np.linalg.svd(points - centre, compute_uv=False)
    if spread[1] <= 1e-9 * max(float(spread[0]), 1e-300):
        raise ValueError(f"{what} needs points that do not lie on one line")
    return centre, float(spread[0])


def _similarity(points: Array) -> Array:
    centre, _ = _normalisation(points, "a homography")
    mean_distance = float(np.hypot(*(points - centre).T).mean())
    scale = np.sqrt(2.0) / mean_distance
    return np.array([[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1]])
