"""Match located carbs to true ones, and say what of a true carb could be read at all."""

from __future__ import annotations

from typing import Any

import numpy as np

from carbpair.vision.locator import overlap

FOUND = 0.4
"""Least intersection over union of a found box."""

MIN_HOLE_FACING = 0.34
"""A flange turned more than 70 degrees away is not counted as "all holes in view"."""

MIN_THROAT_PX = 24.0
MIN_MARK_PX = 8.0
MARK_SEEN = 0.34


def visible(t: dict[str, Any], size: tuple[int, int]) -> bool:
    """Whether a true carb is there to be found: mostly in frame and its cover not hidden."""
    return bool(t["in_front"] and t["in_frame"] >= 0.6 and t["seen"]["cover"] >= 0.2)


def clipped_box(t: dict[str, Any], size: tuple[int, int]) -> tuple[float, float, float, float]:
    """The true box cut to the photograph."""
    x0, y0, x1, y1 = t["box"]
    w, h = size
    return max(0.0, x0), max(0.0, y0), min(float(w), x1), min(float(h), y1)


def match(
    truth: list[dict[str, Any]],
    boxes: list[tuple[float, float, float, float]],
    size: tuple[int, int],
) -> dict[int, int]:
    """Index of the found box for each true carb, greedily by overlap."""
    pairs = [
        (overlap(clipped_box(t, size), b), i, j)
        for i, t in enumerate(truth)
        for j, b in enumerate(boxes)
        if t["in_front"]
    ]
    out: dict[int, int] = {}
    for o, i, j in sorted(pairs, reverse=True):
        if o >= FOUND and i not in out and j not in out.values():
            out[i] = j
    return out


def throat_px(t: dict[str, Any]) -> float:
    """Larger diameter of the true throat in pixels."""
    k = np.asarray(t["keypoints"])
    return float(max(np.linalg.norm(k[8] - k[9]), np.linalg.norm(k[10] - k[11])))


def holes_in_view(t: dict[str, Any], size: tuple[int, int]) -> bool:
    """All bolt holes in view: no filter, each 60 % seen, flange within 70 degrees, throat 24 px."""
    return bool(
        not t["filtered"]
        and min(t["bolt_seen"]) >= 0.6
        and t["facing"] >= MIN_HOLE_FACING
        and throat_px(t) >= MIN_THROAT_PX
    )


def mark_in_view(t: dict[str, Any]) -> bool:
    """The mark is seen and at least 8 px long."""
    return bool(t["seen"]["mark"] >= MARK_SEEN and t["mark_px"] >= MIN_MARK_PX)


def bowl_in_view(t: dict[str, Any]) -> bool:
    """A side bowl shows 12 % of itself; an integral one is judged where the underside shows."""
    seen = t["seen"]["bowl"] >= 0.12 if t["hand"] else t["seen"]["under"] >= 0.2
    return bool(seen and t["in_frame"] > 0.8)


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
        out += [
            (r, r["truth"][i], carbs[j])
            for i, j in found.items()
            if visible(r["truth"][i], r["size"])
        ]
    return out
