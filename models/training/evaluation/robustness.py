"""What corruptions cost: the same pictures clean and under every kind and severity."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

from carbpair.evaluate.intervals import share
from carbpair.evaluate.render_truth import photo_truth
from carbpair.evaluate.scored import Scored, found_carbs, scored
from carbpair.evaluate.tables import feature_tables
from carbpair.inspection import examine
from carbpair.photo import Photo, load_photo
from carbpair.vision import load_calibration, load_networks, model_hashes, read_carbs

from .corruption import KINDS, SEVERITIES, corrupt

SCHEMA = "carbpair/robustness/1"
Key = tuple[str, int]
CLEAN: Key = ("clean", 0)


def read_corrupted(
    path: Path, models: Path, severities: Sequence[int] = SEVERITIES
) -> dict[Key, Scored]:
    """Readings of one picture, clean and under every corruption, with the truth that belongs."""
    seed = int(path.stem)
    photo = load_photo(path)
    truth = json.loads(path.with_suffix(".json").read_text())["carbs"]
    out = {CLEAN: _read(photo, truth, models)}
    for kind in KINDS:
        for severity in severities:
            done = corrupt(photo.pixels, truth, kind, severity, seed)
            made = Photo(photo.name, done.picture, 1, False, "png")
            out[kind, severity] = _read(made, done.truth, models)
    return out


def _read(photo: Photo, truth: Sequence[Mapping[str, Any]], models: Path) -> Scored:
    calibration = load_calibration(models)
    carbs = read_carbs(photo.pixels, load_networks(models), calibration)
    true = photo_truth(photo.name, truth, (photo.width, photo.height))
    return scored(true, examine(photo, carbs, calibration))


def robustness(
    files: Sequence[Path],
    models: Path,
    workers: int = 1,
    severities: Sequence[int] = SEVERITIES,
) -> dict[str, Any]:
    """The tables of all pictures by kind and severity."""
    work = partial(read_corrupted, models=models, severities=severities)
    with ProcessPoolExecutor(workers) as pool:
        rows = list(pool.map(work, files))
    return {
        "schema": SCHEMA,
        **readers(models),
        "pictures": len(rows),
        "clean": short_table([r[CLEAN] for r in rows]),
        "kinds": {
            kind: {str(s): short_table([r[kind, s] for r in rows]) for s in severities}
            for kind in KINDS
        },
    }


def readers(models: Path) -> dict[str, Any]:
    """What a result was read with: each network's SHA-256 and the calibration's values."""
    return {
        "models": [{"name": n, "sha256": h} for n, h in model_hashes(models)],
        "calibration": asdict(load_calibration(models)),
    }


def check_same(one: Mapping[str, Any], other: Mapping[str, Any]) -> None:
    """Raise ValueError where results are of different networks or calibrations."""
    for name, words in (("models", "networks"), ("calibration", "calibrations")):
        if one.get(name) != other.get(name):
            raise ValueError(f"the results are of different {words}")


def check_new(made: Mapping[str, Any], kind: str, severities: Iterable[str]) -> None:
    """Raise ValueError where a result has a severity of a kind already."""
    if both := made["kinds"][kind].keys() & set(severities):
        raise ValueError(f"severity {min(both)} of {kind} is there already")


def joined(first: Mapping[str, Any], more: Mapping[str, Any]) -> dict[str, Any]:
    """The first result with the other severities of a second, of the same networks and limits.

    Raises ValueError where these differ or a severity is in both.
    """
    check_same(first, more)
    kinds = {}
    for kind, tables in first["kinds"].items():
        check_new(first, kind, more["kinds"][kind])
        kinds[kind] = dict(sorted({**tables, **more["kinds"][kind]}.items()))
    return {**first, "kinds": kinds, "source": f"{first['source']}; {more['source']}"}


def short_table(photos: Sequence[Scored]) -> dict[str, Any]:
    """Found, and each feature's coverage and accuracy, without what a page does not show."""
    tables = feature_tables(found_carbs(photos))
    present = [(p, i) for p in photos for i, t in enumerate(p.truth.carbs) if t.present]
    boxes = sum(len(p.inspection.carbs) for p in photos)
    extra = boxes - sum(len(p.matched) for p in photos)
    out: dict[str, Any] = {
        "found": share(sum(i in p.matched for p, i in present), len(present)),
        "boxes_without_a_carb": share(extra, boxes),
        "bearing_mean_absolute_error_deg": tables["mark"]["mean_absolute_error_deg"],
        "verdict": {
            "coverage": tables["mark"]["verdict_coverage"],
            "accuracy_of_answers": tables["mark"]["verdict_accuracy"],
        },
    }
    for name in ("flange_holes", "bowl_side", "chamber", "filter_fitted"):
        row = tables[name]
        out[name] = {k: row[k] for k in ("coverage", "accuracy_of_answers")}
    return out
