"""The classical hole counter that ours is measured against does its best on what suits it."""

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from hough import PATCH, THROAT_PX, HoughSettings, count_holes, patch_of, whole_photo


def drawn(count: int, ring: float = 1.8) -> np.ndarray:
    """A flange face on, 600 pixels: throat of radius 80, holes of a quarter of it."""
    grey = np.full((600, 600), 170, np.uint8)
    cv2.circle(grey, (300, 300), 80, 30, -1, cv2.LINE_AA)
    for k in range(count):
        a = 2 * np.pi * k / count + 0.3
        at = 300 + 80 * ring * np.array([np.cos(a), np.sin(a)])
        cv2.circle(grey, tuple(int(v) for v in at.round()), 20, 40, -1, cv2.LINE_AA)
    return cv2.GaussianBlur(grey, (0, 0), 1)


def patch(grey: np.ndarray) -> np.ndarray:
    return patch_of(grey, np.array([300.0, 300]), np.array([80.0, 0]), np.array([0.0, 80]))


@pytest.mark.parametrize("count", [2, 3, 4])
def test_clean_holes_are_counted(count: int) -> None:
    assert count_holes(patch(drawn(count)), HoughSettings()) == count


def test_holes_outside_the_ring_or_too_many_are_no_answer() -> None:
    assert count_holes(patch(drawn(3, ring=1.25)), HoughSettings()) is None
    assert count_holes(patch(drawn(6)), HoughSettings()) is None
    assert count_holes(np.full((PATCH, PATCH), 90, np.uint8), HoughSettings()) is None


def test_the_throat_is_in_the_middle_of_its_patch() -> None:
    got = patch(drawn(0))
    dark = np.argwhere(got < 90)
    assert dark.mean(0) == pytest.approx([PATCH / 2, PATCH / 2], abs=1)
    assert np.sqrt(len(dark) / np.pi) == pytest.approx(THROAT_PX, rel=0.03)


def test_a_whole_photo() -> None:
    grey = drawn(3)
    found = whole_photo(np.repeat(grey[..., None], 3, 2), HoughSettings())
    assert any(np.hypot(x - 300, y - 300) < 10 and n == 3 for x, y, n in found)
