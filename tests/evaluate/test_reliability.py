"""Reliability against scikit-learn, and the noise floor against a perfect reader."""

import numpy as np
import pytest
from sklearn.calibration import calibration_curve

from carbpair.evaluate.candidate import Candidate
from carbpair.evaluate.reliability import reliability


def guesses(p: np.ndarray, right: np.ndarray) -> list[Candidate]:
    return [Candidate(float(a), bool(b)) for a, b in zip(p, right, strict=True)]


def test_bins_are_scikit_learns() -> None:
    rng = np.random.default_rng(2)
    p = rng.uniform(0.02, 0.98, 500)
    right = rng.random(500) < p**2
    got = reliability(guesses(p, right))
    share, mean = calibration_curve(right, p, n_bins=10)
    assert [b["right"]["share"] for b in got["bins"]] == pytest.approx(list(share), abs=1e-4)
    assert [b["mean_probability"] for b in got["bins"]] == pytest.approx(list(mean), abs=1e-4)
    weights = [b["right"]["n"] / 500 for b in got["bins"]]
    assert got["ece"] == pytest.approx(np.abs(share - mean) @ weights, abs=1e-4)
    assert got["ece"] > got["floor_95"]  # it is not calibrated, and that shows


def test_a_perfect_reader_is_at_the_floor() -> None:
    rng = np.random.default_rng(3)
    found = []
    for _ in range(40):
        p = rng.uniform(0.5, 1.0, 300)
        got = reliability(guesses(p, rng.random(300) < p))
        found.append((got["ece"], got["floor_mean"], got["ece"] < got["floor_95"]))
    eces, floors, below = zip(*found, strict=True)
    assert np.mean(eces) == pytest.approx(np.mean(floors), rel=0.15)
    assert np.mean(below) > 0.8
    assert np.mean(floors) > 0.02  # even a perfect reader shows this much at n = 300


def test_no_case_and_certainty() -> None:
    assert reliability([])["n"] == 0
    got = reliability([Candidate(1.0, True)] * 5)
    assert (got["ece"], got["floor_mean"]) == (0.0, 0.0)
    assert got["bins"][-1]["to"] == 1.0
