"""The readers' confusion, counted on kept readings, as the identification reads it.

docs/identification.md describes the file. Counted over all found carbs, and once more over those
whose feature is in full view, as in a photo taken as asked.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from carbpair.evaluate.render_truth import (
    bowl_in_view,
    hole_layout,
    holes_in_view,
    mark_in_view,
    visible,
)
from carbpair.geometry.angles import wrap_deg
from carbpair.geometry.bearing import FLIP_DEG
from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS
from carbpair.identify.confusion import SURE
from carbpair.identify.mark_record import STRAY_DEG
from carbpair.inspection import pair_of
from carbpair.vision.calibration import Calibration
from carbpair.vision.feature import Feature, hidden
from carbpair.vision.features import FROM_THE_FRONT

from .matching import pairs_of, side_of

LABELS = {
    "chamber": ["piston", "diaphragm"],
    "flange_holes": ["2", "3", "4"],
    "hole_layout": list(HOLE_LAYOUTS),
    "bowl_side": ["inboard", "outboard", "none"],
    "filter_fitted": ["true", "false"],
}
MARK = "mark_bearing_deg"
CERTAINTIES = {"seen": (0.0, 0.98), "unsure": (0.0, 0.3, 0.6, 0.85)}
"""Marks are counted by their own probability from each of these on."""
SPREAD_PRIOR_N = 4
"""The spread of few marks is drawn to that of all answered ones, as if by so many more."""
QUANTILES = (0.5, 0.9, 0.95)

Case = tuple[str, Feature, bool, int]
"""True value, reading, whether it was in full view, number of the picture."""


def confusion(rows: list[dict[str, Any]], source: str) -> dict[str, Any]:
    """The confusion file of kept readings."""
    got = pairs_of(rows)
    number = {id(row): k for k, row in enumerate(rows)}
    out: dict[str, Any] = {}
    for name, labels in LABELS.items():
        cases: list[Case] = []
        for row, t, c in got:
            true = true_value(name, row, t, c)
            if true is not None and asked(name, t, c.features):
                shown = in_full_view(name, t)
                cases.append((true, c.features[name], shown, number[id(row)]))
        out[name] = label_table(labels, cases)
    out[MARK] = bearing_table(
        [(t["mark_bearing"], c.features[MARK], mark_in_view(t)) for _, t, c in got]
    )
    return {"schema": "carbpair/confusion/1", "source": source, "features": out}


def confusion_of_sets(
    rows: list[dict[str, Any]],
    pair_of_file: Callable[[str], int],
    calibration: Calibration,
    source: str,
    photos: int,
) -> dict[str, Any]:
    """The same for readings that were weighed over the first `photos` kept photos of each pair.

    `pair_of_file` tells which pair a picture shows. A carb counts that some photo shows; a feature
    is in full view if it is so in one of them. One that was placed in no photo is not visible.
    Pairs with fewer photos are left out, and `source` says how many were not. Raises ValueError
    where no pair has so many.
    """
    sets: dict[int, list[dict[str, Any]]] = {}
    for row in sorted(rows, key=lambda row: str(row["file"])):
        sets.setdefault(pair_of_file(row["file"]), []).append(row)
    there = len(sets)
    sets = {pair: views[:photos] for pair, views in sets.items() if len(views) >= photos}
    if not sets:
        raise ValueError(f"no pair with {photos} photos among {there}")
    labelled: dict[str, list[Case]] = {name: [] for name in LABELS}
    bearings: list[tuple[float, Feature, bool]] = []
    for pair, views in sets.items():
        fused = pair_of([row["inspection"] for row in views], calibration).carbs
        for k, side in enumerate(("left", "right")):
            seen = [
                (row, ordered(row["truth"])[k])
                for row in views
                if visible(ordered(row["truth"])[k])
            ]
            if not seen:
                continue
            row, t = seen[0]
            carb = fused[side] or dict.fromkeys([*LABELS, MARK], hidden("not_photographed"))
            for name in LABELS:
                if not asked(name, t, carb):
                    continue
                true = side_of(t, row["truth"]) if name == "bowl_side" else value_of(name, t)
                assert true is not None, "these pairs have two carbs"
                shown = any(in_full_view(name, t) for row, t in seen)
                labelled[name].append((true, carb[name], shown, pair))
            shown = any(mark_in_view(t) for _, t in seen)
            bearings.append((t["mark_bearing"], carb[MARK], shown))
    features = {name: label_table(labels, labelled[name]) for name, labels in LABELS.items()}
    return {
        "photos": photos,
        "source": f"{source}: {photos} photos each of {len(sets)} of {there} pairs",
        "features": features | {MARK: bearing_table(bearings)},
    }


def most_photos(rows: list[dict[str, Any]], pair_of_file: Callable[[str], int]) -> int:
    """The largest number of kept photos of one pair; 0 for none."""
    counts = Counter(pair_of_file(row["file"]) for row in rows)
    return max(counts.values(), default=0)


def ordered(truth: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The carbs from left to right, as seen facing the intakes."""
    return sorted(truth, key=lambda t: float(t["y"]))


