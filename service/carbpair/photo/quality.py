"""Is a photo good enough to read: sharp, well lit, without glare, large enough.

The limits were measured: models/training/quality_limits.py degrades sharp photographs in
known steps, and models/training/quality_limits.json what it found.
"""

import math
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.photo.sharpness import edge_spread

Kind = Literal["blur", "too_dark", "too_bright", "glare", "too_small"]
Status = Literal["good", "usable", "poor"]

REFERENCE_SIDE = 1600
"""Blur is stated for the photo scaled to this longer side, pixels, if it is larger."""

TONE_SIDE = 1000
"""Exposure and glare are measured with about this longer side, pixels."""

TILE_SIDE = 128
TILE_COUNT = 12

CLIPPED_LEVEL = 250
"""A pixel whose three channels all reach this level is burnt out."""


@dataclass(frozen=True, slots=True)
class QualityMeasures:
    """What was measured on one photo.

    `blur`: spread σ of the sharpest edges in pixels at REFERENCE_SIDE, None without edges.
    `light`: the grey level (0 to 255) that a tenth of the pixels exceed. `burnt`: share of
    the picture that is burnt out, `glare`: the part of it in patches that do not touch the
    border. `long_side`: pixels.
    """

    blur: float | None
    light: float
    burnt: float
    glare: float
    long_side: int


@dataclass(frozen=True, slots=True)
class QualityFinding:
    """One fault: the measured value, the limit it broke, and what to do about it."""

    kind: Kind
    value: float
    limit: float
    advice: str

    def as_json(self) -> dict[str, float | str]:
        """`kind`, `value`, `limit` and `advice`."""
        return {
            "kind": self.kind,
            "value": round(self.value, 4),
            "limit": self.limit,
            "advice": self.advice,
        }


@dataclass(frozen=True, slots=True)
class Quality:
    """`good`: nothing found; `usable`: something was; `poor`: so bad that little can be read."""

    status: Status
    findings: tuple[QualityFinding, ...]

    def as_json(self) -> dict[str, object]:
        """As the inspection's JSON shows it."""
        return {"status": self.status, "findings": [f.as_json() for f in self.findings]}


@dataclass(frozen=True, slots=True)
class QualityLimits:
    """Per fault the limit of a finding and the one beyond which the photo is poor."""

    blur: tuple[float, float] = (1.3, 1.8)
    light_below: tuple[float, float] = (74.0, 52.0)
    # A white background is burnt out as well: that alone never makes a photo poor.
    burnt: tuple[float, float] = (0.11, math.inf)
    glare: tuple[float, float] = (0.032, 0.12)
    # Not measured by degrading: on real bay photos of 1200 to 2048 pixels a dashpot is 50 to
    # 115 pixels wide; half of that is too little for a mark.
    long_side_below: tuple[float, float] = (1000.0, 500.0)


DEFAULT_QUALITY_LIMITS = QualityLimits()

ADVICE: dict[Kind, str] = {
    "blur": "The photo is blurred. Hold the camera still, rest your elbows, tap the screen on the "
    "carburettors to focus, and wipe the lens.",
    "too_dark": "The photo is too dark. Open the bonnet fully, add a work lamp from the side, or "
    "take it in daylight.",
    "too_bright": "The photo is too bright. Move out of direct sun or tap on the carburettors so "
    "that the camera exposes for them.",
    "glare": "Bright reflections hide parts. Switch the flash off and move the lamp or yourself to "
    "the side.",
    "too_small": "The photo is small. Send the original file, not a preview, a screenshot or one "
    "shrunk by a messenger.",
}


def assess_quality(
    pixels: NDArray[np.uint8], limits: QualityLimits = DEFAULT_QUALITY_LIMITS
) -> Quality:
    """Quality of an upright RGB photo (H, W, 3)."""
    return judge_quality(measure_quality(pixels), limits)


