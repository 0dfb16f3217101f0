"""Truth moved with its picture, against the scene's own projection from a moved camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from models.training.evaluation.truth_warp import local_scale, mirrored, warp_points, warped
from models.training.scene.camera import View, look
from models.training.scene.mesh import rotation
from models.training.scene.scene import build_scene
from models.training.scene.style import draw
from models.training.scene.truth import carb_truth
from skimage.transform import ProjectiveTransform

from carbpair.vision.locator import overlap

SIZE = (1000, 800)


@pytest.fixture(scope="module")
def scene():
    first, second = (draw(np.random.default_rng([seed, 1])) for seed in range(2))
    styles = [replace(first, partner_bearing=25.0), replace(second, partner_bearing=None)]
    return build_scene(4, styles=styles, filtered=(False, False))


@pytest.fixture(scope="module")
def view() -> View:
    target = np.array([0.0, 0.0, 20.0])
    origin = target + np.array([800.0, 100.0, 400.0])
    return View(origin, look(origin, target, 0.0), 1500.0, (500.0, 400.0), SIZE)


def truth(scene, view: View, number: int = 0) -> dict:
    carb = scene.carbs[number]
    return carb_truth(carb, view, {k: np.ones(len(v), bool) for k, v in carb.surface.items()})


def test_points_agree_with_scikit_image() -> None:
    m = np.array([[1.1, 0.1, 5], [-0.05, 0.9, 3], [1e-4, -2e-4, 1]])
    p = np.array([[3.0, 4], [100, 20], [7, 900]])
    assert warp_points(p, m) == pytest.approx(ProjectiveTransform(m)(p))
    assert local_scale((3, 4), np.diag([2.0, 2.0, 1.0])) == pytest.approx(2.0)


@pytest.mark.parametrize("x0", [0.0, 180.0, 330.0])
def test_a_crop_is_the_cropped_views_truth(scene, view: View, x0: float) -> None:
    want = truth(scene, view.cropped(x0, 100.0, 500.0, 500))
    crop = np.array([[1, 0, -x0], [0, 1, -100], [0, 0, 1.0]])
    got = warped(truth(scene, view), crop, SIZE, (500, 500))
    for name in ("keypoints", "bolts", "vents", "mark", "partner", "box"):
        assert np.asarray(got[name]) == pytest.approx(np.asarray(want[name]), abs=0.01), name
    for name in ("in_frame", "mark_px", "rim_px", "facing"):
        assert got[name] == pytest.approx(want[name], abs=0.02, rel=0.01), name
    for name, share in want["seen"].items():
        assert got["seen"][name] == pytest.approx(share, abs=0.35), name
        if share in (0.0, 1.0) and not name.startswith("bolt"):
            assert got["seen"][name] == pytest.approx(share, abs=0.2), name


@pytest.mark.parametrize(("roll", "pitch"), [(15.0, 0.0), (-30.0, 8.0)])
def test_a_turned_camera_is_a_homography(scene, view: View, roll: float, pitch: float) -> None:
    turn = rotation("x", pitch) @ rotation("z", roll)  # camera axes: right, down, forward
    turned = replace(view, rotation=turn @ view.rotation)
    k = np.array([[1500.0, 0, 500], [0, 1500, 400], [0, 0, 1]])
    got = warped(truth(scene, view), k @ turn @ np.linalg.inv(k), SIZE, SIZE)
    want = truth(scene, turned)
    for name in ("keypoints", "bolts", "mark", "partner"):
        assert np.asarray(got[name]) == pytest.approx(np.asarray(want[name]), abs=0.05), name
    assert overlap(tuple(got["box"]), tuple(want["box"])) > 0.75
    # a diagonal of a box around a few points turns with the picture: only about the same
    assert got["mark_px"] == pytest.approx(want["mark_px"], rel=0.25)


def test_a_mirror_swaps_left_and_right_and_the_sense_of_the_bearing(scene, view: View) -> None:
    before = [truth(scene, view, i) for i in range(2)]
    after = [mirrored(t, SIZE) for t in before]
    for a, b in zip(after, before, strict=True):
        assert a["hand"] == -b["hand"]
        assert a["mark_bearing"] == -b["mark_bearing"]
        assert a["mark"][0] == pytest.approx(SIZE[0] - b["mark"][0])
        assert a["keypoints"][3][0] == pytest.approx(SIZE[0] - b["keypoints"][4][0])
        assert a["keypoints"][3][0] > a["keypoints"][4][0]  # rim_right stays on the right
        assert a["flange_holes"] == b["flange_holes"]
    assert [t["partner_bearing"] for t in after] == [-25.0, None]
    assert after[0]["partner"][0] == pytest.approx(SIZE[0] - before[0]["partner"][0])
    assert after[1]["partner"] is None
    left, right = sorted(after, key=lambda t: t["y"])
    assert left["keypoints"][0][0] < right["keypoints"][0][0]
    # twice mirrored is the same
    twice = mirrored(after[0], SIZE)
    assert twice["keypoints"] == pytest.approx(before[0]["keypoints"], abs=1e-6)
    assert twice["hand"] == before[0]["hand"]


def test_what_leaves_the_frame_is_not_seen(scene, view: View) -> None:
    away = np.array([[1, 0, 5000.0], [0, 1, 0], [0, 0, 1]])
    got = warped(truth(scene, view), away, SIZE, SIZE)
    assert got["in_frame"] == 0
    assert max(got["seen"].values()) == 0
    assert got["bolt_seen"].max() == 0
