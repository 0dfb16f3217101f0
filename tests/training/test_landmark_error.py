"""Errors of landmarks before and after the refiner, on a picture whose carb is where it is said."""

from __future__ import annotations

import json
from pathlib import Path
from unittest.mock import patch

import cv2
import numpy as np
import pytest
from models.training.evaluation import landmark_error
from models.training.evaluation.landmark_error import RefinedCarb, median, read_picture, table

from carbpair.vision import closeup
from tests.vision.test_carb import PICTURE, cross, networks


@pytest.mark.parametrize(("n", "low", "high"), [(10, 2, 9), (20, 6, 15), (50, 18, 33), (5, 1, 5)])
def test_the_median_and_the_ranks_of_its_interval(n: int, low: int, high: int) -> None:
    # Ranks as tabulated for 95 %: Conover, Practical Nonparametric Statistics, 3rd ed., section 3.2
    values = np.random.default_rng(1).permutation(np.arange(1.0, n + 1))
    assert median(values) == ((n + 1) / 2, low, high)


def test_the_table_says_how_many_and_who_is_nearer() -> None:
    good = RefinedCarb(np.full(12, 0.1), np.full(12, 0.05), 0.02, 0.9, True)
    lost = RefinedCarb(np.full(12, 0.1), np.full(12, 2.0), 0.9, 0.1, False)
    lines = table([good, good, lost])
    assert lines[0].startswith("3 carbs")
    assert "0.100 (0.100 to 0.100)  0.050 (0.050 to 2.000)" in lines[1]
    assert "refiner kept: 66.7 % (20.8–93.8), 2/3" in lines
    assert "rim nearer the truth after it: 66.7 % (20.8–93.8), 2/3" in lines


@pytest.mark.parametrize(("down", "kept"), [(0, True), (19, False)])
def test_a_picture_is_read_and_the_guard_is_seen_through(
    tmp_path: Path, down: int, kept: bool
) -> None:
    path = tmp_path / "0.png"
    cv2.imwrite(str(path), PICTURE)
    finer = np.roll(cross(8)[:12], down, axis=1)  # that many cells
    stubs = networks(np.array([[80, 60]]), cross(8), finer)
    limits = (closeup.FARTHEST, closeup.LEAST_CERTAINTY, closeup.refined)
    # The locator's box is 32 pixels about (322, 242); the reader sees 1.9 of it in 64 cells.
    cell = 1.9 * 32 / 64
    points = np.stack(np.unravel_index(cross(8).reshape(13, -1).argmax(1), (64, 64))[::-1], 1)
    at = np.array([322.0, 242.0]) + (points + 0.5 - 32) * cell
    truth = {
        "keypoints": at.tolist(), "box": [306.0, 226.0, 338.0, 258.0], "in_front": True,
        "in_frame": 1.0, "rim_px": 16 * cell, "seen": {"cover": 1.0}, "hand": 0, "y": 0.0,
    }  # fmt: skip
    path.with_suffix(".json").write_text(json.dumps({"carbs": [truth]}))
    with patch.object(landmark_error, "load_networks", lambda _: stubs):
        (carb,) = read_picture(path, tmp_path)
    assert carb.read == pytest.approx(np.zeros(12), abs=0.01)
    # The landmarks' box is 28 reader's cells high, so that a refiner's cell is 1.45 * 28 / 64.
    finer_cell = 1.45 * 28 / 64 * cell
    middle = np.array([322.0, 242.0]) + np.array([32.5 - 32, (16.5 + 44.5) / 2 - 32]) * cell
    want = middle + (points[:12] + np.array([0.5 - 32, 0.5 + down - 32])) * finer_cell
    error = np.linalg.norm(want - at[:12], axis=1) / (8 * cell)
    assert carb.refined == pytest.approx(error, abs=0.02)
    assert carb.certainty == pytest.approx(1.0, abs=1e-3)
    assert carb.moved == pytest.approx(error[0] / 2, abs=0.01)
    assert carb.kept == kept
    assert (closeup.FARTHEST, closeup.LEAST_CERTAINTY, closeup.refined) == limits
