"""Grain goes, edges stay: only where the second renderer's package brings the library along."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from models.training.denoise import Denoiser, denoiser_of

FOUND = importlib.util.find_spec("bpy")
NAME = "libOpenImageDenoise.so.2"


def test_without_a_library_there_is_no_denoiser() -> None:
    assert denoiser_of(None, "cuda_ad_rgb") is None


def test_a_missing_library_is_named(tmp_path) -> None:
    with pytest.raises(OSError, match=NAME):
        denoiser_of(tmp_path / NAME, "scalar_rgb")


@pytest.mark.skipif(FOUND is None, reason="bpy, which brings the library, is not installed")
def test_grain_goes_and_an_edge_stays() -> None:
    assert FOUND is not None
    assert FOUND.origin is not None
    folder = Path(FOUND.origin).parent
    denoiser = Denoiser(next(folder.rglob(NAME)), "cpu")
    rng = np.random.default_rng(3)
    clean = np.full((64, 96, 3), 0.2, np.float32)
    clean[:, 48:] = 0.8
    grainy = clean * rng.gamma(4, 0.25, clean.shape).astype(np.float32)
    normal = np.zeros_like(clean)
    normal[..., 2] = 1
    out = denoiser(grainy, clean, normal)
    assert out.shape == clean.shape
    assert np.abs(out - clean).mean() < 0.25 * np.abs(grainy - clean).mean()
    assert out[:, 49:52].mean() - out[:, 44:47].mean() > 0.5
    np.testing.assert_array_equal(denoiser(grainy, clean, normal), out)