def in_full_view(name: str, t: dict[str, Any]) -> bool:
    """Whether a photo shows all that the question is about."""
    if name in ("flange_holes", "hole_layout"):
        return holes_in_view(t)
    if name != "bowl_side":
        return True
    return bowl_in_view(t) if t["hand"] else both_sides_in_view(t)


def asked(name: str, t: dict[str, Any], features: Mapping[str, Feature]) -> bool:
    """Whether a question arises: how holes lie is asked of those that were counted, and rightly."""
    if name != "hole_layout":
        return True
    return features["flange_holes"].value == t["flange_holes"] and hole_layout(t) is not None


def both_sides_in_view(t: dict[str, Any]) -> bool:
    """Whether a carb with an integral bowl, which hangs below, shows that it has none beside it.

    Its filter is off and it is seen from in front, as by the reader's own measure.
    """
    keypoints = np.asarray(t["keypoints"])
    across = float(np.linalg.norm(keypoints[3] - keypoints[4]))
    from_the_front = t["facing"] > 0 and across >= FROM_THE_FRONT * t["rim_px"]
    return bool(not t["filtered"] and from_the_front and t["in_frame"] > 0.8)


def value_of(name: str, t: dict[str, Any]) -> str:
    """The true value as the reader would write it."""
    if name == "hole_layout":
        return str(hole_layout(t))
    return str(bool(t["filtered"])).lower() if name == "filter_fitted" else str(t[name])


def true_value(name: str, row: dict[str, Any], t: dict[str, Any], c: Any) -> str | None:
    """The true value as the reader would write it; None where the question has none."""
    if name == "bowl_side":
        return side_of(t, row["truth"]) if c.position else None
    return value_of(name, t)


def label_table(labels: list[str], cases: Sequence[Case]) -> dict[str, Any]:
    """Counts of a reader with a few values: overall, in full view, of answers that are sure of
    themselves, and of how unsure ones lean.
    """
    columns = [*labels, "unsure", "not_visible"]
    counts = np.zeros((2, len(labels), len(columns)), int)
    unsure = np.zeros((2, len(labels), len(labels)), int)
    sure = np.zeros((2, len(labels), len(labels)), int)
    for true, feature, shown, _ in cases:
        k = labels.index(true)
        counts[0, k, columns.index(answer(feature))] += 1
        counts[1, k, columns.index(answer(feature))] += shown
        if feature.status == "seen" and (feature.probability or 0.0) >= SURE:
            sure[0, k, labels.index(answer(feature))] += 1
            sure[1, k, labels.index(answer(feature))] += shown
        if feature.status == "unsure" and feature.distribution:
            spread = feature.distribution
            best = max(labels, key=lambda label: spread.get(label, 0.0))
            unsure[0, k, labels.index(best)] += 1
            unsure[1, k, labels.index(best)] += shown
    together, pairs = correlation([c for c in cases if c[2]])
    table: dict[str, Any] = {
        "labels": labels,
        "counts": counts[0].tolist(),
        "in_view_counts": counts[1].tolist(),
        "unsure_counts": unsure[0].tolist(),
        "sure_counts": sure[0].tolist(),
        "in_view_unsure_counts": unsure[1].tolist(),
        "in_view_sure_counts": sure[1].tolist(),
        "n": int(counts[0].sum()),
        "pair_correlation_n": pairs,
    }
    if together is not None:
        table["pair_correlation"] = round(together, 3)
    return table


def answer(feature: Feature) -> str:
    """The column of a reading."""
    return str(feature.value).lower() if feature.status == "seen" else feature.status


LEAST_PAIRS = 30
"""From fewer pairs no correlation is stated."""


