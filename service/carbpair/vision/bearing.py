"""From the rim reader's bins to a bearing, its spread and the verdict on it."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbpair.geometry.angles import wrap_deg, wrap_deg_array
from carbpair.geometry.bearing import FACES_INTAKE_DEG
from carbpair.vision.landmarks import softmax
from carbpair.vision.rim import bin_bearings

LOBE_DEG = 9.0
"""Bins within this of the likeliest belong to the same mark."""


@dataclass(frozen=True, slots=True)
class BearingReading:
    """A mark's bearing: the chance that it is seen and is this one, mean and spread (degrees)."""

    probability: float
    none: float
    mean_deg: float
    sd_deg: float

    @property
    def interval_deg(self) -> tuple[float, float]:
        """90 % interval, wrapped into (−180, 180]."""
        half = 1.645 * self.sd_deg
        return wrap_deg(self.mean_deg - half), wrap_deg(self.mean_deg + half)

    @property
    def faces_intake(self) -> float:
        """Probability that the mark lies within 15° of the intake's direction."""
        m, s = self.mean_deg, max(self.sd_deg, 1e-3)
        edges = ((FACES_INTAKE_DEG - m) / s, (-FACES_INTAKE_DEG - m) / s)
        high, low = (0.5 * (1 + math.erf(e / math.sqrt(2))) for e in edges)
        return high - low


def decode(logits: NDArray[np.float32], temperature: float, frame_sd_deg: float) -> BearingReading:
    """Bearing from logits (181,): 180 bins of 2 degrees, then "no mark to be seen"."""
    p = softmax(logits.astype(float), temperature)
    none, bins = float(p[180]), p[:180]
    at = bin_bearings()
    blurred = bins + np.roll(bins, 1) + np.roll(bins, -1)
    top = at[int(blurred.argmax())]
    off = wrap_deg_array(at - top)
    near = np.abs(off) <= LOBE_DEG
    mass = float(bins[near].sum())
    weight = bins[near] / max(mass, 1e-12)
    shift = float(weight @ off[near])
    spread = float(weight @ (off[near] - shift) ** 2)
    sd = math.hypot(math.sqrt(max(spread, 0.0)), frame_sd_deg)
    return BearingReading(mass, none, wrap_deg(top + shift), sd)
