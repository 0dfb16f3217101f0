"""One picture with its truth, corrupted: a pure function of picture, kind, severity and seed.

The five severities of one kind and seed share their draws (place, direction, pattern), so that
only the strength differs between them. Where a definition is published it is used, and named at
the function: D. Hendrycks and T. Dietterich, "Benchmarking neural network robustness to common
corruptions and perturbations", ICLR 2019 ("ImageNet-C"; its numbers are given from memory).
Lengths are stated for a picture 1280 pixels wide and scale with it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import lens, light, obstacle, stored, view
from .picture import Picture, Truths

SEVERITIES = (1, 2, 3, 4, 5)

Corruption = Callable[[Picture, Truths, int, np.random.Generator], tuple[Picture, Truths]]

KINDS: dict[str, Corruption] = {
    "blur": lens.blur,
    "noise": stored.noise,
    "jpeg": stored.jpeg,
    "dark": light.dark,
    "glare": light.glare,
    "fog": light.fog,
    "dirt": lens.dirt,
    "crop": view.crop,
    "tilt": view.tilt,
    "hose": obstacle.hose,
    "sticker": obstacle.sticker,
    "colour_cast": light.colour_cast,
    "low_resolution": stored.low_resolution,
    "flash": light.flash,
    "motion": lens.motion,
}


@dataclass(frozen=True)
class Corrupted:
    """Picture uint8 RGB (H, W, 3), which may have another size, and the truth of its carbs."""

    picture: NDArray[np.uint8]
    truth: list[dict[str, Any]]


def corrupt(
    picture: NDArray[np.uint8],
    truth: Sequence[dict[str, Any]],
    kind: str,
    severity: int,
    seed: int,
) -> Corrupted:
    """Corrupt a picture. Raises KeyError for an unknown kind, ValueError for a severity."""
    if severity not in SEVERITIES:
        raise ValueError(f"severity is 1 to 5, not {severity}")
    rng = np.random.default_rng([seed, list(KINDS).index(kind)])
    done, moved = KINDS[kind](picture, list(truth), severity, rng)
    return Corrupted(done, moved)