def correlation(cases: Sequence[Case]) -> tuple[float | None, int]:
    """How often one cause decides both carbs of a picture alike, and from how many pairs.

    The intraclass form of Cohen's kappa (Scott's pi, Public Opinion Quarterly 19, 1955): the
    agreement of both answers beyond what their frequencies give by chance, over all pairs of one
    picture with the same true value. Held to 0 and more; None from fewer than LEAST_PAIRS pairs.
    """
    of_picture: dict[tuple[int, str], list[str]] = {}
    for true, feature, _, picture in cases:
        of_picture.setdefault((picture, true), []).append(answer(feature))
    pairs = [(true, said) for (_, true), said in of_picture.items() if len(said) == 2]
    agree = chance = 0.0
    for true in {true for true, _ in pairs}:
        both = [said for t, said in pairs if t == true]
        flat = [word for said in both for word in said]
        agree += sum(a == b for a, b in both)
        chance += len(both) * sum((flat.count(w) / len(flat)) ** 2 for w in set(flat))
    if len(pairs) < LEAST_PAIRS or len(pairs) - chance < 1e-9:
        return None, len(pairs)
    return max((agree - chance) / (len(pairs) - chance), 0.0), len(pairs)


def bearing_table(cases: Sequence[tuple[float, Feature, bool]]) -> dict[str, Any]:
    """Errors of the mark's bearing: (true bearing, reading, in full view) of every found carb."""
    said = [abs(wrap_deg(float(f.value) - b)) for b, f, _ in cases if f.value is not None]
    leant = [
        abs(wrap_deg(float(f.distribution["mean_deg"]) - b))
        for b, f, _ in cases
        if f.status == "unsure" and f.distribution
    ]
    # With no answer near its mark nothing is known of the spread of such: the widest it can be.
    near = sorted(e for e in said if e <= STRAY_DEG) or [STRAY_DEG]
    shown = [f for _, f, in_view in cases if in_view]

    def rate(hits: int, n: int) -> float:
        return round(hits / max(1, n), 4)

    return {
        "errors_deg_quantiles": {
            str(q): round(near[min(len(near) - 1, int(q * len(near)))], 2) for q in QUANTILES
        },
        "flip_rate": rate(sum(e > FLIP_DEG for e in said), len(said)),
        "stray_rate": rate(sum(STRAY_DEG < e <= FLIP_DEG for e in said), len(said)),
        "unsure_rate": rate(sum(f.status == "unsure" for _, f, _ in cases), len(cases)),
        "not_visible_rate": rate(sum(f.status == "not_visible" for _, f, _ in cases), len(cases)),
        "in_view_unsure_rate": rate(sum(f.status != "seen" for f in shown), len(shown)),
        "in_view_n": len(shown),
        "unsure_right_rate": rate(sum(e <= STRAY_DEG for e in leant), len(leant)),
        "unsure_n": len(leant),
        "n": len(said),
        "in_view_hidden_n": sum(f.status == "not_visible" for f in shown),
        "by_certainty": certainty_table(cases),
    }


def certainty_table(cases: Sequence[tuple[float, Feature, bool]]) -> list[dict[str, Any]]:
    """Marks by status and own probability: [readings, right, flipped] overall and in full view.

    ``sd_deg``: root mean square error of the right ones; ``stated_sd_deg``: the median of the
    spread that the readings state themselves.
    """
    read = [
        (f, shown, float(f.distribution["sd_deg"]),
         abs(wrap_deg(float(f.distribution["mean_deg"]) - b)))
        for b, f, shown in cases
        if f.status != "not_visible" and f.distribution
    ]  # fmt: skip
    near = [e for f, _, _, e in read if f.status == "seen" and e <= STRAY_DEG]
    pooled = float(np.mean(np.square(near))) if near else STRAY_DEG**2
    rows = []
    for status, edges in CERTAINTIES.items():
        for least, below in zip(edges, (*edges[1:], np.inf), strict=True):
            own = [r for r in read if r[0].status == status
                   and least <= (r[0].probability or 0.0) < below]  # fmt: skip
            right = [e for _, _, _, e in own if e <= STRAY_DEG]
            square = sum(e**2 for e in right) + SPREAD_PRIOR_N * pooled
            row: dict[str, Any] = {
                "status": status,
                "least": least,
                "counts": _marks([e for _, _, _, e in own]),
                "in_view_counts": _marks([e for _, shown, _, e in own if shown]),
                "sd_deg": round(float(np.sqrt(square / (len(right) + SPREAD_PRIOR_N))), 2),
            }
            if own:
                row["stated_sd_deg"] = round(float(np.median([sd for _, _, sd, _ in own])), 2)
            rows.append(row)
    return rows


def _marks(errors: Sequence[float]) -> list[int]:
    """[readings, right, flipped] of absolute errors in degrees."""
    right, flipped = sum(e <= STRAY_DEG for e in errors), sum(e > FLIP_DEG for e in errors)
    return [len(errors), right, flipped]
