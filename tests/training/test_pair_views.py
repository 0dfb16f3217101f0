"""Pairs seen from three sides: seeds name pair and view; a tiny render on the CPU."""

from __future__ import annotations

import numpy as np
import pytest

pytest.importorskip("mitsuba")

from models.training.pair_views import PAIRS, VIEWS, all_seeds, pair_of_seed, take
from models.training.render import Renderer

SIZE = (48, 36)


def test_seeds_name_pair_and_view() -> None:
    seeds = all_seeds()
    assert len(set(seeds)) == PAIRS * VIEWS
    assert [pair_of_seed(s) for s in seeds[:7]] == [0, 0, 0, 1, 1, 1, 2]
    for wrong in (9_299_999, 9_300_003, 911_000):
        with pytest.raises(ValueError, match="no seed of a pair's view"):
            pair_of_seed(wrong)


def test_two_views_of_one_pair() -> None:
    renderer = Renderer("scalar_rgb", (SIZE,))
    env = np.ones((256, 512, 3), np.float32)
    first, second = (take(renderer, s, env, SIZE, 1) for s in all_seeds()[:2])
    assert first["photo"].shape == (36, 48, 3)
    assert not np.array_equal(first["photo"], second["photo"])
    for a, b in zip(first["carbs"], second["carbs"], strict=True):
        for name in ("flange_holes", "hand", "mark_bearing", "chamber", "y"):
            assert a[name] == b[name]
        assert not a["filtered"]
        assert not np.allclose(a["keypoints"], b["keypoints"])
