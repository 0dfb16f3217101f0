"""The landmark reader: thirteen points of one carb and what can be said of it as a whole."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbpair.vision.crop import SIZE

KEYPOINTS = (
    "rim", "rim_front", "rim_back", "rim_right", "rim_left", "rim_axis", "cap",
    "throat", "throat_right", "throat_left", "throat_up", "throat_down", "bowl",
)  # fmt: skip
"""Points in the carb frame: the rim's centre and its four quarter points (front is towards the
intake), one rim radius up the axis, the cap's top; the throat's centre in the flange's face and
its four quarter points; the float bowl's lid."""

COMMON = 12
"""The first twelve points are those that every carb has; a bowl may hang unseen."""

FRAME = ("rim_front", "rim_back", "rim_right", "rim_left")

WINDOW = 3
"""A point is the mean of the probability within this many cells of the likeliest cell."""


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Points in view pixels (13, 2), the reader's confidence (13,), raw answers as logits.

    `refined`: the refiner's own confidence (12,) where the first twelve points are the refiner's;
    None where all are the reader's.
    """

    points: NDArray[np.float64]
    confidence: NDArray[np.float64]
    diaphragm: float
    filtered: float
    hand: NDArray[np.float64]
    bowl_readable: float
    flange_readable: float
    mark_readable: float
    refined: NDArray[np.float64] | None = None

    @property
    def certainty(self) -> float:
        """The reader's median confidence of the twelve points that every carb has, not the bowl."""
        return float(np.median(self.confidence[:COMMON]))

    @property
    def refined_certainty(self) -> float:
        """The refiner's median confidence of its twelve points; 0 where the reader's stay."""
        return 0.0 if self.refined is None else float(np.median(self.refined))

    @property
    def frame_certainty(self) -> float:
        """The least confidence of the rim's front, back, right and left, which say what is front.

        It is that of the network whose points they are.
        """
        of = self.confidence if self.refined is None else self.refined
        return float(min(of[KEYPOINTS.index(name)] for name in FRAME))

    def point(self, name: str) -> NDArray[np.float64]:
        """One point (2,) by name."""
        return np.asarray(self.points[KEYPOINTS.index(name)])


def decode(maps: NDArray[np.float32], answers: NDArray[np.float32]) -> Landmarks:
    """Landmarks from one crop's maps (13, 64, 64) and answers (8,)."""
    points, confidence = peaks(maps, SIZE / maps.shape[-1])
    return Landmarks(
        points, confidence,
        float(answers[0]), float(answers[1]), answers[2:5].astype(float),
        sigmoid(answers[5]), sigmoid(answers[6]), sigmoid(answers[7]),
    )  # fmt: skip


def peaks(
    maps: NDArray[np.float32], stride: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """One point and its confidence, 0 to 1, for each map of logits (K, n, n): (K, 2) and (K,).

    Cells are `stride` pixels wide; points are pixels from the maps' upper left corner. A map that
    is not finite throughout says nothing: its middle, with confidence 0.
    """
    cells = maps.shape[-1]
    points = np.full((len(maps), 2), cells / 2)
    confidence = np.zeros(len(maps))
    for k, logits in enumerate(maps):
        if not np.isfinite(logits).all():
            continue
        z = np.exp(logits - logits.max())
        z /= z.sum()
        y, x = divmod(int(z.argmax()), cells)
        y0, y1 = max(0, y - WINDOW), min(cells, y + WINDOW + 1)
        x0, x1 = max(0, x - WINDOW), min(cells, x + WINDOW + 1)
        part = z[y0:y1, x0:x1]
        mass = float(part.sum())
        ys, xs = np.arange(y0, y1) + 0.5, np.arange(x0, x1) + 0.5
        points[k] = (part.sum(0) @ xs / mass, part.sum(1) @ ys / mass)
        confidence[k] = mass
    return points * stride, confidence


def sigmoid(x: float) -> float:
    """Logistic function."""
    return float(1.0 / (1.0 + np.exp(-float(x))))


def softmax(logits: NDArray[np.float64], temperature: float = 1.0) -> NDArray[np.float64]:
    """Probabilities from logits (N,) at a temperature."""
    z = np.asarray(logits, float) / temperature
    z = np.exp(z - z.max())
    return np.asarray(z / z.sum())
