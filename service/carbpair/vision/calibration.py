"""Temperatures and thresholds, fitted on calibration renders and shipped beside the weights."""

import json
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

FILE = "calibration.json"


@dataclass(frozen=True, slots=True)
class Calibration:
    """What turns network outputs into answers.

    `*_temperature` divide logits; `*_threshold` are the least probability for an answer
    (`holes_unverified_threshold`: where too few holes were found to check the pattern);
    `landmark_confidence` is the least certainty of landmarks that anything is answered from;
    `landmark_relief` and `landmark_floor` say how much less confirms a find that the locator is
    surer of: such a carb is shown, and what is read on it stays unsure;
    a find of a locator score under `weak_score` and landmarks less certain than `weak_landmarks` is
    weak (both limits are judgements): it stands only if the refiner found its landmarks again,
    its median confidence at least `weak_refined`, and at least `lone_refined` where no other find
    stands in the photo;
    a bearing is answered from `mark_threshold` on, on the half of the rim that faces away from the
    camera from `mark_threshold_far` on, and only where the rim's landmarks that say what is front
    have at least `frame_certainty`;
    `bearing_sd_deg` is added in quadrature to the rim reader's own spread for the error of the
    carb's frame.
    """

    locator_threshold: float = 0.2
    landmark_confidence: float = 0.7
    landmark_relief: float = 1.0
    landmark_floor: float = 0.5
    weak_score: float = 0.6
    weak_landmarks: float = 0.9
    weak_refined: float = 0.65
    lone_refined: float = 0.9
    holes_temperature: float = 1.0
    holes_threshold: float = 0.75
    holes_unverified_threshold: float = 0.9
    hole_peak: float = 0.3
    layout_threshold: float = 0.9
    hand_temperature: float = 1.0
    hand_threshold: float = 0.9
    bowl_readable: float = 0.3
    chamber_temperature: float = 1.0
    chamber_threshold: float = 0.9
    filter_temperature: float = 1.0
    filter_threshold: float = 0.85
    flange_readable: float = 0.3
    mark_threshold: float = 0.8
    mark_threshold_far: float = 0.8
    frame_certainty: float = 0.8
    mark_temperature: float = 1.0
    bearing_sd_deg: float = 1.5
    verdict_threshold: float = 0.9

    def least_certainty(self, score: float) -> float:
        """The least certainty of landmarks that confirms a find of this locator score."""
        relief = self.landmark_relief * max(0.0, score - self.locator_threshold)
        return max(self.landmark_floor, self.landmark_confidence - relief)

    def weak(self, score: float, certainty: float) -> bool:
        """Whether neither locator nor reader is sure of a find."""
        return score < self.weak_score and certainty < self.weak_landmarks


@cache
def load_calibration(folder: Path) -> Calibration:
    """The calibration of a model folder. Raises ValueError for an unknown or missing entry."""
    path = folder / FILE
    if not path.is_file():
        return Calibration()
    values: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))["values"]
    known = {f.name for f in fields(Calibration)}
    if unknown := sorted(set(values) - known):
        raise ValueError(f"{path}: unknown entries {', '.join(unknown)}")
    return Calibration(**values)
