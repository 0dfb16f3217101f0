"""Published photographs (scikit-image, scikit-learn), degraded in known ways."""

import json
import math
from pathlib import Path

import cv2
import numpy as np
import pytest
from skimage import data as pictures
from sklearn.datasets import load_sample_image

from carbpair.photo.quality import (
    DEFAULT_QUALITY_LIMITS,
    QualityLimits,
    assess_quality,
    measure_quality,
)

SIZE_FREE = QualityLimits(long_side_below=(0, 0))
GOOD = {
    "coffee": pictures.coffee(),
    "chelsea": pictures.chelsea(),
    "china": load_sample_image("china.jpg"),
    "flower": load_sample_image("flower.jpg"),
}


def kinds(pixels: np.ndarray) -> set[str]:
    return {finding.kind for finding in assess_quality(pixels, SIZE_FREE).findings}


@pytest.mark.parametrize("name", sorted(GOOD))
def test_good_photos_pass(name: str) -> None:
    quality = assess_quality(GOOD[name], SIZE_FREE)
    assert (quality.status, quality.findings) == ("good", ())


@pytest.mark.parametrize("name", sorted(GOOD))
def test_blur_is_found_and_strong_blur_is_poor(name: str) -> None:
    assert "blur" in kinds(cv2.GaussianBlur(GOOD[name], (0, 0), 2))
    assert assess_quality(cv2.GaussianBlur(GOOD[name], (0, 0), 4), SIZE_FREE).status == "poor"


@pytest.mark.parametrize("name", sorted(GOOD))
def test_four_stops_under_are_too_dark(name: str) -> None:
    dark = np.rint(255 * (GOOD[name] / 255.0) * 2 ** (-4 / 2.2)).astype(np.uint8)
    assert "too_dark" in kinds(dark)


def test_three_stops_over_are_too_bright() -> None:
    bright = np.clip(GOOD["china"] * 2 ** (3 / 2.2), 0, 255).astype(np.uint8)
    assert "too_bright" in kinds(bright)


def test_a_reflection_is_glare_but_a_white_border_is_not() -> None:
    flash = GOOD["coffee"].copy()
    cv2.circle(flash, (300, 200), 60, (255, 255, 255), -1)
    assert "glare" in kinds(flash)
    wing = GOOD["coffee"].copy()
    wing[:40] = 255
    assert "glare" not in kinds(wing)
    assert measure_quality(wing).burnt == pytest.approx(0.1, abs=0.02)


def test_small_photos_are_named() -> None:
    quality = assess_quality(GOOD["coffee"])
    assert [finding.kind for finding in quality.findings] == ["too_small"]
    assert quality.findings[0].value == 600
    assert quality.status == "usable"
    assert assess_quality(GOOD["chelsea"]).status == "poor"


def test_blur_is_stated_at_one_scale() -> None:
    # The same scene in 3200 pixels, blurred by four of them, is as sharp as in 1600 by two.
    big = cv2.resize(GOOD["china"], (3200, 2136), interpolation=cv2.INTER_CUBIC)
    half = cv2.resize(big, (1600, 1068), interpolation=cv2.INTER_AREA)
    first = measure_quality(cv2.GaussianBlur(big, (0, 0), 4)).blur
    second = measure_quality(cv2.GaussianBlur(half, (0, 0), 2)).blur
    assert first == pytest.approx(second, rel=0.2)


@pytest.mark.parametrize("level", [0, 128, 255])
def test_featureless_pictures_give_no_blur(level: int) -> None:
    measured = measure_quality(np.full((300, 400, 3), level, np.uint8))
    assert measured.blur is None
    assert measured.glare == 0


@pytest.mark.parametrize("shape", [(16, 16), (17, 300), (700, 33)])
def test_odd_shapes_are_measured(shape: tuple[int, int]) -> None:
    pixels = np.random.default_rng(1).integers(0, 255, (*shape, 3)).astype(np.uint8)
    assert measure_quality(pixels).long_side == max(shape)


def test_json_form() -> None:
    found = assess_quality(GOOD["coffee"]).as_json()
    assert found["status"] == "usable"
    (finding,) = found["findings"]  # type: ignore[misc]
    assert set(finding) == {"kind", "value", "limit", "advice"}
    json.dumps(found)


def test_limits_are_those_that_were_measured() -> None:
    path = Path(__file__).parents[2] / "models/training/quality_limits.json"
    measured = json.loads(path.read_text(encoding="utf-8"))
    for fault in ("blur", "light_below", "burnt", "glare"):
        finding, poor = getattr(DEFAULT_QUALITY_LIMITS, fault)
        assert measured[fault]["finding"]["limit"] == finding
        expected = measured[fault]["poor"]["limit"] if "poor" in measured[fault] else math.inf
        assert expected == poor
