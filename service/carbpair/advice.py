"""What to photograph next, in plain words, from what the photographs so far did not show."""

from collections.abc import Mapping, Sequence
from typing import Protocol

from carbpair.pair import NAMES
from carbpair.vision import Feature


class JudgedCarb(Protocol):
    """A carb in one photograph: its place in the pair, if known, and its features."""

    @property
    def position(self) -> str | None:
        """Its place in the pair: left, right or None."""

    @property
    def features(self) -> Mapping[str, Feature]:
        """Features by name."""


def advice_for(carbs: Sequence[JudgedCarb], loose: int) -> list[str]:
    """What to photograph next, most useful first; `loose` carbs have no place left or right."""
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
