"""Truth of rendered photographs, as `models/training/pack.py` writes it, and what is in view.

A packed render has ``{"seed": …, "carbs": […]}``; each carb has landmarks in pixels, the share of
each surface that the camera sees, and the style's values. The rules for "in view" are ours.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from carbpair.evaluate.truth import BEARING, Box, CarbTruth, PhotoTruth, verdict_of
from carbpair.geometry.hole_layout import nearest_layout, pattern_direction
from carbpair.geometry.homography import apply_homography, fit_homography
from carbpair.vision.feature import Value
from carbpair.vision.flange import REFERENCE

RIM_PER_DASHPOT = 1.15
"""Mean rim diameter over dashpot diameter of the drawn styles: sizes are stated by the dashpot."""

MIN_HOLE_FACING = 0.34
"""A flange turned more than 70 degrees away is not counted as "all holes in view"."""

FLAT_FACING = 0.1
"""A flange turned farther away shows no plane to undo."""

MIN_THROAT_PX = 24.0
MIN_MARK_PX = 8.0
MARK_SEEN = 0.34
MARK_UNSEEN = 0.05

Truth = Mapping[str, Any]
Size = tuple[int, int]


def is_render_truth(data: Any) -> bool:
    """Whether a JSON value is the truth of a packed render."""
    return (
        isinstance(data, dict)
        and isinstance(carbs := data.get("carbs"), list)
        and ("seed" in data or bool(carbs))
        and all(isinstance(c, dict) and "keypoints" in c and "mark_bearing" in c for c in carbs)
    )


def photo_truth(
    file: str, carbs: Sequence[Truth], size: Size, group: str | None = None
) -> PhotoTruth:
    """The truth of a rendered photo of (width, height) pixels."""
    ys = [float(c["y"]) for c in carbs]
    places: list[str | None] = [None] * len(carbs)
    if len(carbs) == 2:
        places = ["left", "right"] if ys[0] == min(ys) else ["right", "left"]
    found = (_carb(c, p, size) for c, p in zip(carbs, places, strict=True) if c["in_front"])
    return PhotoTruth(file, tuple(found), group=group)


def _carb(t: Truth, position: str | None, size: Size) -> CarbTruth:
    bearing = float(t["mark_bearing"])
    values: dict[str, Value] = {
        "flange_holes": int(t["flange_holes"]),
        BEARING: bearing,
        "mark_verdict": verdict_of(bearing),
        "chamber": str(t["chamber"]),
        "filter_fitted": bool(t["filtered"]),
    }
    if (side := _side(int(t["hand"]), position)) is not None:
        values["bowl_side"] = side
    if (lies := hole_layout(t)) is not None:
        values["hole_layout"] = lies
    in_view = {"chamber", "filter_fitted"}
    if holes_in_view(t):
        in_view |= {"flange_holes", "hole_layout"} & set(values)
    if bowl_in_view(t):
        in_view.add("bowl_side")
    if mark_in_view(t):
        in_view |= {BEARING, "mark_verdict"}
    hidden = {"flange_holes", "hole_layout"} if t["filtered"] else set()
    if t["seen"]["mark"] < MARK_UNSEEN:
        hidden |= {BEARING, "mark_verdict"}
    return CarbTruth(
        clipped_box(t, size), position, values, frozenset(in_view), frozenset(hidden),
        visible(t), float(t["rim_px"]) / RIM_PER_DASHPOT / size[0],
    )  # fmt: skip


def _side(hand: int, position: str | None) -> str | None:
    """Side of a bowl at a hand (−1 left, 0 none, 1 right); None where the pair is not known."""
    if hand == 0:
        return "none"
    if position is None:
        return None
    return "inboard" if (hand == 1) == (position == "left") else "outboard"


def visible(t: Truth) -> bool:
    """Whether a true carb is there to be found: mostly in frame and its cover not hidden."""
    return bool(t["in_front"] and t["in_frame"] >= 0.6 and t["seen"]["cover"] >= 0.2)


def clipped_box(t: Truth, size: Size) -> Box:
    """The true box cut to the photograph."""
    x0, y0, x1, y1 = (float(v) for v in t["box"])
    w, h = size
    return max(0.0, x0), max(0.0, y0), min(float(w), x1), min(float(h), y1)


def throat_px(t: Truth) -> float:
    """Larger diameter of the true throat in pixels."""
    k = np.asarray(t["keypoints"], float)
    return float(max(np.linalg.norm(k[8] - k[9]), np.linalg.norm(k[10] - k[11])))


def holes_in_view(t: Truth) -> bool:
    """All bolt holes in view: no filter, each 60 % seen, flange within 70 degrees, throat 24 px."""
    return bool(
        not t["filtered"]
        and min(t["bolt_seen"]) >= 0.6
        and t["facing"] >= MIN_HOLE_FACING
        and throat_px(t) >= MIN_THROAT_PX
    )


def hole_layout(t: Truth) -> str | None:
    """How the true bolt holes lie in the flange's plane; None where that is seen edge on."""
    if abs(t["facing"]) < FLAT_FACING:
        return None
    keypoints = np.asarray(t["keypoints"], float)
    plane = fit_homography(keypoints[7:12], REFERENCE)
    count = int(t["flange_holes"])
    bolts = apply_homography(plane, np.asarray(t["bolts"], float)[:count])
    return nearest_layout(pattern_direction(bolts, count), count)


def mark_in_view(t: Truth) -> bool:
    """The mark is seen and at least 8 px long."""
    return bool(t["seen"]["mark"] >= MARK_SEEN and t["mark_px"] >= MIN_MARK_PX)


def bowl_in_view(t: Truth) -> bool:
    """A side bowl shows 12 % of itself; an integral one is judged where the underside shows."""
    seen = t["seen"]["bowl"] >= 0.12 if t["hand"] else t["seen"]["under"] >= 0.2
    return bool(seen and t["in_frame"] > 0.8)
