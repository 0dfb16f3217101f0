"""Weak finds: confirmed by the refiner, more strictly where they are alone."""

from dataclasses import replace

import numpy as np
import pytest

from carbpair.vision.calibration import Calibration
from carbpair.vision.confirmation import standing
from carbpair.vision.landmarks import Landmarks

LIMITS = Calibration(weak_score=0.6, weak_landmarks=0.9, weak_refined=0.65, lone_refined=0.9)


def marks(certainty: float, refined: float | None) -> Landmarks:
    made = Landmarks(
        points=np.zeros((13, 2)),
        confidence=np.full(13, certainty),
        diaphragm=0.0,
        filtered=0.0,
        hand=np.zeros(3),
        bowl_readable=1.0,
        flange_readable=1.0,
        mark_readable=1.0,
    )
    return made if refined is None else replace(made, refined=np.full(12, refined))


WEAK = marks(0.7, 0.8)
"""Confirmed beside another carb, not alone."""


@pytest.mark.parametrize(
    ("finds", "expected"),
    [
        ([], []),
        ([(0.8, marks(0.7, None))], [0]),  # the locator is sure
        ([(0.3, marks(0.95, None))], [0]),  # the reader is
        ([(0.3, WEAK)], []),
        ([(0.3, marks(0.7, 0.9))], [0]),  # the refiner is
        ([(0.8, marks(0.7, None)), (0.3, WEAK)], [0, 1]),
        ([(0.3, WEAK), (0.4, WEAK)], [0, 1]),  # two that look alike are a pair
        ([(0.3, WEAK), (0.4, marks(0.7, 0.6))], []),
        ([(0.8, marks(0.7, None)), (0.3, marks(0.7, None))], [0]),
    ],
)
def test_which_finds_stand(finds, expected) -> None:
    assert standing([s for s, _ in finds], [m for _, m in finds], LIMITS) == expected


def test_what_a_person_drew_stands_and_is_company() -> None:
    assert standing([1.0], [marks(0.1, None)], LIMITS, drawn=1) == [0]
    assert standing([1.0, 0.3], [marks(0.1, None), WEAK], LIMITS, drawn=1) == [0, 1]
