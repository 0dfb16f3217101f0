"""Confusion matrices over all found carbs, in or out of view, as the identification reads them."""

from collections.abc import Sequence
from typing import Any

from carbpair.evaluate.scored import Found, cases, text
from carbpair.evaluate.truth import BEARING
from carbpair.geometry.angles import wrap_deg
from carbpair.geometry.bearing import FLIP_DEG
from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS

SCHEMA = "carbpair/confusion/1"
LABELS = {
    "chamber": ("piston", "diaphragm"),
    "flange_holes": ("2", "3", "4"),
    "hole_layout": HOLE_LAYOUTS,
    "bowl_side": ("inboard", "outboard", "none"),
    "filter_fitted": ("true", "false"),
}
NO_ANSWER = ("unsure", "not_visible")
"""The last two columns of every matrix."""


def confusion_table(found: Sequence[Found], source: str) -> dict[str, Any]:
    """The object that `identify` reads as confusion.json. Rows are true, columns said."""
    out: dict[str, Any] = {}
    for name, names in LABELS.items():
        # The side of a bowl is the pair's: a carb without position has none to be confused.
        known = [f for f in found if name != "bowl_side" or f.carb.position]
        if name == "hole_layout":  # of the holes that were counted, and rightly
            known = [f for f in known if _counted(f)]
        columns = [*names, *NO_ANSWER]
        counts = [[0] * len(columns) for _ in names]
        for c in cases(known, name):
            said = text(c.reading.value) if c.reading.status == "seen" else c.reading.status
            counts[names.index(text(c.truth))][columns.index(said)] += 1
        out[name] = {"labels": list(names), "counts": counts, "n": sum(map(sum, counts))}
    out[BEARING] = _bearing(found)
    return {"schema": SCHEMA, "source": source, "features": out}


def _counted(found: Found) -> bool:
    said, true = found.carb.features["flange_holes"].value, found.truth.values.get("flange_holes")
    return said is not None and said == true


def _bearing(found: Sequence[Found]) -> dict[str, Any]:
    known = cases(found, BEARING)
    said = [c for c in known if c.reading.status == "seen"]
    errors = [abs(wrap_deg(float(c.reading.value or 0.0) - float(c.truth))) for c in said]
    near = sorted(e for e in errors if e <= FLIP_DEG)
    rates = {
        status: sum(c.reading.status == status for c in known) / max(1, len(known))
        for status in NO_ANSWER
    }
    return {
        "errors_deg_quantiles": {
            str(q): round(near[min(len(near) - 1, int(q * len(near)))], 2) if near else None
            for q in (0.5, 0.9, 0.95)
        },
        "flip_rate": round(sum(e > FLIP_DEG for e in errors) / max(1, len(errors)), 4),
        "unsure_rate": round(rates["unsure"], 4),
        "not_visible_rate": round(rates["not_visible"], 4),
        "n": len(said),
    }
