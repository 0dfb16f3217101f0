"""Measures the identification on simulated cases and fits its calibration.

    python models/training/simulate_identification.py

reads models/confusion.json and the demonstration catalogue, writes models/identification.json
(calibration and report) and models/IDENTIFICATION.md. Seeds are fixed; calibration and test
draws have different ones. Nothing is fitted on the test draws.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import stats

from carbpair.identify import Calibration, Catalogue, Confusion, demo_catalogue, load_catalogue
from carbpair.identify.calibration import (
    dump_calibration,
    expected_calibration_error,
    noise_floor,
    reliability_table,
)
from carbpair.identify.conformal import order
from carbpair.identify.confusion import load_confusion
from carbpair.identify.prior import Shares
from carbpair.identify.simulated_case import CaseSimulator
from carbpair.identify.simulation import calibrate, capped, draw_cases, look_alikes, named

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "models"))  # run as a script, not as a module of `training`

from training.identification_report import report  # noqa: E402
from training.rate import Rate  # noqa: E402

CALIBRATION_SEED = 20_001
TEST_SEED = 70_001
CURVE = (0.8, 0.85, 0.9, 0.95, 0.97, 0.98)
COVERAGE_WANTED = 0.85

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Scenario:
    name: str
    words: str
    simulator: CaseSimulator
    capped: bool = True


def scenarios(catalogue: Catalogue, confusion: Confusion) -> list[Scenario]:
    def simulator(**options: object) -> CaseSimulator:
        return CaseSimulator(catalogue, confusion, **options)  # type: ignore[arg-type]

    return [
        Scenario(
            "photos",
            "Photos as asked for (filters off, all in view), car stated in 90 %",
            simulator(),
        ),
        Scenario(
            "photos_hidden",
            "Photos with features hidden as often as in the evaluation",
            simulator(views_as_asked=False),
        ),
        Scenario(
            "photos_and_tags",
            "Photos as asked for, and both tag texts typed in",
            simulator(tags_read=True),
            capped=False,
        ),
        Scenario(
            "world_fewer_fitted",
            "Photos; in this world half as many pairs are the fitted "
            "ones, twice as many of another source (the prior is wrong)",
            simulator(shares=Shares(fitted=0.35, other=0.24, mixed=0.06)),
        ),
        Scenario(
            "other_copies",
            "Photos; half of the other-source pairs copy all that photos "
            "show of a catalogue pattern",
            simulator(look_alike_share=0.5),
        ),
    ]


def measure(
    scenario: Scenario,
    calibration: Calibration,
    groups: Matrix,
    cases: int,
    seed: int,
    level_85: float,
) -> dict[str, Any]:
    patterns = scenario.simulator.classes - 2
    draw = draw_cases(scenario.simulator, seed, [None] * cases)
    stated = _stated(draw.probabilities(calibration.temperature), scenario.capped)
    strangers = draw_cases(scenario.simulator, seed + 1, [patterns] * cases)
    strange = _stated(strangers.probabilities(calibration.temperature), scenario.capped)
    listed = draw.truths < patterns
    best_right = stated.argmax(axis=1) == draw.truths
    said_stranger = named(strange, strangers.truths, groups, calibration.answer_threshold)
    top = stated.max(axis=1)
    return {
        "name": scenario.name,
        "words": scenario.words,
        "answered": _at(stated, draw.truths, listed, groups, calibration.answer_threshold),
        "at_85_percent": _at(stated, draw.truths, listed, groups, level_85),
        "curve": [_at(stated, draw.truths, listed, groups, level) for level in CURVE],
        "ece": expected_calibration_error(top, best_right.astype(float)),
        "ece_floor_95": noise_floor(top),
        "ece_n": cases,
        "reliability": [asdict(row) for row in reliability_table(top, best_right.astype(float))],
        "highest_probability": float(top.max()),
        "other_source_not_named": asdict(Rate(int((~said_stranger.answered).sum()), cases)),
        "other_source_below_0_9": asdict(
            Rate(int((strange[:, :patterns].max(axis=1) <= 0.9).sum()), cases)
        ),
    }


def _stated(probabilities: Matrix, photos_only: bool) -> Matrix:
    return capped(probabilities) if photos_only else probabilities


def _at(
    stated: Matrix,
    truths: npt.NDArray[np.int64],
    listed: npt.NDArray[np.bool_],
    groups: Matrix,
    level: float,
) -> dict[str, Any]:
    """Coverage and accuracy at one threshold, for patterns or look-alike groups, and for
    single patterns alone. Coverage counts the pairs that are of a catalogue pattern; wrong
    names for other-source and mixed pairs count against the accuracy.
    """
    said = named(stated, truths, groups, level)
    answered = said.answered
    single = answered & said.one
    return {
        "threshold": level,
        "coverage": asdict(Rate(int((answered & listed).sum()), int(listed.sum()))),
        "top1": asdict(Rate(int(said.right[answered].sum()), int(answered.sum()))),
        "coverage_single": asdict(Rate(int((single & listed).sum()), int(listed.sum()))),
        "top1_single": asdict(Rate(int(said.right[single].sum()), int(single.sum()))),
    }


def level_for_coverage(
    simulator: CaseSimulator, calibration: Calibration, groups: Matrix, cases: int, seed: int
) -> float:
    """The threshold that answers 85 % on a calibration draw (never on the test draw)."""
    draw = draw_cases(simulator, seed, [None] * cases)
    stated = capped(draw.probabilities(calibration.temperature))
    for level in np.arange(0.99, 0.5, -0.005):
        said = named(stated, draw.truths, groups, float(level))
        listed = draw.truths < simulator.classes - 2
        answered = said.answered & listed
        # A little in hand, so that the test draw does not fall short by chance.
        if answered.sum() >= (COVERAGE_WANTED + 0.015) * listed.sum():
            return round(float(level), 4)
    return 0.5


def conformal_coverage(
    simulator: CaseSimulator,
    calibration: Calibration,
    per_class: int,
    test_per_class: int,
    seed: int,
) -> dict[str, Any]:
    """Coverage of each class against the exact interval.

    Given n calibration scores, coverage is Beta(k, n + 1 − k); the number covered of m test
    cases is then beta-binomial. The interval is simultaneous for all classes (Bonferroni).
    """
    classes = simulator.classes
    truths = [c for c in range(classes) for _ in range(test_per_class)]
    own_class = np.array(truths)
    draw = draw_cases(simulator, seed, truths)
    probabilities = draw.probabilities(calibration.temperature)
    names = [*simulator.catalogue.index, "other_source", "mixed_pair"]
    limits = np.array([calibration.conformal[name] for name in names])
    inside = 1.0 - probabilities <= limits[None, :] + 1e-12
    k = order(per_class, calibration.level)
    tail = 0.05 / classes / 2
    exact = stats.betabinom(test_per_class, k, per_class + 1 - k)
    low, high = (float(exact.ppf(q)) / test_per_class for q in (tail, 1 - tail))
    covered = inside[np.arange(len(truths)), own_class]
    rows: list[dict[str, Any]] = [
        {"class": name, "coverage": float(covered[own_class == place].mean())}
        for place, name in enumerate(names)
    ]
    return {
        "level": calibration.level,
        "n_calibration_per_class": per_class,
        "n_test_per_class": test_per_class,
        "interval": (low, high),
        "classes": rows,
        "within": sum(low <= row["coverage"] <= high for row in rows),
        "mean_set_size": float(inside.sum(axis=1).mean()),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--catalogue", type=Path, help="default: the demonstration catalogue")
    parser.add_argument("--confusion", type=Path, help="default: models/confusion.json")
    parser.add_argument("--cases", type=int, default=4000)
    parser.add_argument("--per-class", type=int, default=400)
    parser.add_argument("--out", type=Path, default=ROOT / "models")
    options = parser.parse_args()
    catalogue = load_catalogue(options.catalogue) if options.catalogue else demo_catalogue()
    confusion = load_confusion(options.confusion)
    calibration = calibrate(
        catalogue,
        confusion,
        cases=options.cases,
        per_class=options.per_class,
        seed=CALIBRATION_SEED,
    )
    groups = look_alikes(catalogue)
    base = CaseSimulator(catalogue, confusion)
    level_85 = level_for_coverage(base, calibration, groups, options.cases, CALIBRATION_SEED + 10)
    # The kept figures are rounded, so what is measured is what is kept.
    calibration = replace(
        calibration, conformal={k: round(x, 6) for k, x in calibration.conformal.items()}
    )
    measured = [
        measure(scenario, calibration, groups, options.cases, TEST_SEED + 10 * number, level_85)
        for number, scenario in enumerate(scenarios(catalogue, confusion))
    ]
    conformal = conformal_coverage(base, calibration, options.per_class, 1000, TEST_SEED + 1000)
    kept = dump_calibration(calibration, catalogue, confusion)
    kept["report"] = {
        "provisional_readers": confusion.provisional,
        "readers": confusion.source,
        "scenarios": measured,
        "conformal": conformal,
    }
    (options.out / "identification.json").write_text(json.dumps(kept, indent=1) + "\n")
    text = report(catalogue, confusion, calibration, measured, conformal, COVERAGE_WANTED)
    (options.out / "IDENTIFICATION.md").write_text(text)
    print(text)


if __name__ == "__main__":
    main()
