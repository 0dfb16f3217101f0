"""Carbs and false carbs are counted alone and confirmed; only the locator is another."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from models.training.evaluation import locator_ablation
from models.training.evaluation.locator_ablation import (
    boxes,
    carbs_found,
    false_carbs,
    folder_with,
)

from carbpair.settings import default_model_dir

LEFT, RIGHT = (10.0, 10.0, 60.0, 90.0), (100.0, 10.0, 150.0, 90.0)


def carb(box: tuple[float, ...], cover: float) -> dict:
    return {"in_front": True, "in_frame": 1.0, "box": box, "seen": {"cover": cover}}


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    cv2.imwrite(str(tmp_path / "1.png"), np.full((480, 640, 3), 90, np.uint8))
    truth = {"carbs": [carb(LEFT, 0.8), carb(RIGHT, 0.7), carb((300, 10, 350, 90), 0.1)]}
    (tmp_path / "1.json").write_text(json.dumps(truth))
    return tmp_path / "1.png"


def test_visible_carbs_count_alone_and_confirmed(
    picture: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = [LEFT, RIGHT, (400.0, 200.0, 450.0, 280.0)], [RIGHT], (640, 480)
    monkeypatch.setattr(locator_ablation, "boxes", lambda *_: found)
    assert carbs_found(picture, picture.parent) == (2, 2, 1)
    assert false_carbs(picture, picture.parent) == (True, True)


def test_the_line_runs_with_another_locator_beside_the_shipped_readers(picture: Path) -> None:
    shipped = default_model_dir()
    models = folder_with(shipped / "locator.onnx", shipped, picture.parent / "models")
    names = {f.name for f in models.iterdir()}
    assert {"locator.onnx", "reader.onnx", "calibration.json"} <= names
    assert boxes(picture, models) == ([], [], (640, 480))  # a plain grey wall has no carb