def judge_quality(
    measured: QualityMeasures, limits: QualityLimits = DEFAULT_QUALITY_LIMITS
) -> Quality:
    """Compare measures with limits."""
    checks: list[tuple[Kind, float | None, tuple[float, float], int]] = [
        ("too_small", float(measured.long_side), limits.long_side_below, -1),
        ("blur", measured.blur, limits.blur, 1),
        ("too_dark", measured.light, limits.light_below, -1),
        ("too_bright", measured.burnt, limits.burnt, 1),
        ("glare", measured.glare, limits.glare, 1),
    ]
    findings, poor = [], False
    for kind, value, (limit, hopeless), sign in checks:
        if value is None or sign * value <= sign * limit:
            continue
        findings.append(QualityFinding(kind, value, limit, ADVICE[kind]))
        poor = poor or sign * value > sign * hopeless
    status: Status = "poor" if poor else "usable" if findings else "good"
    return Quality(status, tuple(findings))


def measure_quality(pixels: NDArray[np.uint8]) -> QualityMeasures:
    """Measure an RGB picture (H, W, 3); 12 megapixels take under 15 ms on one thread."""
    long_side = max(pixels.shape[:2])
    # Every n-th pixel, not a filtered reduction: twenty times cheaper, and the aliasing only
    # makes a sharp photo look sharper.
    small = _thinned(pixels, max(1, long_side // TONE_SIDE))
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    burnt, glare = _burnt_out(small)
    return QualityMeasures(_blur(pixels, grey), _top_decile(grey), burnt, glare, long_side)


def _thinned(pixels: NDArray[np.uint8], step: int) -> NDArray[np.uint8]:
    size = (max(1, pixels.shape[1] // step), max(1, pixels.shape[0] // step))
    # OpenCV's copy is seven times as fast as a NumPy slice of a large picture.
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_NEAREST), dtype=np.uint8)


def _top_decile(grey: NDArray[np.uint8]) -> float:
    histogram = cv2.calcHist([grey], [0], None, [256], [0, 256]).ravel()
    return float(np.searchsorted(np.cumsum(histogram), 0.9 * grey.size))


def _burnt_out(small: NDArray[np.uint8]) -> tuple[float, float]:
    """Share of burnt-out pixels, and of those in patches clear of the border."""
    burnt = cv2.inRange(small, (CLIPPED_LEVEL,) * 3, (255.0,) * 3)
    # Noise and glints vanish in the mean, patches stay.
    half = (max(1, burnt.shape[1] // 2), max(1, burnt.shape[0] // 2))
    burnt = cv2.resize(burnt, half, interpolation=cv2.INTER_AREA)
    burnt = cv2.threshold(burnt, 191, 255, cv2.THRESH_BINARY)[1]
    total = cv2.countNonZero(burnt)
    if not total:
        return 0.0, 0.0
    count, labels, stats, _ = cv2.connectedComponentsWithStats(burnt, connectivity=4)
    inside = np.ones(count, dtype=bool)
    inside[0] = False
    # A white wall, sky or wing reaches the border; a reflection on a part does not.
    for edge in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
        inside[np.unique(edge)] = False
    patches = int(stats[inside, cv2.CC_STAT_AREA].sum())
    return total / burnt.size, patches / burnt.size


def _blur(pixels: NDArray[np.uint8], grey: NDArray[np.uint8]) -> float | None:
    height, width = pixels.shape[:2]
    long_side = max(height, width)
    step = max(1, long_side // REFERENCE_SIDE)
    side = TILE_SIDE * step
    # The tiles with most edges, found on the small grey picture.
    slope = cv2.convertScaleAbs(cv2.Laplacian(grey, cv2.CV_16S, ksize=3))
    cell = min(max(1, round(side * grey.shape[1] / width)), *grey.shape)
    rows, columns = grey.shape[0] // cell, grey.shape[1] // cell
    whole = slope[: rows * cell, : columns * cell]
    busy = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA).ravel()
    tiles = []
    for index in np.argsort(-busy.astype(np.int16), kind="stable")[:TILE_COUNT].tolist():
        row, column = divmod(index, columns)
        y, x = row * height // rows, column * width // columns
        tile = _thinned(pixels[y : y + side, x : x + side], step)
        tiles.append(np.ascontiguousarray(tile[:, :, 1]))  # green has the least colour noise
    spread = edge_spread(tiles)
    return None if spread is None else spread * step * min(1.0, REFERENCE_SIDE / long_side)
