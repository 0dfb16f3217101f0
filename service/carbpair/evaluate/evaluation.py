"""A folder of photos with truth in, one result out."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from carbpair import __version__
from carbpair.evaluate.confusion_table import confusion_table
from carbpair.evaluate.error import TruthError
from carbpair.evaluate.pair_table import pair_table
from carbpair.evaluate.photo_reading import Progress, read_photos
from carbpair.evaluate.scored import Scored, found_carbs, scored
from carbpair.evaluate.tables import all_tables
from carbpair.evaluate.truth_folder import folder_truths
from carbpair.photo import PhotoLimits
from carbpair.vision import load_calibration, model_hashes

SCHEMA = "carbpair/evaluation/1"


def evaluate_folder(
    folder: Path,
    models: Path,
    limits: PhotoLimits,
    *,
    workers: int = 1,
    only_with_truth: bool = False,
    source: str = "",
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Score the networks of `models` on the photos of a folder. Raises TruthError, ModelError."""
    truths = folder_truths(folder, only_with_truth)
    readings = read_photos(list(truths), models, limits, workers, progress)
    photos: list[Scored] = []
    failed: list[dict[str, Any]] = []
    for truth, reading in zip(truths.values(), readings, strict=True):
        if reading.error is not None or reading.width is None or reading.height is None:
            failed.append(
                {"file": reading.file} | (reading.error.as_json() if reading.error else {})
            )
            continue
        photos.append(scored(truth((reading.width, reading.height)), reading))
    if not photos:
        raise TruthError(
            folder, "none of its photos could be opened.", f"First: {failed[0].get('message')}"
        )
    return result(photos, models, source or folder.name, failed)


def result(
    photos: list[Scored], models: Path, source: str, failed: list[dict[str, Any]]
) -> dict[str, Any]:
    """The evaluation's JSON object."""
    return {
        "schema": SCHEMA,
        "software": {"name": "carbpair", "version": __version__},
        "models": [{"name": n, "sha256": h} for n, h in model_hashes(models)],
        "source": source,
        "pictures": len(photos),
        "carbs": sum(t.present for p in photos for t in p.truth.carbs),
        "not_read": failed,
        "tables": all_tables(photos),
        "confusion": confusion_table(found_carbs(photos), source),
        "pairs": pair_table(photos, load_calibration(models)),
        "groups": groups(photos),
    }


def groups(photos: list[Scored]) -> Mapping[str, Any]:
    """The tables of each group, without curves; empty when truth names no group."""
    names = sorted({p.truth.group for p in photos if p.truth.group is not None})
    out = {}
    for name in names:
        some = [p for p in photos if p.truth.group == name]
        out[name] = {"pictures": len(some), "tables": without_curves(all_tables(some))}
    return out


def without_curves(tables: Any) -> Any:
    """Tables without risk–coverage and reliability, which are long."""
    if not isinstance(tables, dict):
        return tables
    left_out = ("risk_coverage", "reliability")
    return {k: without_curves(v) for k, v in tables.items() if k not in left_out}
