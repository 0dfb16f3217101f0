"""Picture statistics against known pictures and libraries; the gap between like sets is none."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

pytest.importorskip("sklearn")

from models.training.evaluation.domain_gap import compare, frechet, gap, pictures, told_apart
from models.training.evaluation.image_statistics import (
    colourfulness,
    noise_sigma,
    slope,
    spectrum,
    square,
    statistics,
)
from scipy import stats
from skimage import data


def field(exponent: float, seed: int, size: int = 256) -> np.ndarray:
    """A random picture whose power falls as frequency^-exponent."""
    rng = np.random.default_rng(seed)
    f = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.fftfreq(size)[None])
    f[0, 0] = 1
    noise = np.fft.fft2(rng.standard_normal((size, size)))
    out = np.fft.ifft2(noise * f ** (-exponent / 2)).real
    return (out - out.mean()) / out.std()


@pytest.mark.parametrize("exponent", [0.0, 1.0, 2.0, 3.0])
def test_the_slope_of_a_known_spectrum(exponent: float) -> None:
    found = [slope(*spectrum(field(exponent, seed))) for seed in range(4)]
    assert np.mean(found) == pytest.approx(exponent, abs=0.12)


@pytest.mark.parametrize("sigma", [0.01, 0.03, 0.08])
def test_noise_that_was_added_is_found(sigma: float) -> None:
    grey = np.tile(np.linspace(0.2, 0.8, 400), (400, 1))
    noisy = grey + np.random.default_rng(1).normal(0, sigma, grey.shape)
    assert noise_sigma(noisy) == pytest.approx(sigma, rel=0.05)
    assert noise_sigma(grey) < 1e-4


def test_colourfulness_of_grey_and_by_hand() -> None:
    assert colourfulness(np.full((9, 9, 3), 77, np.uint8)) == 0
    halves = np.zeros((2, 2, 3), np.uint8)
    halves[0], halves[1] = (200, 0, 0), (0, 200, 0)
    # rg = ±200: deviation 200, mean 0; yb = 100: deviation 0, mean 100
    assert colourfulness(halves) == pytest.approx(200 + 0.3 * 100)


def test_statistics_of_a_published_photograph() -> None:
    photo = data.astronaut()
    got = statistics(photo)
    assert got["brightness"] == pytest.approx(
        (photo @ np.array([0.2126, 0.7152, 0.0722])).mean() / 255
    )
    assert 1.5 < got["spectrum slope"] < 3.5  # natural pictures: about 2 (Field 1987)
    assert all(np.isfinite(v) for v in got.values())
    assert square(photo).shape == (512, 512, 3)
    assert square(photo[:300, :400]).shape == (512, 512, 3)


def test_distance_is_scipys_and_medians_have_intervals() -> None:
    rng = np.random.default_rng(2)
    a, b = rng.normal(0, 1, (80, 1)), rng.normal(1, 1, (60, 1))
    (row,) = compare(["x"], a, b)
    assert row["distance"] == stats.ks_2samp(a[:, 0], b[:, 0]).statistic
    low, high = row["renders"]["interval95"]
    assert low < row["renders"]["median"] < high
    assert row["photos"]["n"] == 60


def test_like_sets_cannot_be_told_apart_and_unlike_can() -> None:
    rng = np.random.default_rng(3)
    a, b = rng.normal(0, 1, (120, 5)), rng.normal(0, 1, (120, 5))
    same = told_apart(a, b)
    assert same["interval95"][0] < 0.5 < same["interval95"][1] + 0.02
    assert told_apart(a, b + 3)["auc"] > 0.98


def test_frechet_distance_of_known_gaussians() -> None:
    rng = np.random.default_rng(4)
    a = rng.normal(0, 1, (20000, 3))
    b = rng.normal(0, 2, (20000, 3)) + np.array([3.0, 0, 0])
    # |m|² + Σ (σa − σb)² = 9 + 3 · 1
    assert frechet(a, b) == pytest.approx(12, abs=0.4)
    assert frechet(a, a) == pytest.approx(0, abs=1e-6)


def test_the_whole_comparison(tmp_path) -> None:
    rng = np.random.default_rng(5)
    folder = tmp_path / "set"
    folder.mkdir()
    cv2.imwrite(str(folder / "small.png"), np.zeros((90, 90, 3), np.uint8))
    for k in range(3):
        big = (np.clip(0.5 + 0.1 * field(2, k, 256), 0, 1) * 255).astype(np.uint8)
        cv2.imwrite(str(folder / f"{k}.png"), cv2.resize(big, (1200, 900)))
    found = pictures(folder, 9)
    assert [p.shape for p in found] == [(768, 1024, 3)] * 3  # the small one is left out
    photos = [(np.clip(rng.normal(0.5, 0.2, (512, 512, 3)), 0, 1) * 255).astype(np.uint8)] * 10
    renders = [np.roll(found[k % 3], k, 1) for k in range(10)]
    made = gap(renders, photos, [], None)
    first = made["tables"][0]["rows"][0]
    assert float(first[-1]) > 0.9  # the most different number comes first
    assert len(made["tables"][1]["rows"]) == 2
