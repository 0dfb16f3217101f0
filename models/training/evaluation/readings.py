"""Run the shipped line on packed renders and keep every raw reading, for scoring and calibration.

python -m training.evaluation.readings --pictures set --out readings.pkl
"""

from __future__ import annotations

import argparse
import json
import pickle
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

from carbpair.inspection import examine
from carbpair.photo import load_photo
from carbpair.settings import Settings
from carbpair.vision import load_calibration, load_networks, read_carbs

from .matching import match


def read_one(path: Path) -> dict[str, Any]:
    """Truth, raw readings and judged inspection of one packed picture."""
    folder = Settings().model_dir
    calibration = load_calibration(folder)
    photo = load_photo(path)
    truth_file = path.with_suffix(".json")
    truth = json.loads(truth_file.read_text())["carbs"] if truth_file.is_file() else []
    carbs = read_carbs(photo.pixels, load_networks(folder), calibration)
    size = (photo.width, photo.height)
    found = match(truth, [c.located.box for c in carbs], size)
    rows = []
    for c in carbs:
        rows.append(
            {
                "box": c.located.box,
                "score": c.located.score,
                "facing": c.facing,
                "marks": c.marks,
                "bearing_raw": c.bearing_logits,
                "flange": c.flange,
                "rim": c.rim,
                "scale": c.crop.scale,
                "origin": c.crop.origin,
                "throat_px": c.throat_px,
                "rim_px": c.rim_px,
                "rim_inside": c.inside(c.marks.points[:5]),
                "throat_inside": c.inside(c.marks.points[8:12]),
                "reading": replace(c, crop=replace(c.crop, pixels=c.crop.pixels[:1, :1])),
            }
        )
    return {
        "file": path.name,
        "size": size,
        "truth": truth,
        "found": found,
        "carbs": rows,
        "inspection": examine(photo, carbs, calibration),
    }


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--pictures", type=Path, required=True)
    p.add_argument("--out", type=Path, required=True)
    p.add_argument("--workers", type=int, default=2)
    a = p.parse_args()
    files = sorted(f for f in a.pictures.iterdir() if f.suffix in (".jpg", ".jpeg", ".png"))
    with ProcessPoolExecutor(a.workers) as pool:
        rows = list(pool.map(read_one, files, chunksize=8))
    a.out.write_bytes(pickle.dumps(rows))
    print(len(rows), "pictures read")


if __name__ == "__main__":
    main()
