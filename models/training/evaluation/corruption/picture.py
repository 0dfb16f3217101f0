"""What every corruption works on: pictures in [0, 1], linear light, lengths by the width."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Field = NDArray[np.float32]
Truths = list[dict[str, Any]]

REFERENCE_WIDTH = 1280
GAMMA = 2.2


def scaled(length: float, picture: Picture) -> float:
    """A length of a 1280-pixel picture in the pixels of this one."""
    return float(length * picture.shape[1] / REFERENCE_WIDTH)


def to_unit(picture: Picture) -> Field:
    """Values in [0, 1]."""
    return np.asarray(picture, np.float32) / np.float32(255)


def to_linear(picture: Picture) -> Field:
    """Light in [0, 1], the display's curve undone."""
    return np.asarray(to_unit(picture) ** GAMMA, np.float32)


def stored(unit: NDArray[Any]) -> Picture:
    """uint8 of values in [0, 1], clipped."""
    return np.asarray(np.clip(unit, 0, 1) * 255 + 0.5, np.uint8)


def from_linear(light: NDArray[Any]) -> Picture:
    """uint8 of linear light, clipped."""
    return stored(np.clip(light, 0, 1) ** (1 / GAMMA))


def cloud(rng: np.random.Generator, h: int, w: int, slope: float) -> Field:
    """Random field (h, w) in [0, 1] whose power falls as frequency^-slope."""
    f = np.hypot(np.fft.fftfreq(h)[:, None] * h, np.fft.rfftfreq(w)[None] * w)
    spectrum = np.maximum(f, 1.0) ** (-slope / 2) * np.exp(2j * np.pi * rng.random(f.shape))
    field = np.fft.irfft2(spectrum, s=(h, w))
    low, high = field.min(), field.max()
    return np.asarray((field - low) / max(high - low, 1e-9), np.float32)
