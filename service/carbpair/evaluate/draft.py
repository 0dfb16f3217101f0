"""A truth file to fill in: the photos of a folder, with the carbs that were found in them."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from carbpair.evaluate.error import OutputError
from carbpair.evaluate.photo_reading import Progress, read_photos
from carbpair.evaluate.truth_file import SCHEMA
from carbpair.evaluate.truth_folder import WHOLE
from carbpair.inspection import PhotoInspection
from carbpair.photo import PhotoLimits
from carbpair.photo_files import expand_photos

TO_FILL = (
    "flange_holes", "hole_layout", "bowl_side", "mark_bearing_deg", "chamber", "filter_fitted",
)  # fmt: skip


def draft_truth(
    folder: Path,
    models: Path,
    limits: PhotoLimits,
    workers: int = 1,
    progress: Progress | None = None,
) -> Path:
    """Write ``truth.json`` into a folder without one; returns its path.

    Features stay null: whoever fills them in must not be led by what the readers said. Boxes are
    the readers', so a carb that was missed has to be added. Raises OutputError if there is a truth
    file or no folder, FileNotFoundError without photos.
    """
    if not folder.is_dir():
        raise OutputError(f"{folder}: is not a folder. Give the folder that holds the photos.")
    there = [folder / name for name in WHOLE if (folder / name).exists()]
    if there:
        raise OutputError(f"{there[0]}: exists already and is kept. Move it away for a new draft.")
    photos = expand_photos([folder])
    read = read_photos(photos, models, limits, workers, progress)
    names = [p.relative_to(folder).as_posix() for p in photos]
    target = folder / WHOLE[0]
    text = json.dumps(draft(names, read), indent=1, ensure_ascii=False) + "\n"
    with target.open("x", encoding="utf-8") as file:
        file.write(text)
    return target


def draft(names: Sequence[str], read: Sequence[PhotoInspection]) -> dict[str, Any]:
    """The file's content; photos that could not be opened are left out."""
    entries = {
        name: {"carbs": [_carb(c.position, c.box) for c in one.carbs]}
        for name, one in zip(names, read, strict=True)
        if one.error is None
    }
    return {"schema": SCHEMA, "photos": entries}


def _carb(position: str | None, box: Sequence[float]) -> dict[str, Any]:
    entry: dict[str, Any] = {"position": position, "box": [round(v) for v in box]}
    return entry | dict.fromkeys(TO_FILL) | {"hidden": []}
