"""Corrections as COCO annotations with their photos, from cases whose owners agreed.

Format: "COCO - Common Objects in Context", data format for object detection and keypoints
(https://cocodataset.org/#format-data). Boxes are [x, y, width, height] and keypoints
[x, y, visibility] in pixels of the upright photo, corners at integers.
"""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from carbpair import __version__
from carbpair.cases import analysis, correction, photo, schema
from carbpair.cases.correction import CARB_POSITIONS, DRAWN_CARB, Correction
from carbpair.cases.photo import Photo
from carbpair.cases.workspace import Workspace

CATEGORIES = ("carburettor", "bolt_hole", "missed")
VISIBLE = 2


@dataclass
class CocoSet:
    """The lists of a COCO file, growing."""

    images: list[dict[str, Any]] = field(default_factory=list)
    annotations: list[dict[str, Any]] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """Return the file's object."""
        categories: list[dict[str, Any]] = [
            {"id": number, "name": name, "supercategory": "part"}
            for number, name in enumerate(CATEGORIES, 1)
        ]
        categories[1] |= {"keypoints": ["centre"], "skeleton": []}
        return {
            "info": {"description": "carbpair corrections", "version": __version__},
            "licenses": [],
            "images": self.images,
            "annotations": self.annotations,
            "categories": categories,
        }

    def annotate(self, category: str, box: list[float], **more: Any) -> None:
        """Add an annotation to the newest image; `box` is x0, y0, x1, y1."""
        x0, y0, x1, y1 = box
        self.annotations.append(
            {
                "id": len(self.annotations) + 1,
                "image_id": len(self.images),
                "category_id": CATEGORIES.index(category) + 1,
                "bbox": [x0, y0, x1 - x0, y1 - y0],
                "area": (x1 - x0) * (y1 - y0),
                "iscrowd": 0,
                **more,
            }
        )


def export_corrections(workspace: Workspace, folder: Path) -> tuple[int, int]:
    """Write ``annotations.json`` and ``images/`` into `folder`; returns photos and annotations.

    Only cases with consent and at least one correction go out; names, remarks, notes and case
    numbers stay. Raises FileExistsError when `folder` is not empty.
    """
    if folder.exists() and any(folder.iterdir()):
        raise FileExistsError(f"{folder} is not empty: choose a new folder")
    (folder / "images").mkdir(parents=True, exist_ok=True)
    found = CocoSet()
    with workspace.database.read() as connection:
        table = schema.case_file
        consented = connection.scalars(
            sa.select(table.c.id).where(table.c.consent_learning.is_(True)).order_by(table.c.number)
        ).all()
        for case_id in consented:
            corrections = correction.in_force(connection, case_id)
            if not corrections:
                continue
            done = analysis.latest(connection, case_id, done=True)
            seen = {} if done is None or done.inspection is None else _by_file(done.inspection)
            before, _ = photo.phases(photo.of_case(connection, case_id))
            for one in before:
                name = f"{len(found.images) + 1:06d}.jpg"
                (folder / "images" / name).write_bytes(workspace.store.get(one.store_key))
                _add_photo(found, one, name, seen.get(one.file_name, {}), corrections)
    text = json.dumps(found.as_json(), indent=1)
    (folder / "annotations.json").write_text(text, encoding="utf-8")
    return len(found.images), len(found.annotations)


def _by_file(inspection: Any) -> dict[str, Any]:
    return {one["file"]: one for one in inspection.get("photos") or ()}


def _add_photo(
    found: CocoSet, one: Photo, name: str, seen: Any, corrections: list[Correction]
) -> None:
    size = {"width": one.width, "height": one.height}
    found.images.append({"id": len(found.images) + 1, "file_name": name, **size})
    here = [c for c in corrections if c.photo_id == one.id and c.drawing is not None]
    drawn = {c.position: list((c.drawing or {})["box"]) for c in here if c.feature == DRAWN_CARB}
    boxes = {carb.get("position"): list(carb["box"]) for carb in seen.get("carbs") or ()} | drawn
    for position in CARB_POSITIONS:
        by_hand = {
            c.feature: c.value
            for c in corrections
            if c.position == position and c.feature != DRAWN_CARB
        }
        if position in boxes and (by_hand or position in drawn):
            found.annotate(
                "carburettor", boxes[position], attributes={"position": position, **by_hand}
            )
    for made in here:
        if made.feature != DRAWN_CARB:
            _add_drawing(found, made)


def _add_drawing(found: CocoSet, made: Correction) -> None:
    drawing = made.drawing or {}
    attributes = {"position": made.position, made.feature: made.value}
    if drawing["kind"] == "box":
        found.annotate("missed", list(drawing["box"]), attributes=attributes)
        return
    for x, y in drawing["points"]:
        found.annotate(
            "bolt_hole", [x, y, x, y], keypoints=[x, y, VISIBLE], num_keypoints=1,
            attributes=attributes,
        )  # fmt: skip
