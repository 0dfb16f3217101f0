"""Parts that stay unread because every photo shows them too small, with the width that is needed.

Reads the inspection's JSON, so that stored results can be asked again.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Part = Literal["throat", "rim"]

# Photo pixels across from which a part is read as often as on any larger picture, measured by
# benchmarks/readable_width.py on the samples made smaller step by step, and half as much again
# for a hand that moves.
NEEDED_PX: Mapping[Part, int] = {"throat": 30, "rim": 60}

# What is read on the part.
FEATURE: Mapping[Part, str] = {"throat": "flange_holes", "rim": "mark_bearing_deg"}

# Reasons that a closer photo may take away; a filter or a wrong side it does not.
HELPED_BY_SIZE = frozenset(
    {"too_small", "blurred", "low_confidence", "holes_do_not_form_pattern", "mark_not_in_view"}
)


@dataclass(frozen=True, slots=True)
class SmallPart:
    """One part of the carburettor at `position`: its width in the best photo, and the needed one.

    Both in pixels of the upright photo, along the part's longer axis.
    """

    position: Literal["left", "right"]
    part: Part
    width_px: int
    needed_px: int

    def sentence(self) -> str:
        """Say it in plain English."""
        name, use = {
            "throat": ("opening in the air flange", "to count the holes around it"),
            "rim": ("rim of the cover", "to see the mark on it"),
        }[self.part]
        return (
            f"Move closer to the {self.position} carburettor: the {name} is {self.width_px} pixels "
            f"wide in the best photo, {self.needed_px} are needed {use}."
        )


def small_parts(inspection: Mapping[str, Any]) -> list[SmallPart]:
    """Return the parts that a closer photo would help with; schema ``carbpair/inspection/1``."""
    pair = (inspection.get("pair") or {}).get("carbs") or {}
    found: list[SmallPart] = []
    positions: tuple[Literal["left", "right"], ...] = ("left", "right")
    for position in positions:
        fused = (pair.get(position) or {}).get("features") or {}
        for part, needed in NEEDED_PX.items():
            held = fused.get(FEATURE[part])
            if held is None or held.get("value") is not None:
                continue
            if held.get("reason") == "corrected_by_hand":
                continue
            width = _widest(inspection, position, part)
            if width is not None and width < needed:
                found.append(SmallPart(position, part, round(width), needed))
    return found


def _widest(inspection: Mapping[str, Any], position: str, part: Part) -> float | None:
    """Width in the photo that shows the part largest; None where size is not what is wrong."""
    widths = [
        float(carb["widths_px"][part])
        for photo in inspection.get("photos") or ()
        for carb in photo.get("carbs") or ()
        if carb.get("position") == position
        and "widths_px" in carb
        and carb["features"][FEATURE[part]].get("reason") in HELPED_BY_SIZE
    ]
    return max(widths, default=None)
