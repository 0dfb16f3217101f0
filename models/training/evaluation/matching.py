"""Kept readings matched to the packed renders' truth; what "in view" means is the package's."""

from __future__ import annotations

from typing import Any

from carbpair.evaluate.matching import match_boxes
from carbpair.evaluate.render_truth import clipped_box, visible


def match(
    truth: list[dict[str, Any]],
    boxes: list[tuple[float, float, float, float]],
    size: tuple[int, int],
) -> dict[int, int]:
    """Index of the found box for each true carb in front of the camera, greedily by overlap."""
    ahead = [i for i, t in enumerate(truth) if t["in_front"]]
    found = match_boxes([clipped_box(truth[i], size) for i in ahead], boxes)
    return {ahead[i]: j for i, j in found.items()}


def side_of(t: dict[str, Any], truth: list[dict[str, Any]]) -> str | None:
    """True bowl side: with two carbs, by where the carb stands; "none" always."""
    if t["hand"] == 0:
        return "none"
    if len(truth) != 2:
        return None
    left = t["y"] == min(x["y"] for x in truth)
    return "inboard" if (t["hand"] == 1) == left else "outboard"


def pairs_of(rows: list[dict[str, Any]]) -> list[tuple[dict[str, Any], dict[str, Any], Any]]:
    """(row, true carb, its inspection) of every visible carb that was found."""
    out = []
    for r in rows:
        carbs = r["inspection"].carbs
        found = match(r["truth"], [c.box for c in carbs], r["size"])
        out += [(r, r["truth"][i], carbs[j]) for i, j in found.items() if visible(r["truth"][i])]
    return out
