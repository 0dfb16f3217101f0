"""Evidence as shapes over a photo, in pixels of the upright picture; pages and PDF draw them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from carbpair.annotate.evidence import read_evidence
from carbpair.cases.case_result import CaseResult


@dataclass(frozen=True)
class Ellipse:
    """Centre, half axes and the turn of the first axis from x to y, degrees."""

    x: float
    y: float
    half_a: float
    half_b: float
    turn_deg: float
    name: str


@dataclass(frozen=True)
class Dot:
    """A ``bolt`` hole, a ``vent`` or the ``mark``; `seen` False: hidden, placed by the pattern."""

    x: float
    y: float
    radius: float
    name: str
    seen: bool


@dataclass(frozen=True)
class CarbOverlay:
    """One carburettor found on a photo; `box` is x0, y0, x1, y1."""

    position: str | None
    box: tuple[float, float, float, float]
    score: float | None
    ellipses: Sequence[Ellipse] = ()
    dots: Sequence[Dot] = ()


@dataclass(frozen=True)
class Drawing:
    """What a person drew: holes as points, or a box."""

    name: str
    points: Sequence[tuple[float, float]] = ()
    box: tuple[float, float, float, float] | None = None


@dataclass(frozen=True)
class PhotoOverlay:
    """Everything to draw on one photo."""

    carbs: Sequence[CarbOverlay] = ()
    drawings: Sequence[Drawing] = field(default_factory=tuple)


def overlays_of(result: CaseResult) -> dict[str, PhotoOverlay]:
    """Return the overlay of each photo by its id; photos without a result have an empty one."""
    by_file: dict[str, Mapping[str, Any]] = {}
    if result.inspection is not None:
        by_file = {one["file"]: one for one in result.inspection.get("photos") or ()}
    found: dict[str, PhotoOverlay] = {}
    for photo in result.photos:
        seen = by_file.get(photo.file_name, {})
        carbs = [carb_overlay(one) for one in seen.get("carbs") or () if one.get("box")]
        drawings = [
            _drawing(f"{one.position} {one.feature}", one.drawing)
            for one in result.corrections
            if one.photo_id == photo.id and one.drawing is not None
        ]
        found[photo.id] = PhotoOverlay(carbs, drawings)
    return found


def carb_overlay(carb: Mapping[str, Any]) -> CarbOverlay:
    """Convert one entry of an inspection photo's ``carbs``."""
    evidence = read_evidence(carb, 1.0)
    rings = [("throat", evidence.throat), ("rim", evidence.rim)]
    dots = [Dot(*hole.centre, hole.radius, hole.kind, hole.seen) for hole in evidence.holes]
    if evidence.mark is not None:
        dots.append(Dot(*evidence.mark, 0.0, "mark", True))
    return CarbOverlay(
        position=carb.get("position"),
        box=evidence.box,
        score=carb.get("score"),
        ellipses=[Ellipse(*ring.as_tuple(), name) for name, ring in rings if ring is not None],
        dots=dots,
    )


def _drawing(name: str, drawing: Mapping[str, Any]) -> Drawing:
    if drawing["kind"] == "box":
        x0, y0, x1, y1 = drawing["box"]
        return Drawing(name, box=(x0, y0, x1, y1))
    return Drawing(name, points=[(x, y) for x, y in drawing["points"]])
