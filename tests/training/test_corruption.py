"""Corruptions: published severities, draws shared over severities, truth that follows."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from models.training.evaluation.corruption import KINDS, SEVERITIES, corrupt
from models.training.evaluation.truth_warp import occluded, warp_points, warped
from scipy.ndimage import gaussian_filter

SAMPLES = Path(__file__).parents[2] / "sample_images"
MOVING = ("crop", "tilt", "low_resolution")
COVERING = ("hose", "sticker")
SIZE = (750, 500)


@pytest.fixture(scope="module")
def truth() -> list[dict[str, Any]]:
    carbs = json.loads((SAMPLES / "three-hole-integral.truth.json").read_text())["carbs"]
    return [warped(c, np.diag([0.25, 0.25, 1.0]), (3000, 2000), SIZE) for c in carbs]


@pytest.fixture(scope="module")
def picture() -> np.ndarray:
    pixels = cv2.imread(str(SAMPLES / "three-hole-integral.jpg"))[..., ::-1]
    return np.ascontiguousarray(cv2.resize(pixels, SIZE, interpolation=cv2.INTER_AREA))


def test_fifteen_kinds_five_severities() -> None:
    assert len(KINDS) == 15
    assert SEVERITIES == (1, 2, 3, 4, 5)
    for severity in (0, 6):
        with pytest.raises(ValueError, match="severity is 1 to 5"):
            corrupt(np.zeros((4, 4, 3), np.uint8), [], "blur", severity, 0)


@pytest.mark.parametrize("kind", KINDS)
def test_a_seed_is_a_picture_and_worse_is_worse(kind: str, picture, truth) -> None:
    done = [corrupt(picture, truth, kind, s, 7) for s in SEVERITIES]
    again = corrupt(picture, truth, kind, 3, 7)
    np.testing.assert_array_equal(done[2].picture, again.picture)
    assert not np.array_equal(done[2].picture, corrupt(picture, truth, kind, 3, 8).picture) or (
        kind in ("blur", "jpeg", "low_resolution")  # nothing is drawn
        or kind == "colour_cast"  # one of two
    )
    for d in done:
        assert d.picture.dtype == np.uint8
        assert d.picture.flags.c_contiguous
        assert len(d.truth) == len(truth)
    if kind in ("crop", "low_resolution"):
        areas = [d.picture.size for d in done]
        assert areas == sorted(areas, reverse=True)
        return
    if kind == "fog":  # its pattern changes, too: see test_fog_leaves_what_is_published
        return
    away = [np.abs(d.picture.astype(float) - picture).mean() for d in done]
    assert away == sorted(away)
    assert away[0] > 0.2
    if kind not in MOVING + COVERING:
        assert all(d.truth == truth for d in done)


def spotted(truth: list[dict[str, Any]], where: tuple[int, int]) -> tuple[np.ndarray, list]:
    """A picture with one bright spot, and truth whose mark is that spot."""
    picture = np.zeros((500, 750, 3), np.uint8)
    x, y = where
    picture[y - 3 : y + 4, x - 3 : x + 4] = 255
    return picture, [{**truth[0], "mark": [x + 0.5, y + 0.5]}]


@pytest.mark.parametrize("kind", MOVING)
@pytest.mark.parametrize("severity", [1, 3, 5])
def test_truth_moves_with_the_picture(kind: str, severity: int, truth) -> None:
    for seed in range(4):
        picture, marked = spotted(truth, (380, 245))
        done = corrupt(picture, marked, kind, severity, seed)
        (carb,) = done.truth
        x, y = carb["mark"]
        h, w = done.picture.shape[:2]
        if not (8 < x < w - 8 and 8 < y < h - 8):
            continue
        rows, cols = np.nonzero(done.picture[..., 0] > 60)
        assert (cols.mean() + 0.5, rows.mean() + 0.5) == pytest.approx((x, y), abs=0.6)


def test_what_a_crop_cuts_off_is_not_seen(truth) -> None:
    picture = np.zeros((500, 750, 3), np.uint8)
    lost = 0
    for seed in range(6):
        done = corrupt(picture, truth, "crop", 5, seed)
        h, w = done.picture.shape[:2]
        assert (w, h) == (375, 250)
        for carb in done.truth:
            bolts = np.asarray(carb["bolts"])
            inside = (bolts > 0).all(1) & (bolts[:, 0] < w) & (bolts[:, 1] < h)
            assert (carb["bolt_seen"] > 0).tolist() == (
                inside & (np.asarray(truth[0]["bolt_seen"]) > 0)
            ).tolist()
            lost += int((~inside).sum())
    assert lost > 0


@pytest.mark.parametrize("kind", COVERING)
def test_what_is_covered_is_not_seen(kind: str, picture, truth) -> None:
    covered = open_ = 0
    for seed in range(12):
        done = corrupt(picture, truth, kind, 4, seed)
        changed = (done.picture != picture).any(2)
        for before, after in zip(truth, done.truth, strict=True):
            for i, (x, y) in enumerate(np.asarray(before["bolts"])):
                if changed[int(y), int(x)]:
                    covered += 1
                    assert after["bolt_seen"][i] == 0
                elif not changed[int(y) - 2 : int(y) + 3, int(x) - 2 : int(x) + 3].any():
                    open_ += 1
                    assert after["bolt_seen"][i] == before["bolt_seen"][i]
            assert after["seen"]["cover"] <= before["seen"]["cover"]
    assert covered > 5
    assert open_ > 20


def test_covering_everything_hides_everything(truth) -> None:
    got = occluded(truth[0], np.ones((500, 750), bool))
    assert max(got["seen"].values()) == 0
    assert occluded(truth[0], np.zeros((500, 750), bool))["seen"] == truth[0]["seen"]


def test_severities_as_published(picture) -> None:
    # ImageNet-C (Hendrycks and Dietterich 2019), from memory: noise 0.08 to 0.38, JPEG 25 to 7
    grey = np.full((200, 200, 3), 128, np.uint8)
    for severity, sigma in ((1, 0.08), (2, 0.12), (3, 0.18)):
        done = corrupt(grey, [], "noise", severity, 1).picture
        assert done.std() / 255 == pytest.approx(sigma, rel=0.03)
    for severity, quality in zip(SEVERITIES, (25, 18, 15, 10, 7), strict=True):
        _, data = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
        want = cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1]
        np.testing.assert_array_equal(corrupt(picture, [], "jpeg", severity, 0).picture, want)
    sides = [corrupt(picture, [], "low_resolution", s, 0).picture.shape[1] for s in SEVERITIES]
    assert sides == [450, 375, 300, 225, 188]


def test_fog_leaves_what_is_published() -> None:
    # ImageNet-C: (x + c · fog) / (1 + c) with c = 1.5 to 3, for a picture that reaches white
    dim, bright = (np.full((60, 80, 3), v, np.uint8) for v in (100, 150))
    dim[0, 0] = bright[0, 0] = 255
    for severity, c in zip(SEVERITIES, (1.5, 2.0, 2.5, 2.5, 3.0), strict=True):
        a, b = (corrupt(p, [], "fog", severity, 4).picture.astype(float) for p in (dim, bright))
        assert (b - a)[1:].mean() == pytest.approx(50 / (1 + c), abs=0.4)


def test_blur_is_scipys_gaussian(picture) -> None:
    done = corrupt(picture, [], "blur", 5, 0).picture
    sigma = 4.5 * 750 / 1280
    want = gaussian_filter(picture.astype(float), (sigma, sigma, 0), mode="mirror", truncate=5)
    assert np.abs(done - want).mean() < 0.6


def test_dark_loses_stops_of_light() -> None:
    grey = np.full((100, 100, 3), 200, np.uint8)
    light = (corrupt(grey, [], "dark", 1, 0).picture / 255.0) ** 2.2
    assert light.mean() == pytest.approx((200 / 255) ** 2.2 / 2, rel=0.03)


def test_motion_keeps_the_light_and_blurs_one_way() -> None:
    picture = np.zeros((201, 201, 3), np.uint8)
    picture[100, 100] = 255
    for seed in range(4):
        done = corrupt(np.repeat(np.repeat(picture, 1, 0), 1, 1), [], "motion", 5, seed).picture
        ys, xs = np.nonzero(done[..., 0])
        spread = np.linalg.eigvalsh(np.cov(np.stack([xs, ys]) + 0.0))
        assert len(xs) >= 3
        assert spread[1] > 3 * max(spread[0], 0.05)


def test_a_colour_cast_is_a_ratio_of_light() -> None:
    grey = np.full((10, 10, 3), 120, np.uint8)
    for seed in range(4):
        light = (corrupt(grey, [], "colour_cast", 5, seed).picture / 255.0) ** 2.2
        ratio = light[..., 0].mean() / light[..., 2].mean()
        assert max(ratio, 1 / ratio) == pytest.approx(2.0, rel=0.05)


def test_tilt_turns_by_the_stated_roll(truth) -> None:
    picture = np.zeros((500, 750, 3), np.uint8)
    done = corrupt(picture, truth, "tilt", 5, 3).truth[0]
    before, after = (np.asarray(t["keypoints"], float) for t in (truth[0], done))
    angle = [np.degrees(np.arctan2(*(k[3] - k[4])[::-1])) for k in (before, after)]
    assert abs(abs(angle[1] - angle[0]) - 30) < 6  # 30° of roll and some perspective
    assert warp_points([[1, 2]], np.eye(3)) == pytest.approx(np.array([[1, 2]]))


@pytest.mark.parametrize("ahead", [{"in_front": False}, {"in_frame": 0.0}])
@pytest.mark.parametrize("kind", ["hose", "sticker"])
def test_a_carb_not_in_the_picture_has_nothing_before_it(kind, ahead, picture, truth) -> None:
    # its box is where the projection puts it: nowhere
    away = [t | ahead | {"box": [755.6, -7e10, 1.4e11, 9.9e10]} for t in truth]
    done = corrupt(picture, away, kind, 3, 7)
    assert np.array_equal(done.picture, picture)
