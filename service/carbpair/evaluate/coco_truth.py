"""Truth from corrections, as ``carbpair export`` writes them (COCO).

A corrected carb's box is the one the readers had found, so such a set says nothing about how many
carbs are found; a correction holds for the whole case, so a feature may be out of view in one of
its photos: coverage is a lower bound. Both stand in docs/evaluate.md.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from carbpair.evaluate.error import TruthError
from carbpair.evaluate.truth import BEARING, FEATURES, Box, CarbTruth, PhotoTruth, verdict_of
from carbpair.evaluate.truth_file import DASHPOT_PER_BOX

CARB, MISSED = "carburettor", "missed"


def is_coco(data: Any) -> bool:
    """Whether a JSON value is a COCO file."""
    return isinstance(data, dict) and {"images", "annotations", "categories"} <= set(data)


def coco_truths(path: Path, data: Mapping[str, Any]) -> dict[str, PhotoTruth]:
    """Truth by file name; images without an annotation are left out. Raises TruthError."""
    try:
        names = {c["id"]: c["name"] for c in data["categories"]}
        images = {i["id"]: i for i in data["images"]}
        carbs: dict[Any, dict[str, CarbTruth]] = {}
        for note in data["annotations"]:
            kind, more = names[note["category_id"]], note.get("attributes") or {}
            place = more.get("position")
            if place not in ("left", "right") or kind not in (CARB, MISSED):
                continue
            image = images[note["image_id"]]
            here = carbs.setdefault(note["image_id"], {})
            box: Box | None = None
            if kind == CARB:
                x, y, w, h = (float(v) for v in note["bbox"])
                box = x, y, x + w, y + h
            elif place in here:
                continue
            here[place] = _carb(place, more, box, float(image["width"]))
        return {
            str(images[i]["file_name"]): PhotoTruth(str(images[i]["file_name"]), tuple(c.values()))
            for i, c in carbs.items()
        }
    except (KeyError, TypeError, ValueError) as error:
        raise TruthError(
            path,
            f"is not the COCO file that `carbpair export` writes ({error!r}).",
            "Export the corrections again.",
        ) from None


def _carb(place: str, more: Mapping[str, Any], box: Box | None, width: float) -> CarbTruth:
    values = {k: more[k] for k in FEATURES if more.get(k) is not None}
    hidden = {k for k in FEATURES if k in more and more[k] is None}
    if BEARING in values:
        values["mark_verdict"] = verdict_of(float(values[BEARING]))
    if values.get("filter_fitted"):
        hidden.add("flange_holes")
    if BEARING in hidden:
        hidden.add("mark_verdict")
    size = None if box is None else DASHPOT_PER_BOX * (box[2] - box[0]) / width
    shown = frozenset(values) - hidden
    return CarbTruth(box, place, values, shown, frozenset(hidden), True, size)
