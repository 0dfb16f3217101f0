"""Shards as they are written and read again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("torch")

from models.training.data import load
from models.training.generate import save
from models.training.scene.photograph import CLOSEUP, CROP

CARB = {
    "box": np.array([200.0, 100, 300, 260]), "in_front": True, "in_frame": 1.0,
    "seen": dict.fromkeys(("cover", "throat", "bowl", "mark", "flange", "under"), 1.0),
    "keypoints": np.full((13, 2), (250.0, 180.0), np.float32), "hand": 1, "vents": np.zeros((1, 2)),
    "bolts": np.zeros((2, 2)), "bolt_seen": np.ones(2), "flange_holes": 2, "chamber": "piston",
    "filtered": False, "facing": 0.9, "mark_bearing": 10.0, "mark_px": 9.0, "rim_px": 80.0,
}  # fmt: skip


def rows() -> list[dict]:
    picture = np.full((CROP, CROP, 3), 7, np.uint8)
    near = np.full((CLOSEUP, CLOSEUP, 3), 9, np.uint8)
    window = {"carb": 0, "native": 1.0}
    return [
        {
            "seed": 1,
            "photo": np.full((480, 640, 3), 5, np.uint8),
            "carbs": [CARB],
            "crops": [window | {"window": (150.0, 80.0, 192.0), "picture": picture}],
            "closeups": [window | {"window": (200.0, 130.0, 112.0), "picture": near}],
        }
    ]


@pytest.mark.parametrize(("no_photos", "photos"), [(False, 1), (True, 0)])
def test_crops_and_close_ups_do_not_need_the_photographs(
    tmp_path: Path, no_photos: bool, photos: int
) -> None:
    save(tmp_path, "00-last", rows(), no_photos)
    found, crops, closeups = load(tmp_path, "cpu")
    assert found.pixels.shape == (photos, 480, 640, 3)
    assert crops.pixels.unique().tolist() == [7]
    assert closeups.pixels.unique().tolist() == [9]
    # Truth is in each window's own pixels: twice, and four times, as fine as the photograph.
    assert crops.keypoints[0, 0].tolist() == [200, 200]
    assert closeups.keypoints[0, 0].tolist() == [200, 200]
    assert closeups.frame[0].tolist() == [-800, -520, 1760, 1400]
    only = load(tmp_path, "cpu", kinds=("closeups",))
    assert [len(part.pixels) for part in only] == [0, 0, 1]
