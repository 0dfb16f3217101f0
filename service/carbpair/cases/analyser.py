"""The case store's one door to the vision line."""

import io
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from PIL import Image

from carbpair.cases.settings import ServiceSettings
from carbpair.cases.source_photo import SourcePhoto
from carbpair.settings import Settings

MIRRORED_NOTE = "mirrored_exif"
CLOSE_VIEWS = ("left", "right")
EXIF_ORIENTATION = 0x0112
MIRRORED_ORIENTATION = 2  # EXIF 2.32: the 0th column is at the right-hand side


def analyse(
    sources: Sequence[SourcePhoto],
    settings: ServiceSettings,
    on_photo: Callable[[int], None] | None = None,
) -> dict[str, Any]:
    """Return the inspection JSON (``carbpair/inspection/1``, no identification) of `sources`.

    `on_photo` is told how many photos have been looked at. Files that are no photos stand in the
    result with their error, under the names that the sources have.
    """
    limits = Settings(
        max_photo_bytes=settings.max_photo_bytes, max_photo_pixels=settings.max_photo_pixels
    )
    # Imported late: the networks take memory that only workers need.
    from carbpair.inspection import inspect_bytes

    def progress(done: int, _total: int, _file: str) -> None:
        if on_photo is not None:
            on_photo(done)

    photos = [(source.name, _as_sent(source)) for source in sources]
    stated = [source.view if source.view in CLOSE_VIEWS else None for source in sources]
    drawn = {index: source.drawn for index, source in enumerate(sources)}
    inspection = inspect_bytes(photos, limits, progress=progress, stated=stated, drawn=drawn)
    result: dict[str, Any] = inspection.to_json()
    result["identification"] = None
    return result


def _as_sent(source: SourcePhoto) -> bytes:
    """Return the bytes to look at.

    Our stored copies are upright without metadata. One whose original declared itself a mirror
    image is mirrored back and says so again, since left and right then need a second look.
    """
    if MIRRORED_NOTE not in source.notes:
        return source.data
    with Image.open(io.BytesIO(source.data)) as stored:
        mirrored = Image.fromarray(np.ascontiguousarray(np.asarray(stored.convert("RGB"))[:, ::-1]))
    exif = Image.Exif()
    exif[EXIF_ORIENTATION] = MIRRORED_ORIENTATION
    buffer = io.BytesIO()
    mirrored.save(buffer, "JPEG", quality=95, exif=exif)
    return buffer.getvalue()
