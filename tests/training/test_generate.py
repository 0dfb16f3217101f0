"""Shards as they are written and read again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("torch")

from models.training.data import COLUMN, has, load
from models.training.generate import has_decoys, save
from models.training.scene.photograph import CLOSEUP, CROP, RIM
from models.training.train import needed

CARB = {
    "box": np.array([200.0, 100, 300, 260]), "in_front": True, "in_frame": 1.0,
    "seen": dict.fromkeys(("cover", "throat", "bowl", "mark", "flange", "under", "partner"), 1.0),
    "keypoints": np.full((13, 2), (250.0, 180.0), np.float32), "hand": 1, "vents": np.zeros((1, 2)),
    "bolts": np.zeros((2, 2)), "bolt_seen": np.ones(2), "flange_holes": 2, "chamber": "piston",
    "filtered": False, "facing": 0.9, "mark_bearing": 10.0, "mark_px": 9.0, "rim_px": 80.0,
    "partner_bearing": -170.0,
}  # fmt: skip


def rows() -> list[dict]:
    picture = np.full((CROP, CROP, 3), 7, np.uint8)
    near = np.full((CLOSEUP, CLOSEUP, 3), 9, np.uint8)
    rim = np.full((RIM, RIM, 3), 3, np.uint8)
    window = {"carb": 0, "native": 1.0}
    return [
        {
            "seed": 1,
            "photo": np.full((480, 640, 3), 5, np.uint8),
            "carbs": [CARB],
            "crops": [window | {"window": (150.0, 80.0, 192.0), "picture": picture}],
            "closeups": [window | {"window": (200.0, 130.0, 112.0), "picture": near}],
            "rims": [window | {"window": (214.0, 144.0, 72.0), "picture": rim}],
        }
    ]


@pytest.mark.parametrize(("no_photos", "photos"), [(False, 1), (True, 0)])
def test_crops_and_close_ups_do_not_need_the_photographs(
    tmp_path: Path, no_photos: bool, photos: int
) -> None:
    save(tmp_path, "00-last", rows(), no_photos)
    found, windows = load(tmp_path, "cpu")
    assert found.pixels.shape == (photos, 480, 640, 3)
    assert {k: v.pixels.unique().tolist() for k, v in windows.items()} == {
        "crops": [7],
        "closeups": [9],
        "rims": [3],
    }
    # Truth is in each window's own pixels: twice, and four times, as fine as the photograph.
    assert windows["crops"].keypoints[0, 0].tolist() == [200, 200]
    assert windows["closeups"].keypoints[0, 0].tolist() == [200, 200]
    assert windows["rims"].keypoints[0, 0].tolist() == [144, 144]
    assert windows["closeups"].frame[0].tolist() == [-800, -520, 1760, 1400]
    assert windows["rims"].scene.tolist() == [1]
    truth = windows["rims"].numbers[0]
    assert [truth[COLUMN[k]] for k in ("bearing", "partner", "mark_px")] == [10, -170, 36]


def test_the_rim_reader_takes_rims_where_there_are_any(tmp_path: Path) -> None:
    without = rows()
    without[0]["rims"] = []
    save(tmp_path, "00-0000001", without)
    assert not has(tmp_path, "rims")
    assert [needed(n, tmp_path) for n in ("locator", "rim")] == ["photos", "closeups"]
    save(tmp_path, "01-last", rows())
    assert has(tmp_path, "rims")
    assert [needed(n, tmp_path) for n in ("locator", "refiner", "rim")] == [
        "photos",
        "closeups",
        "rims",
    ]


def test_the_share_of_scenes_with_decoys() -> None:
    assert not any(has_decoys(seed, 0.0) for seed in range(100))
    assert all(has_decoys(seed, 1.0) for seed in range(100))
    count = sum(has_decoys(seed, 0.7) for seed in range(2000))
    assert count == pytest.approx(1400, abs=70)  # three and a half standard deviations


def test_what_is_not_asked_for_stays_empty(tmp_path: Path) -> None:
    save(tmp_path, "00-last", rows())
    found, windows = load(tmp_path, "cpu", kinds=("closeups",))
    assert len(found.pixels) == len(found.boxes) == 0
    assert {k: len(v.pixels) for k, v in windows.items()} == {"crops": 0, "closeups": 1, "rims": 0}
    assert len(windows["crops"].keypoints) == len(windows["rims"].numbers) == 0
