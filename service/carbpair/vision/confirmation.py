"""Which finds of the locator stand once reader and refiner have looked at them.

Carbs come in pairs: a find that nobody is sure of may be one of two, but alone it is more likely
something else that is round.
"""

from collections.abc import Sequence

from carbpair.vision.calibration import Calibration
from carbpair.vision.landmarks import Landmarks


def standing(
    scores: Sequence[float], marks: Sequence[Landmarks], calibration: Calibration, drawn: int = 0
) -> list[int]:
    """Indices of the finds that are carbs, in their order.

    `scores` are the locator's, `marks` the landmarks after the refiner. The first `drawn` finds
    were drawn by a person and stand.
    """
    weak = [calibration.weak(s, m.certainty) for s, m in zip(scores, marks, strict=True)]
    kept = [
        k
        for k, m in enumerate(marks)
        if k < drawn or not weak[k] or m.refined_certainty >= calibration.weak_refined
    ]
    if len(kept) == 1 and kept[0] >= drawn and weak[kept[0]]:
        alone = marks[kept[0]].refined_certainty
        return kept if alone >= calibration.lone_refined else []
    return kept
