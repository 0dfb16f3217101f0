"""Score kept readings against the truth: tables with n and intervals, and the confusion file.

    python -m training.evaluation.score --readings ev.pkl --negatives negatives.pkl \\
        --cross cross.pkl --pair-views pairs.pkl --confusion confusion.json --out evaluation.json
"""

from __future__ import annotations

import argparse
import json
import pickle
from pathlib import Path
from typing import Any

from carbpair.evaluate.evaluation import without_curves
from carbpair.evaluate.locator_table import locator_table
from carbpair.evaluate.render_truth import photo_truth
from carbpair.evaluate.scored import Scored, scored
from carbpair.evaluate.tables import all_tables
from carbpair.settings import default_model_dir
from carbpair.vision import load_calibration

from ..pair_views import pair_of_seed
from .confusion import confusion, confusion_of_sets, most_photos


def scored_rows(rows: list[dict[str, Any]]) -> list[Scored]:
    """Kept readings as the tables take them."""
    return [scored(photo_truth(r["file"], r["truth"], r["size"]), r["inspection"]) for r in rows]


def negatives(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Photographs without a carb in which one was found."""
    table = locator_table(scored_rows(rows))
    return {
        "photographs_with_a_false_carb": table["photographs_with_a_false_carb"],
        "files": table["files_with_a_false_carb"],
    }


def several_photos(rows: list[dict[str, Any]], source: str, models: Path) -> list[dict[str, Any]]:
    """What two photos of a pair say together, then three, up to as many as were kept of one."""

    def pair_of_file(file: str) -> int:
        return pair_of_seed(int(Path(file).stem))

    calibration = load_calibration(models)
    return [
        confusion_of_sets(rows, pair_of_file, calibration, source, photos)
        for photos in range(2, most_photos(rows, pair_of_file) + 1)
    ]


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--readings", type=Path, required=True)
    p.add_argument("--negatives", type=Path)
    p.add_argument("--cross", type=Path)
    p.add_argument("--new", type=Path, help="readings of renders that nothing was chosen on")
    p.add_argument("--new-source", default="renders read once")
    p.add_argument("--source", default="")
    p.add_argument("--confusion", type=Path)
    p.add_argument(
        "--confusion-more",
        type=Path,
        nargs="+",
        default=[],
        help="readings of further pictures of the same kind, counted in the confusion as well",
    )
    p.add_argument("--confusion-source", help="of all pictures counted; --source if left out")
    p.add_argument("--pair-views", type=Path, help="readings of pairs seen from several sides")
    p.add_argument("--pair-views-source", default="pairs seen from several sides")
    p.add_argument(
        "--models",
        type=Path,
        default=default_model_dir(),
        help="whose calibration.json the photos of a pair are weighed by",
    )
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    kept = pickle.loads(a.readings.read_bytes())
    rows = scored_rows(kept)
    result: dict[str, Any] = {
        "source": a.source,
        "pictures": len(rows),
        "path_traced": without_curves(all_tables(rows)),
    }
    if a.new:
        new = scored_rows(pickle.loads(a.new.read_bytes()))
        result["new"] = {
            "source": a.new_source,
            "pictures": len(new),
            **without_curves(all_tables(new)),
        }
    if a.negatives:
        result["real_negatives"] = negatives(pickle.loads(a.negatives.read_bytes()))
    if a.cross:
        cross = scored_rows(pickle.loads(a.cross.read_bytes()))
        result["second_renderer"] = {
            "pictures": len(cross),
            **without_curves(all_tables(cross)),
        }
    a.out.write_text(json.dumps(result, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    if a.confusion:
        for more in a.confusion_more:
            kept += pickle.loads(more.read_bytes())
        counted = confusion(kept, a.confusion_source or a.source)
        if a.pair_views:
            counted["several_photos"] = several_photos(
                pickle.loads(a.pair_views.read_bytes()), a.pair_views_source, a.models
            )
        a.confusion.write_text(json.dumps(counted, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
