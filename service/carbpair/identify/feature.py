"""The features that tell patterns apart, their values, and how each can be learnt."""

from __future__ import annotations

from dataclasses import dataclass

from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS
from carbpair.identify.thread import THREADS

CARB_POSITIONS = ("left", "right")
"""As seen facing the air intakes."""

BOWL_SIDES = ("inboard", "outboard", "none")
BOWL_LAYOUTS = ("inboard", "outboard", "same_side", "none")

SIDES_OF_LAYOUT: dict[str, tuple[tuple[str, str], ...]] = {
    "inboard": (("inboard", "inboard"),),
    "outboard": (("outboard", "outboard"),),
    "none": (("none", "none"),),
    # Both bowls on the viewer's left, or both on the viewer's right.
    "same_side": (("outboard", "inboard"), ("inboard", "outboard")),
}
"""Pair layout → the (left, right) bowl sides that it can show."""


@dataclass(frozen=True)
class Feature:
    """One feature of a pattern.

    ``values`` are its allowed values as text. ``photo`` names the reader's feature that
    shows it, or None where only a hand can tell. ``per_carb`` says that each carburettor
    of a pair has its own value.
    """

    name: str
    values: tuple[str, ...]
    photo: str | None
    per_carb: bool
    words: str


FEATURES: dict[str, Feature] = {
    feature.name: feature
    for feature in (
        Feature("chamber", ("piston", "diaphragm"), "chamber", True, "chamber"),
        Feature("flange_holes", ("2", "3", "4"), "flange_holes", True, "bolt holes in the flange"),
        Feature("hole_layout", HOLE_LAYOUTS, "hole_layout", True, "how the bolt holes lie"),
        Feature("bowl_layout", BOWL_LAYOUTS, "bowl_side", False, "float bowl layout"),
        Feature("hole_thread", tuple(THREADS), None, False, "thread of the flange holes"),
        Feature(
            "choke_linkage", ("cable_jet", "cam_lever", "automatic"), None, False, "choke linkage"
        ),
        Feature(
            "return_spring", ("external", "spindle", "none_seen"), None, False, "return spring"
        ),
        Feature("heat_shield", ("true", "false"), None, False, "heat shield"),
    )
}

PATTERN_FEATURES = (
    "chamber",
    "flange_holes",
    "hole_layout",
    "bowl_layout",
    "hole_thread",
    "choke_linkage",
    "return_spring",
)
"""Features that a pattern fixes. A heat shield belongs to the car, not to the carburettors,
so its absence is a deviation and never evidence about the pattern."""


def sides_text(layout: str) -> str:
    """Plain words for a bowl layout."""
    return {
        "inboard": "both bowls inboard, between the carburettors",
        "outboard": "both bowls outboard",
        "same_side": "both bowls on the same side of their carburettor",
        "none": "no bowl at the side",
    }.get(layout, layout.replace("_", " "))
