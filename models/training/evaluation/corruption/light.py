"""What the light does: too dark, glare, fog, wrong white balance, a flash in the middle."""

from __future__ import annotations

import numpy as np

from .picture import Picture, Truths, cloud, from_linear, stored, to_linear, to_unit

STOPS = (1.0, 1.7, 2.4, 3.0, 3.6)
"""Exposure lost; our own: the brightness of ImageNet-C only goes up."""

READ_NOISE = 0.004
"""Noise of the sensor in linear light, which a dark picture shows."""

GLARE = (0.15, 0.3, 0.5, 0.75, 1.1)
GLARE_RADIUS = 0.22
FOG = ((1.5, 2.0), (2.0, 2.0), (2.5, 1.7), (2.5, 1.5), (3.0, 1.4))
"""Fog of ImageNet-C: strength and decay of a plasma fractal; here a field of the same slope."""

CAST = (1.15, 1.3, 1.5, 1.75, 2.0)
"""Red over blue (or blue over red) against the right white balance."""

FLASH = (0.8, 1.6, 3.0, 5.0, 8.0)
FLASH_RADIUS = 0.3


def dark(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Too little light, and the noise that comes with it."""
    light = to_linear(picture) * 2.0 ** -STOPS[severity - 1]
    field = rng.standard_normal(light.shape, dtype=np.float32)
    return from_linear(light + READ_NOISE * field), truth


def glare(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """The sun just outside or inside the picture: a bright veil with a core and a streak."""
    h, w = picture.shape[:2]
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    at = rng.uniform(0.1, 0.9, 2) * (w, h)
    angle = float(rng.uniform(0, np.pi))
    dx, dy = (xx - at[0]) / w, (yy - at[1]) / w
    veil = np.exp(-np.hypot(dx, dy) / GLARE_RADIUS)
    across = dx * np.sin(angle) - dy * np.cos(angle)
    streak = np.exp(-((across / 0.012) ** 2)) * np.exp(-np.hypot(dx, dy) / 0.3)
    light = to_linear(picture) + GLARE[severity - 1] * (veil + 0.8 * streak)[..., None]
    return from_linear(light), truth


def fog(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Breath or steam before the lens."""
    strength, decay = FOG[severity - 1]
    h, w = picture.shape[:2]
    unit = to_unit(picture)
    field = cloud(np.random.default_rng(int(rng.integers(2**31))), h, w, 1.0 + decay)
    top = float(unit.max())
    return stored((unit + strength * field[..., None]) * top / (top + strength)), truth


def colour_cast(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """White balance for another light: a lamp's orange or the shade's blue."""
    ratio = CAST[severity - 1]
    warm = bool(rng.random() < 0.5)
    gain = np.array([ratio**0.5, 1.0, ratio**-0.5], np.float32)
    return from_linear(to_linear(picture) * (gain if warm else gain[::-1])), truth


def flash(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """A flash too near: burnt out in the middle, exposed for it at the edges."""
    h, w = picture.shape[:2]
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    at = rng.uniform(0.35, 0.65, 2) * (w, h)
    spot = np.exp(-(((xx - at[0]) ** 2 + (yy - at[1]) ** 2) / (FLASH_RADIUS * w) ** 2))
    k = FLASH[severity - 1]
    light = to_linear(picture) * (1 + k * spot[..., None]) / (1 + 0.15 * k)
    return from_linear(light), truth
