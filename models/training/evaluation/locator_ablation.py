"""Locators trained alike but for one thing, each put into the line in turn.

    python -m training.evaluation.locator_ablation with=A.onnx without=B.onnx --pictures DIR \\
        --negatives DIR --text "what they were trained on" --out evidence/locator_ablation.json

Run from ``models/``. DIR: packed renders, and real photographs without a carb. "Alone" counts the
locator's finds over the calibration's threshold; "confirmed" what reader and refiner let stand.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

from carbpair.evaluate.intervals import share
from carbpair.evaluate.render_truth import visible
from carbpair.evaluate.summary import share_words
from carbpair.photo import load_photo
from carbpair.vision import load_calibration, load_networks, read_carbs
from carbpair.vision.halvings import Halvings
from carbpair.vision.locator import locate

from .matching import match
from .packed import packed_parser, packed_pictures

HEAD = [
    "locator",
    "carbs found alone",
    "carbs found, confirmed",
    "photographs with a false carb, alone",
    "photographs with a false carb, confirmed",
]

Boxes = list[tuple[float, float, float, float]]


def folder_with(locator: Path, models: Path, into: Path) -> Path:
    """A copy of a folder of networks with another locator."""
    shutil.copytree(models, into, ignore=shutil.ignore_patterns("training", "evidence"))
    shutil.copy(locator, into / "locator.onnx")
    return into


def boxes(path: Path, models: Path) -> tuple[Boxes, Boxes, tuple[int, int]]:
    """Boxes of one picture's finds, alone and confirmed, and the picture's size."""
    photo = load_photo(path)
    networks, calibration = load_networks(models), load_calibration(models)
    found = locate(Halvings(photo.pixels), networks["locator"], calibration.locator_threshold)
    stand = read_carbs(photo.pixels, networks, calibration)
    size = (photo.width, photo.height)
    return [c.box for c in found], [c.located.box for c in stand], size


def carbs_found(path: Path, models: Path) -> tuple[int, int, int]:
    """Visible carbs of a packed render, and how many of them were found, alone and confirmed."""
    truth = json.loads(path.with_suffix(".json").read_text())["carbs"]
    alone, confirmed, size = boxes(path, models)
    counted = {i for i, t in enumerate(truth) if visible(t)}

    def hits(found: Boxes) -> int:
        return len(counted & set(match(truth, found, size)))

    return len(counted), hits(alone), hits(confirmed)


def false_carbs(path: Path, models: Path) -> tuple[bool, bool]:
    """Whether anything was found in a photograph without a carb, alone and confirmed."""
    alone, confirmed, _ = boxes(path, models)
    return bool(alone), bool(confirmed)


def row(
    name: str, models: Path, renders: Sequence[Path], negatives: Sequence[Path], workers: int
) -> list[str]:
    """One line of the table."""
    with ProcessPoolExecutor(workers) as pool:
        found = list(pool.map(partial(carbs_found, models=models), renders, chunksize=8))
        false = list(pool.map(partial(false_carbs, models=models), negatives, chunksize=8))
    asked = sum(f[0] for f in found)
    shares = [share(sum(f[k] for f in found), asked) for k in (1, 2)]
    shares += [share(sum(f[k] for f in false), len(false)) for k in (0, 1)]
    return [name, *map(share_words, shares)]


def main() -> None:
    """Command line."""
    p = packed_parser(__doc__)
    p.add_argument("locators", nargs="+", help="NAME=FILE.onnx")
    p.add_argument("--negatives", type=Path, required=True)
    p.add_argument("--text", required=True, help="how the locators were trained")
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    renders = packed_pictures(a)
    negatives = sorted(f for f in a.negatives.iterdir() if f.suffix in (".jpg", ".png"))
    rows = []
    for item in a.locators:
        name, _, file = item.partition("=")
        with tempfile.TemporaryDirectory() as folder:
            models = folder_with(Path(file), a.models, Path(folder) / "models")
            rows.append(row(name, models, renders, negatives, a.workers))
        print(" | ".join(rows[-1]), flush=True)
    made: dict[str, Any] = {
        "title": "Locators trained alike but for one thing",
        "text": f"{a.text} Scored on {len(renders)} renders, seeds {int(renders[0].stem)} to "
        f"{int(renders[-1].stem)}, and {len(negatives)} real photographs without a carb.",
        "tables": [{"head": HEAD, "rows": rows}],
    }
    a.out.write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
