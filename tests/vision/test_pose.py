"""Pose of a carb from its landmarks: projections made with SciPy's rotations come back."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from carbpair.geometry.homography import apply_homography
from carbpair.vision.landmarks import Landmarks
from carbpair.vision.pose import FIELD_OF_VIEW_DEG, PISTON, fit_pose, model, rotations
from carbpair.vision.rim import REFERENCE

SIZE = (1280, 960)
FOCAL = 640 / np.tan(np.radians(FIELD_OF_VIEW_DEG / 2))

# Camera axes right, down, forward for somebody who stands before the intake (looks along -x).
FACING = np.array([[0.0, 1, 0], [0, 0, -1], [-1, 0, 0]])


def seen(vector: tuple[float, float, float], centre: tuple[float, float, float]) -> np.ndarray:
    """Pixels (12, 2) of a piston carb turned by a rotation vector, at a place in rim radii."""
    turned = Rotation.from_rotvec(vector).as_matrix() @ FACING
    points = model(PISTON) @ turned.T + np.array(centre)
    return points[:, :2] / points[:, 2:] * FOCAL + np.array(SIZE) / 2


def landmarks(points: np.ndarray, confidence: float = 1.0) -> Landmarks:
    thirteen = np.vstack([points, [0.0, 0.0]])
    return Landmarks(
        thirteen, np.full(13, confidence), -9.0, -9.0, np.zeros(3), 1.0, 1.0, 1.0
    )  # fmt: skip


@pytest.mark.parametrize(
    ("vector", "centre"),
    [
        ((0.5, 0.0, 0.0), (0.0, 0.0, 12.0)),
        ((0.6, 0.3, 0.1), (2.0, -1.0, 9.0)),
        ((1.2, -0.4, 0.05), (-3.0, 1.0, 20.0)),
    ],
)
def test_a_carb_seen_without_error_is_found(vector, centre) -> None:
    points = seen(vector, centre)
    marks = landmarks(points)
    pose = fit_pose(marks, marks.points, SIZE)
    assert pose is not None
    assert pose.rotation == pytest.approx(
        Rotation.from_rotvec(vector).as_matrix() @ FACING, abs=1e-3
    )
    assert pose.proportions == pytest.approx(PISTON, abs=1e-2)
    assert np.exp(pose.centre[2]) == pytest.approx(centre[2], rel=1e-2)
    plane = pose.plane()
    assert apply_homography(plane.homography, REFERENCE) == pytest.approx(points[:5], abs=0.2)
    assert plane.up == pytest.approx(points[5] - points[0], abs=0.2)


def test_it_errs_less_than_the_rims_points_alone() -> None:
    rng = np.random.default_rng(5)
    alone, whole = [], []
    for _ in range(40):
        vector = (float(rng.uniform(0.4, 1.1)), float(rng.normal(0, 0.4)), 0.0)
        points = seen(vector, (0.5, 0.2, 12.0))
        radius = FOCAL / 12
        noisy = points + rng.normal(0, 0.08 * radius, points.shape)
        pose = fit_pose(landmarks(noisy), np.vstack([noisy, [0, 0]]), SIZE)
        assert pose is not None
        fitted = apply_homography(pose.plane().homography, REFERENCE)
        whole.append(np.linalg.norm(fitted - points[:5], axis=1).mean() / radius)
        alone.append(np.linalg.norm(noisy[:5] - points[:5], axis=1).mean() / radius)
    assert np.mean(whole) < 0.8 * np.mean(alone)


def test_the_refiners_confidence_weighs_its_points() -> None:
    points = seen((0.6, 0.3, 0.1), (0.5, 0.2, 12.0))
    wrong = points.copy()
    wrong[6] += (60.0, 40.0)  # the cap's top
    doubt = np.ones(12)
    doubt[6] = 0.0
    errors = []
    for refined in (None, np.ones(12), doubt):
        marks = replace(landmarks(wrong), refined=refined)
        pose = fit_pose(marks, marks.points, SIZE)
        assert pose is not None
        fitted = apply_homography(pose.plane().homography, REFERENCE)
        errors.append(np.linalg.norm(fitted - points[:5], axis=1).mean())
    assert errors[0] == pytest.approx(errors[1])
    assert errors[2] < 0.6 * errors[0]


def test_points_on_one_spot_or_line_have_no_pose() -> None:
    spot = np.full((12, 2), 100.0)
    assert fit_pose(landmarks(spot), np.vstack([spot, [0, 0]]), SIZE) is None
    line = np.stack([np.arange(12.0), 2 * np.arange(12.0)], 1)
    assert fit_pose(landmarks(line), np.vstack([line, [0, 0]]), SIZE) is None


def test_rodrigues_formula_against_scipy() -> None:
    vectors = np.array([[0.0, 0, 0], [0.3, -0.2, 0.9], [2.0, 1.0, -1.5]])
    assert rotations(vectors) == pytest.approx(Rotation.from_rotvec(vectors).as_matrix())
