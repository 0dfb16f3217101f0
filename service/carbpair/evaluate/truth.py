"""What is true about the carbs of a photograph, whoever wrote it down."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from carbpair.geometry.bearing import faces_intake
from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS
from carbpair.vision.feature import Value

Box = tuple[float, float, float, float]

VALUES: Mapping[str, tuple[Value, ...]] = {
    "flange_holes": (2, 3, 4),
    "hole_layout": HOLE_LAYOUTS,
    "bowl_side": ("inboard", "outboard", "none"),
    "chamber": ("piston", "diaphragm"),
    "filter_fitted": (True, False),
    "mark_verdict": ("faces_intake", "turned"),
}
"""Features with a fixed set of values; `mark_bearing_deg` is a number in (−180, 180]."""

BEARING = "mark_bearing_deg"
FEATURES = (
    "flange_holes", "hole_layout", "bowl_side", BEARING, "mark_verdict", "chamber", "filter_fitted",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CarbTruth:
    """One true carb of a photograph.

    `box` is (x0, y0, x1, y1) in pixels of the upright photo, or None when nobody drew one.
    `values` holds what is known. A feature in `in_view` can be read from this photo, one in
    `hidden` cannot; one in neither is a border case and counts only in the confusion matrix.
    `present`: enough of the carb shows that it should be found. `size` is the dashpot's width
    over the photo's width.
    """

    box: Box | None = None
    position: str | None = None
    values: Mapping[str, Value] = field(default_factory=dict)
    in_view: frozenset[str] = frozenset()
    hidden: frozenset[str] = frozenset()
    present: bool = True
    size: float | None = None


@dataclass(frozen=True, slots=True)
class PhotoTruth:
    """All true carbs of one photo; none: a photo without a carb.

    `pair` names the pair shown, for photos that belong together; `group` is a label by which
    results may be split.
    """

    file: str
    carbs: tuple[CarbTruth, ...]
    pair: str | None = None
    group: str | None = None


def verdict_of(bearing_deg: float) -> str:
    """Whether a mark at a bearing faces the intake, within the trade's tolerance."""
    return "faces_intake" if faces_intake(bearing_deg) else "turned"
