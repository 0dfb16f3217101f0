"""A pattern: one recognisable kind of carburettor pair, as a workshop writes it down."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, StrictBool, StrictFloat, StrictInt
from pydantic.dataclasses import dataclass

from carbpair.geometry.hole_layout import HoleLayout

Text = Annotated[str, Field(min_length=1, max_length=200)]
Identifier = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]

STRICT = ConfigDict(extra="forbid")


@dataclass(frozen=True, slots=True, config=STRICT)
class Mark:
    """Where the cover's alignment mark must point.

    ``bearing_deg``: seen from above, from the air-intake direction, clockwise positive,
    in (−180, 180]. ``tolerance_deg``: how far either side still counts as right.
    """

    bearing_deg: Annotated[float, Field(strict=True, gt=-180, le=180)] = 0.0
    tolerance_deg: Annotated[float, Field(strict=True, gt=0, le=45)] = 15.0


@dataclass(frozen=True, slots=True, config=STRICT)
class TagNumber:
    """A number stamped on a float-bowl tag, and which carburettor of the pair carries it."""

    number: Text
    place: Literal["front", "rear", "either"] = "either"


@dataclass(frozen=True, slots=True, config=STRICT)
class Kit:
    """A service kit in the workshop's own numbering; ``per`` says how many a pair needs."""

    number: Text
    kind: Literal["light", "full"]
    per: Literal["carb", "pair"] = "carb"
    contents: Annotated[list[Text], Field(max_length=60)] = Field(default_factory=list)


@dataclass(frozen=True, slots=True, config=STRICT)
class Gasket:
    """A gasket in the workshop's own numbering; ``flange_holes`` limits it to that flange."""

    number: Text
    name: Text
    quantity: Annotated[int, Field(strict=True, ge=1, le=40)] = 1
    per: Literal["carb", "pair"] = "carb"
    flange_holes: Annotated[int, Field(strict=True, ge=2, le=4)] | None = None


@dataclass(frozen=True, slots=True, config=STRICT)
class Pattern:
    """One pattern. A field left out means "not known", never "no"."""

    id: Identifier
    name: Text
    chamber: Literal["piston", "diaphragm"]
    flange_holes: Annotated[int, Field(strict=True, ge=2, le=4)] | None = None
    hole_layout: HoleLayout | None = None
    hole_thread: Text | None = None
    bowl_layout: Literal["inboard", "outboard", "same_side", "none"] | None = None
    choke_linkage: Literal["cable_jet", "cam_lever", "automatic"] | None = None
    return_spring: Literal["external", "spindle"] | None = None
    heat_shield: StrictBool | None = None
    mark: Mark | Literal["none"] | None = None
    temperature_compensator: StrictBool | None = None
    tag_formats: Annotated[list[Text], Field(max_length=20)] = Field(default_factory=list)
    tag: Annotated[list[TagNumber], Field(max_length=40)] = Field(default_factory=list)
    features: dict[Identifier, Text] = Field(default_factory=dict)
    reference: dict[Text, str | StrictBool | StrictInt | StrictFloat] = Field(default_factory=dict)
    kit: Annotated[list[Kit], Field(max_length=20)] = Field(default_factory=list)
    gasket: Annotated[list[Gasket], Field(max_length=20)] = Field(default_factory=list)
    notes: Annotated[str, Field(max_length=2000)] = ""

    def value(self, feature: str) -> str | None:
        """The pattern's value of ``feature`` as text, None where it is not known."""
        held: Any = self.features.get(feature) or getattr(self, feature, None)
        if held is None:
            return None
        if isinstance(held, bool):
            return "true" if held else "false"
        return str(held)

    @property
    def required_mark(self) -> Mark | None:
        """The mark requirement, None where the pattern has none or it is not known."""
        return self.mark if isinstance(self.mark, Mark) else None
