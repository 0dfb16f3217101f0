"""Which carbs were found, by size, and what was taken for one."""

from collections.abc import Sequence
from typing import Any

from carbpair.evaluate.intervals import share
from carbpair.evaluate.scored import Scored

SIZES = (("close_or_medium (8 % or more)", 0.08), ("4 to 8 %", 0.04), ("under 4 %", 0.0))
"""Bands of the dashpot's width over the photo's width, widest first."""

UNKNOWN = "size not known"


def locator_table(photos: Sequence[Scored]) -> dict[str, Any]:
    """Pairs with both carbs found and single carbs found, by size; boxes without a carb.

    A photo counts for pairs when exactly two of its carbs are there to be found. Photos without
    a true carb are counted apart.
    """
    both = {name: [0, 0] for name in _names()}
    each = {name: [0, 0] for name in _names()}
    extra = boxes = 0
    for p in photos:
        boxes += len(p.inspection.carbs)
        extra += len(p.inspection.carbs) - len(p.matched)
        seen = [i for i, t in enumerate(p.truth.carbs) if t.present]
        for i in seen:
            row = each[band(p.truth.carbs[i].size)]
            row[0] += 1
            row[1] += i in p.matched
        if len(seen) != 2:
            continue
        sizes = [s for i in seen if (s := p.truth.carbs[i].size) is not None]
        row = both[band(sum(sizes) / len(sizes) if len(sizes) == 2 else None)]
        row[0] += 1
        row[1] += all(i in p.matched for i in seen)
    empty = [p for p in photos if not p.truth.carbs]
    false = [p for p in empty if p.inspection.carbs]
    return {
        "both_found": _shares(both),
        "each_found": _shares(each),
        "boxes_without_a_carb": share(extra, boxes),
        "photographs_with_a_false_carb": share(len(false), len(empty)),
        "photographs_with_a_false_pair": share(
            sum(len(p.inspection.carbs) >= 2 for p in false), len(empty)
        ),
        "files_with_a_false_carb": [p.truth.file for p in false],
    }


def band(size: float | None) -> str:
    """Name of the size band of a dashpot's share of the photo's width."""
    if size is None:
        return UNKNOWN
    return next(name for name, least in SIZES if size >= least)


def _names() -> list[str]:
    return [*(name for name, _ in SIZES), UNKNOWN]


def _shares(counts: dict[str, list[int]]) -> dict[str, Any]:
    return {k: share(v[1], v[0]) for k, v in counts.items() if k != UNKNOWN or v[0]}
