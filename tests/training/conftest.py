"""A sample picture as the training code's own files hold it."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from models.training.evaluation.truth_warp import warped
from models.training.pack import plain

SAMPLES = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="session")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One sample picture, small, as the packer would store it under a frozen seed."""
    folder = tmp_path_factory.mktemp("packed")
    pixels = cv2.imread(str(SAMPLES / "two-hole-inboard.jpg"))
    small = cv2.resize(pixels, (1200, 800), interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(folder / "0908200.jpg"), small)
    data = json.loads((SAMPLES / "two-hole-inboard.truth.json").read_text())
    carbs = [warped(c, np.diag([0.4, 0.4, 1.0]), (3000, 2000), (1200, 800)) for c in data["carbs"]]
    (folder / "0908200.json").write_text(json.dumps(plain({"seed": 908200, "carbs": carbs})))
    return folder
