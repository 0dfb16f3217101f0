"""What happens in the lens: out of focus, moved while exposing, dirty front glass."""

from __future__ import annotations

import cv2
import numpy as np

from .picture import Picture, Truths, cloud, scaled, stored, to_unit

BLUR_SIGMA_PX = (0.8, 1.4, 2.2, 3.2, 4.5)
"""Our own: ImageNet-C blurs pictures of 224 pixels by 1 to 6, which here would leave nothing."""

MOTION_PX = (5.0, 9.0, 14.0, 20.0, 28.0)
DIRT_COVER = (0.06, 0.12, 0.2, 0.3, 0.42)
DIRT_BLUR_PX = 9.0
DIRT_SHADE = 0.62


def blur(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Gaussian blur."""
    sigma = scaled(BLUR_SIGMA_PX[severity - 1], picture)
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), sigma), np.uint8), truth


def motion(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """The phone moved along a straight line while it exposed."""
    length = scaled(MOTION_PX[severity - 1], picture)
    angle = float(rng.uniform(0, np.pi))
    half = int(np.ceil(length / 2)) + 1
    side = 2 * half + 1
    fine = 8
    kernel = np.zeros((side * fine, side * fine), np.uint8)
    middle = np.array([side * fine / 2, side * fine / 2])
    step = np.array([np.cos(angle), np.sin(angle)]) * length * fine / 2
    ends = [tuple(int(v) for v in np.round(middle + s * step)) for s in (-1, 1)]
    cv2.line(kernel, ends[0], ends[1], 255, fine)
    weights = cv2.resize(kernel.astype(np.float32), (side, side), interpolation=cv2.INTER_AREA)
    moved = cv2.filter2D(to_unit(picture), -1, weights / weights.sum())
    return stored(moved), truth


def dirt(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Greasy smears on the front glass: what lies behind them is soft and dull."""
    h, w = picture.shape[:2]
    field = cloud(rng, h, w, 3.0)
    cover = DIRT_COVER[severity - 1]
    level = float(np.quantile(field, 1 - cover))
    mask = np.clip((field - level) / 0.06 + 0.5, 0, 1).astype(np.float32)
    mask = cv2.GaussianBlur(mask, (0, 0), scaled(DIRT_BLUR_PX, picture))[..., None]
    unit = to_unit(picture)
    soft = cv2.GaussianBlur(unit, (0, 0), scaled(DIRT_BLUR_PX, picture))
    dull = DIRT_SHADE * soft + 0.12 * float(unit.mean())
    return stored(unit * (1 - mask) + dull * mask), truth
