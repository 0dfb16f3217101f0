"""From linear light to what a phone stores: exposure, colour, noise, tone, sharpening, JPEG."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

KEY = (0.12, 0.38)
"""Range of the middle tone after exposure, linear."""

BRIGHTEST = (0.7, 2.2)
"""Range of what the brightest few per cent may reach, 1 being burnt out without the shoulder."""


@dataclass(frozen=True)
class Phone:
    """One phone's handling of one photograph; every picture cut from it is handled alike."""

    gain: float
    white: tuple[float, float, float]
    shot: float
    read: float
    contrast: float
    shoulder: float
    saturation: float
    smooth: float
    sharpen: float
    halo: float
    quality: int


def draw_phone(rng: np.random.Generator, linear: NDArray[np.float32], evaluation: bool) -> Phone:
    """Meter a linear picture (H, W, 3) and draw a phone; evaluation uses its own ranges.

    The middle tone of the metered field goes to a key around 0.18 (Reinhard and others 2002, ACM
    Trans. Graph. 21), darker where too much of the field would burn out; some photographs are
    exposed for something else.
    """
    lum = linear @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    h, w = lum.shape
    metered = np.maximum(lum[h // 8 : -h // 8, w // 8 : -w // 8], 1e-5)
    key = float(np.exp(rng.uniform(*np.log(KEY))))
    middle = float(np.exp(np.log(metered).mean()))
    bright = float(np.percentile(metered, rng.uniform(96.0, 99.5)))
    gain = min(key / middle, float(rng.uniform(*BRIGHTEST)) / bright)
    gain *= float(np.exp(rng.normal(0.1, 0.5) if rng.random() < 0.1 else rng.normal(0, 0.15)))
    white = np.exp(rng.normal(0, 0.09 if evaluation else 0.07, 3))
    white /= white[1]
    return Phone(
        gain=gain,
        white=(float(white[0]), 1.0, float(white[2])),
        shot=float(np.exp(rng.uniform(np.log(0.004), np.log(0.045 if evaluation else 0.04)))),
        read=float(rng.uniform(0.0, 0.006)),
        contrast=float(rng.uniform(0.85, 1.2)),
        shoulder=float(rng.uniform(0.4, 0.85) if evaluation else rng.uniform(0.45, 0.9)),
        saturation=float(rng.uniform(0.7, 1.3)),
        smooth=float(rng.uniform(0.02, 0.10)) if rng.random() < 0.85 else 0.0,
        sharpen=float(rng.choice([0, 1], p=[0.35, 0.65]) * rng.uniform(0.2, 1.5)),
        halo=float(rng.uniform(0.6, 1.8)),
        quality=int(rng.integers(62, 97)),
    )


def develop(
    phone: Phone, linear: NDArray[np.float32], rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Linear RGB (H, W, 3) to the stored picture, uint8 RGB (H, W, 3), JPEG artefacts included."""
    x = linear * phone.gain * np.asarray(phone.white, np.float32)
    noise = rng.standard_normal(x.shape, dtype=np.float32)
    x = x + noise * np.sqrt(np.maximum(x, 0) * phone.shot**2 + phone.read**2).astype(np.float32)
    x = np.clip(x, 0, None)
    knee = phone.shoulder
    x = np.where(
        x < knee, x, knee + (1.04 - knee) * (1 - np.exp(-(x - knee) / max(1.04 - knee, 1e-3)))
    )
    x = np.clip(x, 0, 1) ** (1 / 2.2)
    x = (
        np.clip(0.5 + (x - 0.5) * phone.contrast, 0, 1)
        if phone.contrast > 1
        else x * phone.contrast + (1 - phone.contrast) * 0.4 * x
    )
    grey = x.mean(2, keepdims=True)
    x = np.clip(grey + (x - grey) * phone.saturation, 0, 1).astype(np.float32)
    if (
        phone.smooth > 0
    ):  # phones denoise before they sharpen; so path-tracing noise is not sharpened either
        x = cv2.bilateralFilter(x, 5, phone.smooth, 1.6)
    if phone.sharpen > 0:
        soft = cv2.GaussianBlur(x, (0, 0), phone.halo)
        x = np.clip(x + phone.sharpen * (x - soft), 0, 1)
    out = (x * 255 + 0.5).astype(np.uint8)
    ok, data = cv2.imencode(".jpg", out[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, phone.quality])
    decoded = cv2.imdecode(data, cv2.IMREAD_COLOR)
    assert ok
    assert decoded is not None
    return np.ascontiguousarray(decoded[..., ::-1]).astype(np.uint8)
