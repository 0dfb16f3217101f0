"""Every answer of a set of photos, right or wrong, whether its feature counts as in view or not.

For scenes made to mislead: staying silent is allowed, each answer must be right. Where left and
right cannot be known (one carb, or three), a bowl called inboard or outboard is wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from carbpair.evaluate.candidate import TOLERANCE_DEG
from carbpair.evaluate.intervals import share
from carbpair.evaluate.scored import Found, Scored, text
from carbpair.evaluate.truth import BEARING, FEATURES
from carbpair.geometry.angles import wrap_deg

ASKED = tuple(n for n in FEATURES if n != "mark_verdict")


def answers_table(photos: Sequence[Scored]) -> dict[str, Any]:
    """By group: carbs found, answers wrong by feature, and carbs without any wrong answer."""
    groups: dict[str, list[Scored]] = {}
    for p in photos:
        groups.setdefault(p.truth.group or "all", []).append(p)
    return {name: _group(some) for name, some in groups.items()}


def _group(photos: Sequence[Scored]) -> dict[str, Any]:
    found = [f for p in photos for f in p.found]
    asked = sum(t.present for p in photos for t in p.truth.carbs)
    extra = sum(len(p.inspection.carbs) - len(p.matched) for p in photos)
    wrong = {name: [judge(f, name) for f in found] for name in FEATURES}
    clean = sum(all(wrong[n][i] is not False for n in FEATURES) for i in range(len(found)))
    return {
        "pictures": len(photos),
        "found": share(len(found), asked),
        "boxes_without_a_carb": extra,
        "right_or_silent": share(clean, len(found)),
        "wrong": {
            name: share(sum(v is False for v in said), sum(v is not None for v in said))
            for name, said in wrong.items()
        },
        "silent": {
            name: share(sum(v is None for v in said), len(said)) for name, said in wrong.items()
        },
    }


def judge(found: Found, name: str) -> bool | None:
    """Whether the answer to a feature is right; None when there is none."""
    reading = found.carb.features[name]
    if reading.status != "seen":
        return None
    true = found.truth.values.get(name)
    if true is None:  # a side bowl of a carb that has no place in a pair
        return False
    if name == BEARING:
        return abs(wrap_deg(float(reading.value or 0.0) - float(true))) <= TOLERANCE_DEG
    return text(reading.value) == text(true)
