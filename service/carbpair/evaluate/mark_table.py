"""Errors of the mark's bearing, and of the verdict on it."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from carbpair.evaluate.candidate import TOLERANCE_DEG, candidates
from carbpair.evaluate.feature_table import answers, feature_table
from carbpair.evaluate.intervals import bootstrap, share
from carbpair.evaluate.reliability import reliability
from carbpair.evaluate.risk_coverage import risk_coverage
from carbpair.evaluate.scored import Found, cases
from carbpair.evaluate.truth import BEARING
from carbpair.geometry.angles import wrap_deg
from carbpair.geometry.bearing import FLIP_DEG

QUANTILES = (0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99)
EDGES = (0, 1, 2, 3, 4, 6, 8, 10, 15, 30, 90, 150, 180)
"""Edges of the error histogram, degrees."""

Z90 = 1.645


def mark_table(found: Sequence[Found]) -> dict[str, Any]:
    """Bearing errors and verdicts of marks in view, and answers where no mark is seen."""
    known = cases(found, BEARING, "in_view")
    said = [c for c in known if c.reading.status == "seen"]
    errors = [abs(wrap_deg(_number(c.reading.value) - _number(c.truth))) for c in said]
    spreads = [(c.reading.distribution or {}).get("sd_deg", 0.0) for c in said]
    inside = [e <= Z90 * sd for e, sd in zip(errors, spreads, strict=True)]
    verdicts = feature_table(cases(found, "mark_verdict", "in_view"))
    guesses = candidates(known)
    held = [c.reading for c in known if c.reading.status != "seen"]
    reasons: dict[str, int] = {}
    for f in held:
        key = f"{f.status}: {f.reason}"
        reasons[key] = reasons.get(key, 0) + 1
    return {
        "coverage": share(len(said), len(known)),
        "mean_absolute_error_deg": bootstrap(errors, "mean"),
        "95th_percentile_deg": bootstrap(errors, "p95"),
        "error_quantiles_deg": {
            str(q): round(float(np.quantile(errors, q)), 2) for q in QUANTILES if errors
        },
        "error_histogram": {
            "edges_deg": list(EDGES),
            "counts": np.histogram(errors, EDGES)[0].tolist(),
        },
        "flips (over 150 degrees)": share(sum(e > FLIP_DEG for e in errors), len(errors)),
        "beyond 15 degrees": share(sum(e > TOLERANCE_DEG for e in errors), len(errors)),
        "90 % interval holds the truth": share(sum(inside), len(inside)),
        "verdict_coverage": verdicts["coverage"],
        "verdict_accuracy": verdicts["accuracy_of_answers"],
        "verdict_by_value": verdicts["by_value"],
        "answered though no mark is seen": answers(cases(found, BEARING, "hidden")),
        "not_answered": reasons,
        "risk_coverage": risk_coverage(guesses, len(known)),
        "reliability": reliability(guesses),
    }


def _number(value: Any) -> float:
    return float(value)
