"""Which located carb is which true one."""

from collections.abc import Sequence

from carbpair.evaluate.truth import Box, CarbTruth
from carbpair.inspection import CarbInspection
from carbpair.vision.locator import overlap

FOUND = 0.4
"""Least intersection over union of a found box."""


def match_boxes(truth: Sequence[Box], found: Sequence[Box]) -> dict[int, int]:
    """Index of the found box for each true one, greedily by overlap."""
    pairs = [(overlap(t, f), i, j) for i, t in enumerate(truth) for j, f in enumerate(found)]
    out: dict[int, int] = {}
    for o, i, j in sorted(pairs, reverse=True):
        if o >= FOUND and i not in out and j not in out.values():
            out[i] = j
    return out


def match(truth: Sequence[CarbTruth], found: Sequence[CarbInspection]) -> dict[int, int]:
    """Index of the found carb for each true one.

    By boxes where truth has them. Without boxes: by position as far as both sides know it; carbs
    without a position are taken from left to right in the photo when their numbers agree.
    """
    boxed = [i for i, t in enumerate(truth) if t.box is not None]
    boxes = [b for i in boxed if (b := truth[i].box) is not None]
    out = {boxed[i]: j for i, j in match_boxes(boxes, [c.box for c in found]).items()}
    loose = [i for i, t in enumerate(truth) if t.box is None]
    free = [j for j in range(len(found)) if j not in out.values()]
    for i in list(loose):
        place = truth[i].position
        same = [j for j in free if place is not None and found[j].position == place]
        if len(same) == 1:
            out[i] = same[0]
            loose.remove(i)
            free.remove(same[0])
    if loose and len(loose) == len(free):
        order = sorted(loose, key=lambda i: (truth[i].position == "right", i))
        across = sorted(free, key=lambda j: found[j].box[0] + found[j].box[2])
        # A known position that the other side contradicts is no match.
        for i, j in zip(order, across, strict=True):
            places = {truth[i].position, found[j].position} - {None}
            if len(places) <= 1:
                out[i] = j
    return out
