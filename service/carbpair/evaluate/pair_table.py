"""Pairs solved with one, two and three photos."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from carbpair.evaluate.intervals import share
from carbpair.evaluate.scored import Scored
from carbpair.inspection import pair_of
from carbpair.vision import Calibration
from carbpair.vision.feature import Value

ASKED = ("flange_holes", "bowl_side")
"""A pair is solved when these are answered, and rightly, for both carbs."""

MOST_PHOTOS = 3


def pair_table(
    photos: Sequence[Scored], calibration: Calibration, seed: int = 0
) -> dict[str, dict[str, Any]]:
    """Solved, and with a wrong answer, by number of photos; empty when no photo names its pair.

    A pair counts once, with photos drawn at random: `n` is the number of pairs that have so
    many photos.
    """
    pairs: dict[str, list[Scored]] = {}
    for p in photos:
        if p.truth.pair is not None and p.inspection.error is None:
            pairs.setdefault(p.truth.pair, []).append(p)
    rng = np.random.default_rng(seed)
    out: dict[str, dict[str, Any]] = {}
    for count in range(1, MOST_PHOTOS + 1):
        solved = wrong = n = 0
        for shots in pairs.values():
            true = _true(shots)
            if len(shots) < count or true is None:
                continue
            chosen = [shots[i] for i in rng.permutation(len(shots))[:count]]
            right, bad = _judge(chosen, true, calibration)
            n += 1
            solved += right
            wrong += bad
        if n:
            out[str(count)] = {"solved": share(solved, n), "with_a_wrong_answer": share(wrong, n)}
    return out


Sides = Mapping[str, Mapping[str, Value]]


def _true(shots: Sequence[Scored]) -> Sides | None:
    """What is true of left and right; None where it is not known of both."""
    sides: dict[str, dict[str, Value]] = {"left": {}, "right": {}}
    for carb in (c for s in shots for c in s.truth.carbs if c.position):
        sides[str(carb.position)].update({k: v for k, v in carb.values.items() if k in ASKED})
    return sides if all(len(v) == len(ASKED) for v in sides.values()) else None


def _judge(chosen: Sequence[Scored], true: Sides, calibration: Calibration) -> tuple[bool, bool]:
    pair = pair_of([s.inspection for s in chosen], calibration)
    right, wrong = 0, 0
    for side, values in true.items():
        carb = pair.carbs[side]
        for name, value in values.items():
            reading = None if carb is None else carb[name]
            if reading is not None and reading.status == "seen":
                right += reading.value == value
                wrong += reading.value != value
    return right == 2 * len(ASKED), wrong > 0
