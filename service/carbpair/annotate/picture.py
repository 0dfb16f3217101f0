"""A photo with its readings drawn on it."""

from collections.abc import Mapping, Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.annotate.canvas import Canvas
from carbpair.annotate.carb_marks import draw_box, draw_dial, draw_flange
from carbpair.annotate.evidence import read_evidence
from carbpair.annotate.strip import strip_of

MAX_SIDE = 2000
"""Longer side of the result, pixels."""

MIN_WIDTH = 800
"""Smaller photos are enlarged to this width, or words on them could not be read."""

FAR_SHARE = 0.14
"""If a carb's box is narrower than this share of the photo, a close-up is added below it."""

CLOSE_UP_MARGIN = 0.12
"""Ground shown around the carbs in the close-up, as a share of their size."""

MAX_CLOSE_UP = 0.75
"""Height of the close-up at most, as a share of its width."""

Region = tuple[int, int, int, int]
Pixels = NDArray[np.uint8]


def annotate(pixels: Pixels, photo: Mapping[str, Any]) -> Pixels:
    """Draw one entry of an inspection's `photos` on its upright RGB picture (H, W, 3).

    Returns a new RGB picture of at most MAX_SIDE pixels on the longer side. From top to
    bottom: the photo with boxes, holes and dials; if the carbs are small in it, a close-up
    that has the details instead; a strip with every reading in words.
    """
    height, width = pixels.shape[:2]
    close_up = close_up_region(photo["carbs"], width, height)
    shapes = height / width
    if close_up is not None:
        shapes += (close_up[3] - close_up[1]) / (close_up[2] - close_up[0])
    target = float(min(MAX_SIDE, max(width, MIN_WIDTH)))
    strip = strip_of(round(target), photo)
    for _ in range(6):  # the strip's height depends on the width it is wrapped to
        total = target * shapes + len(strip)
        if total <= MAX_SIDE:
            break
        target *= 0.995 * MAX_SIDE / total
        strip = strip_of(round(target), photo)
    out = round(target)
    whole = (0, 0, width, height)
    parts = [_view(pixels, whole, out, photo["carbs"], details=close_up is None)]
    if close_up is not None:
        parts.append(_view(pixels, close_up, out, photo["carbs"], details=True))
    return np.concatenate([*parts, strip])


def close_up_region(carbs: Sequence[Mapping[str, Any]], width: int, height: int) -> Region | None:
    """Part of the photo (x0, y0, x1, y1) that holds all carbs, or None if they are large."""
    if not carbs or min(c["box"][2] - c["box"][0] for c in carbs) >= FAR_SHARE * width:
        return None
    boxes = np.array([carb["box"] for carb in carbs], dtype=np.float64)
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    size = (high - low) * (1 + 2 * CLOSE_UP_MARGIN)
    size[0] = max(size[0], size[1] / MAX_CLOSE_UP)
    if size[0] > 0.8 * width:
        return None
    corner = (low + high - size) / 2
    x0, y0 = np.clip(np.floor(corner), 0, None).astype(int).tolist()
    x1, y1 = np.ceil(corner + size).astype(int).tolist()
    return x0, y0, min(x1, width), min(y1, height)


def _view(
    pixels: Pixels, region: Region, width: int, carbs: Sequence[Mapping[str, Any]], *, details: bool
) -> Pixels:
    x0, y0, x1, y1 = region
    scale = width / (x1 - x0)
    size = (width, max(1, round((y1 - y0) * scale)))
    way = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    part = cv2.resize(pixels[y0:y1, x0:x1], size, interpolation=way)
    canvas = Canvas(np.asarray(part, dtype=np.uint8))
    for carb in carbs:
        evidence = read_evidence(carb, scale, (x0, y0))
        draw_box(canvas, evidence, carb["position"])
        if details:
            draw_flange(canvas, evidence)
            bearing = carb["features"]["mark_bearing_deg"]
            draw_dial(canvas, evidence, bearing["value"] if bearing["status"] == "seen" else None)
    return canvas.finished()
