"""The points and ellipses behind the readings of one carburettor, from an inspection's JSON."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from carbpair.geometry.ellipse import Ellipse, circle_image, make_ellipse
from carbpair.geometry.frame import CarbFrame

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole in the flange: centre and radius in pixels; `kind` "bolt" or "vent"."""

    centre: Point
    radius: float
    kind: str
    seen: bool


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was found, in pixels of the picture that is drawn on; None for what was not."""

    box: tuple[float, float, float, float]
    frame: CarbFrame | None
    throat: Ellipse | None
    rim: Ellipse | None
    holes: tuple[Hole, ...]
    mark: Point | None

    def dial(self) -> tuple[Point, Ellipse] | None:
        """Return centre and rim of the dial on which the bearing is drawn."""
        if self.rim is not None:
            return (self.rim.cx, self.rim.cy), self.rim
        if self.frame is None:
            return None
        try:
            return self.frame.c, circle_image(self.frame.c, self.frame.ux, self.frame.uy)
        except ValueError:
            return None


def read_evidence(carb: Mapping[str, Any], scale: float, origin: Point = (0.0, 0.0)) -> Evidence:
    """Evidence of one entry of `photos[].carbs` on a view of the photo.

    The view begins at `origin` in the full photo's pixels and is enlarged by `scale`.
    """
    held: Mapping[str, Any] = carb.get("evidence") or {}

    def point(x: float, y: float) -> Point:
        return scale * (float(x) - origin[0]), scale * (float(y) - origin[1])

    def ellipse(values: Sequence[float] | None) -> Ellipse | None:
        if values is None:
            return None
        cx, cy = point(values[0], values[1])
        return make_ellipse(cx, cy, scale * values[2], scale * values[3], values[4])

    x0, y0, x1, y1 = carb["box"]
    mark = held.get("mark")
    return Evidence(
        box=(*point(x0, y0), *point(x1, y1)),
        frame=_frame(held.get("frame"), scale, origin),
        throat=ellipse(held.get("throat")),
        rim=ellipse(held.get("rim")),
        holes=tuple(
            Hole(
                point(hole["x"], hole["y"]),
                scale * float(hole["r"]),
                str(hole["kind"]),
                hole["status"] == "seen",
            )
            for hole in held.get("holes") or ()
        ),
        mark=point(mark["x"], mark["y"]) if mark else None,
    )


def _frame(
    values: Mapping[str, Sequence[float]] | None, scale: float, origin: Point
) -> CarbFrame | None:
    if values is None:
        return None
    ux, uy, uz = (
        (scale * float(values[key][0]), scale * float(values[key][1])) for key in ("ux", "uy", "uz")
    )
    x, y = values["c"]
    return CarbFrame((scale * (x - origin[0]), scale * (y - origin[1])), ux, uy, uz)
