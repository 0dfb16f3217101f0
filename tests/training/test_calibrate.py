"""What the calibration's tables count, with readings made up by hand."""

import pickle
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from models.training.evaluation.calibrate import (
    FRAME_SDS_DEG,
    interval_shares,
    main,
    refused_shares,
)
from models.training.evaluation.readings import read_one

TRUTH = {
    "in_front": True,
    "in_frame": 1.0,
    "seen": {"cover": 1.0, "mark": 1.0},
    "mark_px": 20.0,
    "mark_bearing": 1.0,
}


@dataclass
class Marks:
    certainty: float
    refined: np.ndarray | None

    @property
    def refined_certainty(self) -> float:
        return 0.0 if self.refined is None else float(np.median(self.refined))


def bins(at: int, spread: bool = False) -> np.ndarray:
    """Logits of a mark in bin `at` (2 degrees each, the first centred on -179)."""
    out = np.full(181, -20.0, np.float32)
    out[at] = 10.0
    if spread:
        out[at - 2] = out[at + 2] = 10.0
    return out


def row(*carbs: dict[str, Any]) -> dict[str, Any]:
    return {
        "truth": [TRUTH] * len(carbs),
        "found": {i: i for i in range(len(carbs))},
        "carbs": list(carbs),
    }


def test_how_often_the_interval_holds_the_mark() -> None:
    # bin 90 is centred on +1, the true bearing; bin 91 is 2 degrees off, bin 93 is 6
    carbs = [{"bearing_raw": bins(k)} for k in (90, 91, 93)]
    hidden = row({"bearing_raw": bins(120)})
    hidden["truth"] = [TRUTH | {"mark_px": 4.0}]
    got = interval_shares([row(*carbs), hidden])
    # 90 % of a normal law lie within 1.645 standard deviations (tables of the normal law)
    assert {sd: (v["hits"], v["n"]) for sd, v in got.items()} == {
        sd: (1 + (1.645 * sd >= 2) + (1.645 * sd >= 6), 3) for sd in FRAME_SDS_DEG
    }


def test_an_unsure_mark_is_not_counted() -> None:
    flat = {"bearing_raw": np.zeros(181, np.float32)}
    assert interval_shares([row(flat)])[1.0]["n"] == 0


def test_what_the_refiner_does_not_find_again() -> None:
    def carb(score: float, sure: float, again: bool) -> dict[str, Any]:
        return {"score": score, "marks": Marks(sure, np.ones(12) if again else None)}

    rows = [
        row(carb(0.3, 0.8, False), carb(0.3, 0.8, True)),
        row(carb(0.6, 0.8, False), carb(0.3, 0.95, False)),
    ]
    negatives = [row(carb(0.3, 0.7, False)), row(carb(0.3, 0.8, True))]
    of_carbs, of_false = refused_shares(rows, negatives)
    assert (of_carbs["hits"], of_carbs["n"]) == (1, 4)
    assert (of_false["hits"], of_false["n"]) == (1, 2)


def test_the_command_line_prints_every_table(
    packed: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    readings = tmp_path / "cal.pkl"
    readings.write_bytes(pickle.dumps([read_one(packed / "0908200.jpg")]))
    monkeypatch.setattr("sys.argv", ["calibrate", "--readings", str(readings)])
    main()
    lines = capsys.readouterr().out.splitlines()
    # The picture shows two carbs whose flanges, bowls and marks are in view.
    heads = [line.split(", temperature")[0] for line in lines if "temperature" in line]
    assert heads == ["holes: n = 2", "hand: n = 2", "chamber: n = 2", "filter: n = 2"]
    (mark,) = (line for line in lines if line.startswith("mark 0.88: "))
    assert re.findall(r"'hits': (\d), 'n': (\d)", mark) == [("2", "2"), ("0", "2"), ("0", "2")]
    for words in (
        "mark, near half, 0.88",
        "mark, far half, 0.88",
        "mark, frame 0.8",
        "frame spread",
    ):
        assert any(line.startswith(words) for line in lines), words
    assert lines[-1].startswith("weak finds refused: of carbs {'hits': 0, 'n': 2")
