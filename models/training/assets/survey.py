"""What a package holds: candidates that pass the rules, and contact sheets to look at.

    python -m models.training.assets.survey candidates ARCHIVE > candidates.jsonl
    python -m models.training.assets.survey sheets FOLDER OUT

A candidate joins ``negatives.json`` only after a person has looked at it: no carburettor, no
drawing, no rendering, no celebrity.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from .likeness import looks_photographic, perceptual_hash
from .negatives import upright
from .sources import pictures

MIN_SIDE, MIN_AREA = 160, 40_000  # pixels
OPAQUE = 0.98  # share of opaque pixels below which a picture is a cut-out
COLUMNS, CELL, ROWS = 16, 110, 12


def candidates(archive: Path) -> Iterator[dict[str, object]]:
    """Every picture of the archive that passes the rules, as a manifest row without its kind."""
    for folder, content in pictures(archive):
        try:
            with Image.open(io.BytesIO(content)) as image:
                width, height = image.size
                lossy = image.format in ("JPEG", "WEBP")
                alpha = np.asarray(image.convert("RGBA"))[..., 3]
            bgr = np.asarray(upright(content))[..., ::-1]
        except (OSError, ValueError, Image.DecompressionBombError):
            continue  # a broken picture is no candidate
        if min(width, height) < MIN_SIDE or width * height < MIN_AREA:
            continue
        if looks_photographic(np.ascontiguousarray(bgr), lossy):
            yield {
                "folder": folder,
                "sha256": hashlib.sha256(content).hexdigest(),
                "width": width,
                "height": height,
                "phash": f"{perceptual_hash(np.ascontiguousarray(bgr)):016x}",
                "whole_photo": bool((alpha > 250).mean() >= OPAQUE),
            }


def sheets(folder: Path, out: Path) -> int:
    """Contact sheets of a folder's JPEGs with their names; returns how many sheets."""
    out.mkdir(parents=True, exist_ok=True)
    paths = sorted(folder.glob("*.jpg"))
    count = COLUMNS * ROWS
    for first in range(0, len(paths), count):
        sheet = Image.new("RGB", (COLUMNS * CELL, ROWS * (CELL + 12)), "white")
        draw = ImageDraw.Draw(sheet)
        for index, path in enumerate(paths[first : first + count]):
            x, y = (index % COLUMNS) * CELL, (index // COLUMNS) * (CELL + 12)
            thumb = upright(path.read_bytes())
            thumb.thumbnail((CELL - 4, CELL - 4))
            sheet.paste(thumb, (x, y + 12))
            draw.text((x, y), path.stem[:18], fill="red")
        sheet.save(out / f"{folder.name}_{first // count:02d}.png")
    return -(-len(paths) // count)


def main() -> None:
    parser = argparse.ArgumentParser(description="Survey pictures.")
    jobs = parser.add_subparsers(dest="job", required=True)
    listing = jobs.add_parser("candidates", help="the archive's pictures that pass the rules")
    listing.add_argument("archive", type=Path)
    looking = jobs.add_parser("sheets", help="contact sheets of a folder of JPEGs")
    looking.add_argument("folder", type=Path)
    looking.add_argument("out", type=Path)
    args = parser.parse_args()
    if args.job == "sheets":
        print(f"{sheets(args.folder, args.out)} sheets in {args.out}")
        return
    for row in candidates(args.archive):
        print(json.dumps(row))


if __name__ == "__main__":
    main()
