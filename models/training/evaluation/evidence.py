"""Score the frozen sets of models/evidence/sets.json and keep the results beside it.

    python -m training.evaluation.evidence unseen_style --pictures DIR --workers 2
    python -m training.evaluation.evidence unseen_style_new --pictures DIR
    python -m training.evaluation.evidence adversarial --pictures DIR
    python -m training.evaluation.evidence pair_views --pictures DIR
    python -m training.evaluation.evidence negative --pictures DIR
    python -m training.evaluation.evidence second_renderer --pictures DIR
    python -m training.evaluation.evidence corruption --pictures DIR --severities 3
    python -m training.evaluation.evidence corruption --pictures DIR --limit 20 \\
        --severities 1 2 4 5 --add

    python -m training.evaluation.evidence unseen_style --readings ev.pkl more.pkl

Run from ``models/``. DIR holds pictures with the .json of ``training.pack``; seeds outside the
set are left out, and how many of the set were there is stated in the result. Readings are those
of ``training.evaluation.readings``, made where the pictures were; ``--models`` then has to name
the networks that read them. ``--models`` scores other networks, ``--out`` writes elsewhere;
``--add`` puts severities of corruption beside those that are there.
"""

from __future__ import annotations

import argparse
import json
import pickle
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from carbpair.evaluate.evaluation import result
from carbpair.evaluate.photo_reading import read_photo
from carbpair.evaluate.render_truth import photo_truth
from carbpair.evaluate.scored import Scored, scored
from carbpair.evaluate.truth import PhotoTruth
from carbpair.photo import PhotoLimits
from carbpair.settings import default_model_dir

from ..scene.adversarial import kind_of
from .answers_table import answers_table
from .corruption import SEVERITIES
from .robustness import check_new, check_same, joined, readers, robustness
from .score import scored_rows

EVIDENCE = Path(__file__).parents[2] / "evidence"
SETS = EVIDENCE / "sets.json"
NEGATIVES = Path(__file__).parents[1] / "assets" / "negatives.json"
SUFFIXES = (".jpg", ".jpeg", ".png")

Label = Callable[[PhotoTruth, int | None], PhotoTruth]


def frozen(name: str) -> dict[str, Any]:
    """One set's definition. Raises KeyError."""
    found: dict[str, Any] = json.loads(SETS.read_text(encoding="utf-8"))["sets"][name]
    return found


def chosen(folder: Path, name: str, limit: int | None = None) -> list[Path]:
    """The pictures of a folder that belong to a set, in order. Raises SystemExit without one."""
    files = sorted(f for f in folder.iterdir() if f.suffix.lower() in SUFFIXES)
    files = belonging(files, name)
    if not files:
        raise SystemExit(f"{folder} holds no picture of the set {name}")
    return files[:limit]


def belonging(files: Sequence[Path], name: str) -> list[Path]:
    """The files whose seeds a set has; all files where a set has no seeds."""
    seeds = frozen(name).get("seeds")
    if seeds is None:
        return list(files)
    return [f for f in files if f.stem.isdigit() and seeds[0] <= int(f.stem) < seeds[1]]


def kept(paths: Sequence[Path], name: str) -> list[Scored]:
    """The set's pictures out of kept readings, in order. Raises SystemExit without one."""
    rows = [r for path in paths for r in pickle.loads(path.read_bytes())]
    wanted = {f.name for f in belonging([Path(r["file"]) for r in rows], name)}
    rows = sorted((r for r in rows if r["file"] in wanted), key=lambda r: str(r["file"]))
    if not rows:
        raise SystemExit(f"the readings hold no picture of the set {name}")
    return scored_rows(rows)


def read_scored(path: Path, models: Path) -> Scored:
    """One picture of a set with its truth; none beside it: there is no carb."""
    reading = read_photo(path, models, PhotoLimits())
    if reading.error is not None or reading.width is None or reading.height is None:
        raise RuntimeError(f"{path}: {reading.error}")
    beside = path.with_suffix(".json")
    carbs = json.loads(beside.read_text())["carbs"] if beside.is_file() else []
    return scored(photo_truth(path.name, carbs, (reading.width, reading.height)), reading)


def labelled(photos: Sequence[Scored], name: str) -> list[Scored]:
    """The photos with the group or the pair that their set gives them."""
    if name == "adversarial":
        return [_with(p, group=kind_of(int(Path(p.truth.file).stem))) for p in photos]
    if name == "pair_views":
        return [_with(p, pair=str(int(Path(p.truth.file).stem) // 10)) for p in photos]
    if name == "negative":
        rows = json.loads(NEGATIVES.read_text(encoding="utf-8"))["negatives"]
        kinds = {r["name"]: r["look_alike"] or r["kind"] for r in rows}
        return [_with(p, group=kinds.get(Path(p.truth.file).stem, "other")) for p in photos]
    return list(photos)


def _with(photo: Scored, **changes: Any) -> Scored:
    return replace(photo, truth=replace(photo.truth, **changes))


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("set", choices=list(json.loads(SETS.read_text())["sets"]))
    p.add_argument("--pictures", type=Path)
    p.add_argument("--readings", type=Path, nargs="+")
    p.add_argument("--models", type=Path, default=default_model_dir())
    p.add_argument("--out", type=Path, default=EVIDENCE)
    p.add_argument("--limit", type=int)
    p.add_argument("--workers", type=int, default=1)
    p.add_argument("--severities", type=int, nargs="+", default=list(SEVERITIES))
    p.add_argument("--add", action="store_true")
    a = p.parse_args()
    if a.add and a.set != "corruption":
        p.error("--add puts severities beside those of the set corruption")
    if (a.pictures is None) == (a.readings is None) or (a.readings and a.set == "corruption"):
        p.error("give --pictures, or --readings for another set than corruption")
    target = a.out / f"{a.set}.json"
    there = json.loads(target.read_text(encoding="utf-8")) if a.add else None
    if there is not None:  # before hours of reading
        try:
            check_same(there, readers(a.models))
            for kind in there["kinds"]:
                check_new(there, kind, map(str, a.severities))
        except ValueError as error:
            p.error(f"{target.name}: {error}")
    if a.readings:
        photos = kept(a.readings, a.set)[: a.limit]
        names = [Path(s.truth.file).stem for s in photos]
    else:
        files = chosen(a.pictures, a.set, a.limit)
        names = [f.stem for f in files]
    source = f"{a.set}, {len(names)} pictures"
    if frozen(a.set).get("seeds") is not None:
        source += f", seeds {int(names[0])} to {int(names[-1])}"
    if a.set == "corruption":
        source += f", severities {', '.join(map(str, a.severities))}"
        made = robustness(files, a.models, a.workers, a.severities) | {"source": source}
    else:
        if not a.readings:
            with ProcessPoolExecutor(a.workers) as pool:
                photos = list(pool.map(partial(read_scored, models=a.models), files, chunksize=8))
        photos = labelled(photos, a.set)
        made = result(photos, a.models, source, []) | readers(a.models)
        made["answers"] = answers_table(photos)
    made["set"] = {"name": a.set, **frozen(a.set)}
    a.out.mkdir(parents=True, exist_ok=True)
    if there is not None:
        made = joined(there, made)
    target.write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    print(f"{source}: {target}")


if __name__ == "__main__":
    main()
