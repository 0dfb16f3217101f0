"""What to photograph next, from what the photographs of one inspection could not show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from carbpair.pair import NAMES

if TYPE_CHECKING:
    from carbpair.inspection import PhotoInspection


def advice_for(photos: Sequence[PhotoInspection], loose: int) -> list[str]:
    """What to photograph next, in plain words, most useful first."""
    carbs = [c for p in photos for c in p.carbs]
    if not carbs:
        return [
            "No carburettor was found. Photograph the pair from the air-intake side, both in frame."
        ]
    out = []
    if loose and not any(c.position for c in carbs):
        out.append(
            "Take one photo with both carbs in frame, so that left and right can be told apart."
        )
    reasons = {k: {c.features[k].reason for c in carbs} for k in NAMES}
    shown = {k: any(c.features[k].status == "seen" for c in carbs) for k in NAMES}
    if not shown["flange_holes"]:
        if "filter_fitted" in reasons["flange_holes"]:
            out.append(
                "The flange is hidden by the filter: "
                "take the filter off and photograph the intakes square on."
            )
        else:
            out.append(
                "Photograph the air intakes square on and closer: "
                "the flange should fill a quarter of the picture."
            )
    if not shown["mark_bearing_deg"]:
        out.append(
            "Photograph the covers from above and in front, with light from the side, "
            "so that the mark on the rim shows."
        )
    if not shown["bowl_side"]:
        out.append("Step back until both carbs and what stands beside them are in frame.")
    return out
