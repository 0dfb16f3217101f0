"""Numbers by which renders and photographs can be told apart: spectrum, noise, contrast, colour.

Pictures are RGB uint8 (H, W, 3). Each function names its published source; lengths are pixels of
the picture as given, so compare pictures of like size.
"""

from __future__ import annotations

from collections.abc import Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Field = NDArray[np.float64]

BANDS = (0.02, 0.05, 0.1, 0.2, 0.35)
"""Edges of the frequency bands, cycles per pixel."""

SIDE = 512
"""Side of the central square that is looked at."""


def square(picture: Picture, side: int = SIDE) -> Picture:
    """The central square of a picture, shrunk only if a side is less than twice as long."""
    h, w = picture.shape[:2]
    least = min(h, w)
    y0, x0 = (h - least) // 2, (w - least) // 2
    cut = picture[y0 : y0 + least, x0 : x0 + least]
    if least >= side:
        y0 = (least - side) // 2
        return np.ascontiguousarray(cut[y0 : y0 + side, y0 : y0 + side])
    return np.asarray(cv2.resize(cut, (side, side), interpolation=cv2.INTER_CUBIC), np.uint8)


def luminance(picture: Picture) -> Field:
    """Luma of Rec. 709 in [0, 1] (ITU-R BT.709-6)."""
    return np.asarray(picture @ np.array([0.2126, 0.7152, 0.0722]) / 255.0)


def spectrum(grey: Field) -> tuple[Field, Field]:
    """Radial mean of the power spectrum: frequencies in cycles per pixel, and power.

    A Hann window keeps the picture's edges out of it.
    """
    h, w = grey.shape
    window = np.hanning(h)[:, None] * np.hanning(w)[None]
    power = np.abs(np.fft.rfft2((grey - grey.mean()) * window)) ** 2
    f = np.hypot(np.fft.fftfreq(h)[:, None], np.fft.rfftfreq(w)[None])
    edges = np.linspace(0, 0.5, min(h, w) // 2 + 1)
    which = np.digitize(f.ravel(), edges) - 1
    keep = (which >= 0) & (which < len(edges) - 1)
    total = np.bincount(which[keep], power.ravel()[keep], len(edges) - 1)
    count = np.bincount(which[keep], minlength=len(edges) - 1)
    return (edges[:-1] + edges[1:]) / 2, total / np.maximum(count, 1)


def slope(frequency: Field, power: Field) -> float:
    """Exponent a of power ~ frequency^-a between 0.02 and 0.35 cycles per pixel.

    About 2 in photographs of natural scenes (Field 1987, J. Opt. Soc. Am. A 4).
    """
    keep = (frequency >= BANDS[0]) & (frequency <= BANDS[-1]) & (power > 0)
    x, y = np.log(frequency[keep]), np.log(power[keep])
    return float(-np.polyfit(x, y, 1)[0])


def noise_sigma(grey: Field) -> float:
    """Standard deviation of noise (Immerkær 1996, Comput. Vis. Image Underst. 64), in [0, 1]."""
    mask = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], float)
    answer = np.abs(cv2.filter2D(grey, -1, mask)[1:-1, 1:-1])
    return float(np.sqrt(np.pi / 2) * answer.mean() / 6)


def colourfulness(picture: Picture) -> float:
    """Hasler and Süsstrunk 2003 ("Measuring colourfulness in natural images", SPIE 5007)."""
    r, g, b = (picture[..., k].astype(float) for k in range(3))
    rg, yb = r - g, 0.5 * (r + g) - b
    spread = np.hypot(rg.std(), yb.std())
    return float(spread + 0.3 * np.hypot(rg.mean(), yb.mean()))


def statistics(picture: Picture) -> dict[str, float]:
    """All numbers of one picture."""
    cut = square(picture)
    grey = luminance(cut)
    frequency, power = spectrum(grey)
    bands = np.histogram(frequency, BANDS, weights=power)[0]
    chroma = cv2.cvtColor(cut, cv2.COLOR_RGB2HSV)[..., 1] / 255.0
    gradient = np.hypot(np.diff(grey, axis=0)[:, :-1], np.diff(grey, axis=1)[:-1])
    low, high = np.quantile(grey, [0.05, 0.95])
    out = {
        "spectrum slope": slope(frequency, power),
        "noise": noise_sigma(grey),
        "contrast (standard deviation)": float(grey.std()),
        "contrast (5 to 95 %)": float(high - low),
        "brightness": float(grey.mean()),
        "burnt out": float((cut >= 254).all(2).mean()),
        "black": float((cut <= 3).all(2).mean()),
        "saturation": float(chroma.mean()),
        "colourfulness": colourfulness(cut),
        "cast (red over blue)": float((cut[..., 0].mean() + 1) / (cut[..., 2].mean() + 1)),
        "edges (kurtosis of gradient)": _kurtosis(gradient),
    }
    for a, b, v in zip(BANDS[:-1], BANDS[1:], bands, strict=True):
        out[f"log power {a:g} to {b:g}"] = float(np.log(max(v, 1e-12)))
    return out


def _kurtosis(x: Field) -> float:
    d = x - x.mean()
    return float((d**4).mean() / max((d**2).mean() ** 2, 1e-18))


def table(rows: list[Mapping[str, float]]) -> tuple[list[str], Field]:
    """Names and an array (pictures, numbers)."""
    names = list(rows[0])
    return names, np.array([[r[n] for n in names] for r in rows])
