"""Temperatures, and what each threshold would answer and get wrong, on calibration renders.

    python -m training.evaluation.calibrate --readings cal.pkl dev.pkl --negatives training.pkl

The temperature minimises the negative log-likelihood. The thresholds in models/calibration.json
were chosen by hand from these tables so that at most 1 % of the answers are wrong, of the marks'
answers those to marks in view (hidden ones are printed beside them); the lower one
for holes is used only where the holes found form the pattern of the same count. Negatives are those
of the training side; kept with `weak_score` 0, so that what the refiner refuses is among them.
"""

from __future__ import annotations

import argparse
import pickle
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from carbpair.evaluate.intervals import share
from carbpair.evaluate.render_truth import bowl_in_view, holes_in_view, mark_in_view, visible
from carbpair.geometry.angles import wrap_deg
from carbpair.settings import default_model_dir
from carbpair.vision import load_calibration
from carbpair.vision.bearing import decode
from carbpair.vision.calibration import Calibration
from carbpair.vision.confirmation import standing
from carbpair.vision.landmarks import softmax

from .mark_limits import FAR_DEG, limit_lines, mark_cases

THRESHOLDS = (0.6, 0.7, 0.75, 0.8, 0.85, 0.88, 0.9, 0.93, 0.95)
FRAME_SDS_DEG = (0.5, 1.0, 1.5, 2.5)
MARK_THRESHOLD = 0.9

Case = tuple[int, NDArray[np.float64]]
"""True class and logits."""


def temperature(cases: Sequence[Case]) -> float:
    """The temperature under which the logits' likelihood is largest."""

    def loss(log_t: float) -> float:
        t = float(np.exp(log_t))
        return -float(np.mean([np.log(max(softmax(z, t)[k], 1e-9)) for k, z in cases]))

    return float(np.exp(minimize_scalar(loss, bounds=(-1.0, 2.5), method="bounded").x))


def collect(rows: Sequence[dict[str, Any]]) -> dict[str, list[Case]]:
    """Cases of each question over the found carbs in whose view its answer lies."""
    out: dict[str, list[Case]] = {"holes": [], "hand": [], "chamber": [], "filter": []}
    for row in rows:
        for i, j in row["found"].items():
            t, c = row["truth"][i], row["carbs"][j]
            if not visible(t):
                continue
            marks = c["marks"]
            if c["flange"] is not None and holes_in_view(t):
                out["holes"].append((t["flange_holes"] - 2, c["flange"].logits))
            if bowl_in_view(t):
                out["hand"].append((t["hand"] + 1, marks.hand))
            out["chamber"].append(
                (int(t["chamber"] == "diaphragm"), np.array([0, marks.diaphragm]))
            )
            out["filter"].append((int(t["filtered"]), np.array([0, marks.filtered])))
    return out


def interval_shares(rows: Sequence[dict[str, Any]]) -> dict[float, dict[str, Any]]:
    """For each spread of the frame, how often the 90 % interval of an answered mark holds it."""
    answered = []
    for row in rows:
        for i, j in row["found"].items():
            t, c = row["truth"][i], row["carbs"][j]
            if visible(t) and mark_in_view(t) and c["bearing_raw"] is not None:
                answered.append((t["mark_bearing"], c["bearing_raw"]))
    out = {}
    for sd in FRAME_SDS_DEG:
        read = [(b, decode(z, 1.0, sd)) for b, z in answered]
        held = [
            abs(wrap_deg(r.mean_deg - b)) <= 1.645 * r.sd_deg
            for b, r in read
            if r.probability >= MARK_THRESHOLD
        ]
        out[sd] = share(sum(held), len(held))
    return out


def refused_shares(
    rows: Sequence[dict[str, Any]], negatives: Sequence[dict[str, Any]]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Weak finds that the refiner does not find again: of carbs, and of photos without one."""
    limits = Calibration()

    def refused(found: Sequence[tuple[Sequence[dict[str, Any]], set[int]]]) -> dict[str, Any]:
        lost = asked = 0
        for carbs, counted in found:
            marks = [c["marks"] for c in carbs]
            stay = standing([c["score"] for c in carbs], marks, limits)
            lost += len(counted - set(stay))
            asked += len(counted)
        return share(lost, asked)

    carbs = [
        (row["carbs"], {j for i, j in row["found"].items() if visible(row["truth"][i])})
        for row in rows
    ]
    false = [(row["carbs"], set(range(len(row["carbs"])))) for row in negatives]
    return refused(carbs), refused(false)


def main() -> None:
    """Command line: print the tables."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--readings", type=Path, nargs="+", required=True)
    p.add_argument("--negatives", type=Path, help="readings of the training side's negatives")
    a = p.parse_args()
    rows = [r for path in a.readings for r in pickle.loads(path.read_bytes())]
    for name, cases in collect(rows).items():
        t = temperature(cases)
        print(f"{name}: n = {len(cases)}, temperature {t:.2f}")
        for limit in THRESHOLDS:
            said = [(k, q) for k, z in cases if (q := softmax(z, t)).max() >= limit]
            wrong = share(sum(int(q.argmax()) != k for k, q in said), len(said))
            print(f"  {limit}: answered {share(len(said), len(cases))}, wrong {wrong}")
    bearings = mark_cases(rows)
    in_view = sum(c.in_view for c in bearings)
    for limit in THRESHOLDS:
        told = [c for c in bearings if c.probability >= limit]
        shown = [c for c in told if c.in_view]
        answered = share(len(shown), in_view)
        off, far = (
            share(sum(bool(c.error_deg > FAR_DEG) for c in x), len(x)) for x in (shown, told)
        )
        print(
            f"mark {limit}: answered of those in view {answered}, "
            f"of these beyond {FAR_DEG:g} degrees {off}, of all answers {far}"
        )
    for line in limit_lines(bearings, load_calibration(default_model_dir())):
        print(line)
    for sd, held in interval_shares(rows).items():
        print(f"frame spread {sd}: the 90 % interval holds the mark {held}")
    kept = pickle.loads(a.negatives.read_bytes()) if a.negatives else []
    lost, false = refused_shares(rows, kept)
    print(f"weak finds refused: of carbs {lost}, of false finds {false}")


if __name__ == "__main__":
    main()
