"""Score kept readings against the truth: tables with n and intervals, and the confusion file.

    python -m training.evaluation.score --readings ev.pkl --negatives negatives.pkl \\
        --cross cross.pkl --pair-views pairs.pkl --confusion confusion.json --out evaluation.json
"""

from __future__ import annotations

import argparse
import json
import pickle
from collections import Counter
from pathlib import Path
from typing import Any

from carbpair.geometry.angles import wrap_deg
from carbpair.settings import Settings
from carbpair.vision import load_calibration

from ..pair_views import pair_of_seed
from .confusion import confusion, confusion_of_sets
from .intervals import bootstrap, share
from .matching import (
    bowl_in_view,
    holes_in_view,
    mark_in_view,
    match,
    pairs_of,
    side_of,
    visible,
)

RIM_PER_DASHPOT = 1.15
"""Mean rim diameter over dashpot diameter of the drawn styles: sizes are stated by the dashpot."""


def fraction(t: dict[str, Any], size: tuple[int, int]) -> float:
    """Dashpot width over picture width."""
    return float(t["rim_px"] / RIM_PER_DASHPOT / size[0])


def locator(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Pairs with both carbs found, by size; single boxes; finds where there is no carb."""
    both: dict[str, list[int]] = {
        "close_or_medium (8 % or more)": [0, 0],
        "4 to 8 %": [0, 0],
        "under 4 %": [0, 0],
    }
    extra = carbs = 0
    for r in rows:
        boxes = [c.box for c in r["inspection"].carbs]
        found = match(r["truth"], boxes, r["size"])
        seen = [i for i, t in enumerate(r["truth"]) if visible(t, r["size"])]
        extra += len(boxes) - len(found)
        carbs += len(boxes)
        if len(seen) != 2:
            continue
        f = sum(fraction(r["truth"][i], r["size"]) for i in seen) / 2
        key = list(both)[0 if f >= 0.08 else 1 if f >= 0.04 else 2]
        both[key][0] += 1
        both[key][1] += all(i in found for i in seen)
    return {
        "both_found": {k: share(v[1], v[0]) for k, v in both.items()},
        "boxes_without_a_carb": share(extra, carbs),
    }


def answered(cases: list[tuple[Any, Any]]) -> dict[str, Any]:
    """Coverage and accuracy of (truth, feature) pairs."""
    said = [(t, f) for t, f in cases if f.status == "seen"]
    reasons = Counter(f"{f.status}: {f.reason}" for _, f in cases if f.status != "seen")
    return {
        "coverage": share(len(said), len(cases)),
        "accuracy_of_answers": share(sum(t == f.value for t, f in said), len(said)),
        "not_answered": dict(reasons),
    }


def features(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Every feature over the carbs whose feature is in view."""
    got = pairs_of(rows)
    holes = [
        (t["flange_holes"], c.features["flange_holes"])
        for r, t, c in got
        if holes_in_view(t, r["size"])
    ]
    bowls = [
        (s, c.features["bowl_side"])
        for r, t, c in got
        if c.position and bowl_in_view(t) and (s := side_of(t, r["truth"]))
    ]
    places = [
        ("left" if t["y"] == min(x["y"] for x in r["truth"]) else "right", c.position)
        for r, t, c in got
        if len(r["truth"]) == 2 and c.position
    ]
    hidden = [c.features["flange_holes"] for _, t, c in got if t["filtered"]]
    return {
        "flange_holes": answered(holes),
        "flange_holes_answered_under_a_filter": share(
            sum(f.status == "seen" for f in hidden), len(hidden)
        ),
        "bowl_side": answered(bowls),
        "position": share(sum(a == b for a, b in places), len(places)),
        "chamber": answered([(t["chamber"], c.features["chamber"]) for _, t, c in got]),
        "filter_fitted": answered(
            [(t["filtered"], c.features["filter_fitted"]) for _, t, c in got]
        ),
        "mark": marks(got),
    }


def marks(got: list[tuple[dict[str, Any], dict[str, Any], Any]]) -> dict[str, Any]:
    """Bearing errors and verdicts of marks of 8 px or more, and answers where no mark is seen."""
    cases = [
        (t["mark_bearing"], c.features["mark_bearing_deg"], c.features["mark_verdict"])
        for _, t, c in got
        if mark_in_view(t)
    ]
    said = [(b, f) for b, f, _ in cases if f.status == "seen"]
    errors = [abs(wrap_deg(f.value - b)) for b, f in said]
    inside = [abs(wrap_deg(f.value - b)) <= 1.645 * f.distribution["sd_deg"] for b, f in said]
    verdicts = [
        (abs(wrap_deg(b)) <= 15, v.value == "faces_intake")
        for b, _, v in cases
        if v.status == "seen"
    ]
    unseen = [c.features["mark_bearing_deg"] for _, t, c in got if t["seen"]["mark"] < 0.05]
    return {
        "coverage": share(len(said), len(cases)),
        "mean_absolute_error_deg": bootstrap(errors, "mean"),
        "95th_percentile_deg": bootstrap(errors, "p95"),
        "flips (over 150 degrees)": share(sum(e > 150 for e in errors), len(errors)),
        "beyond 15 degrees": share(sum(e > 15 for e in errors), len(errors)),
        "90 % interval holds the truth": share(sum(inside), len(inside)),
        "verdict_coverage": share(len(verdicts), len(cases)),
        "verdict_accuracy": share(sum(a == b for a, b in verdicts), len(verdicts)),
        "answered though no mark is seen": share(
            sum(f.status == "seen" for f in unseen), len(unseen)
        ),
    }


def negatives(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Photographs without a carb in which one was found."""
    hits = [r["file"] for r in rows if r["inspection"].carbs]
    return {"photographs_with_a_false_carb": share(len(hits), len(rows)), "files": hits}


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--readings", type=Path, required=True)
    p.add_argument("--negatives", type=Path)
    p.add_argument("--cross", type=Path)
    p.add_argument("--source", default="")
    p.add_argument("--confusion", type=Path)
    p.add_argument("--pair-views", type=Path, help="readings of pairs seen from several sides")
    p.add_argument("--pair-views-source", default="pairs seen from several sides")
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    rows = pickle.loads(a.readings.read_bytes())
    result: dict[str, Any] = {
        "source": a.source,
        "pictures": len(rows),
        "path_traced": {"locator": locator(rows), **features(rows)},
    }
    if a.negatives:
        result["real_negatives"] = negatives(pickle.loads(a.negatives.read_bytes()))
    if a.cross:
        cross = pickle.loads(a.cross.read_bytes())
        result["second_renderer"] = {
            "pictures": len(cross),
            "locator": locator(cross),
            **features(cross),
        }
    a.out.write_text(json.dumps(result, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    if a.confusion:
        counted = confusion(rows, a.source)
        if a.pair_views:
            counted["several_photos"] = confusion_of_sets(
                pickle.loads(a.pair_views.read_bytes()),
                lambda file: pair_of_seed(int(Path(file).stem)),
                load_calibration(Settings().model_dir),
                a.pair_views_source,
            )
        a.confusion.write_text(json.dumps(counted, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
