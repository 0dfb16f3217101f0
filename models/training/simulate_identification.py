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
    NO_LIMIT,
    dump_calibration,
    expected_calibration_error,
    noise_floor,
    reliability_table,
)
from carbpair.identify.conformal import order
from carbpair.identify.confusion_file import load_confusion
from carbpair.identify.prior import Shares
from carbpair.identify.simulated_case import CaseSimulator
from carbpair.identify.simulation import (
    OTHER_LIMITS,
    Draw,
    Named,
    calibrate,
    capped,
    draw_cases,
    look_alikes,
    named,
)

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "models"))  # run as a script, not as a module of `training`

from training.identification_report import report  # noqa: E402
from training.photo_mix import STRANGERS, measure_mix  # noqa: E402
from training.rate import Rate  # noqa: E402

CALIBRATION_SEED = 20_001
TEST_SEED = 70_001
MIX_SEED = 170_001
CURVE = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 1.0)
"""Limits on the probability of another source, for the table of caution against coverage."""
COVERAGE_WANTED = 0.85

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Scenario:
    name: str
    words: str
    simulator: CaseSimulator

    @property
    def photos(self) -> int:
        """From how many photos of a pair its readings are."""
        return self.simulator.confusion.photos


def scenarios(catalogue: Catalogue, confusion: Confusion) -> list[Scenario]:
    """Cases of one kind: readings from one photo of a pair, or weighed over several."""

    def simulator(**options: object) -> CaseSimulator:
        return CaseSimulator(catalogue, confusion, **options)  # type: ignore[arg-type]

    count = confusion.photos
    photos = "One photo" if count == 1 else f"{count} photos of the pair"
    return [
        Scenario(
            "photos",
            f"{photos} as asked for (filters off, all in view), car stated in 90 %",
            simulator(),
        ),
        Scenario(
            "photos_hidden",
            f"{photos} with features hidden as often as in the evaluation",
            simulator(views_as_asked=False),
        ),
        Scenario(
            "photos_and_tags",
            f"{photos} as asked for, and both tag texts typed in",
            simulator(tags_share=1.0),
        ),
        Scenario(
            "photos_and_some_tags",
            f"{photos} as asked for, and both tag texts typed in in half of the cases",
            simulator(tags_share=0.5),
        ),
        Scenario(
            "world_fewer_fitted",
            f"{photos}; in this world half as many pairs are the fitted "
            "ones, twice as many of another source (the prior is wrong)",
            simulator(shares=Shares(fitted=0.35, other=0.24, mixed=0.06)),
        ),
        Scenario(
            "other_copies",
            f"{photos}; half of the other-source pairs copy all that photos "
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
    limit_85: float,
) -> dict[str, Any]:
    patterns = scenario.simulator.classes - 2
    strange_cases = cases * (STRANGERS if scenario.name == "photos" else 1)
    draw = draw_cases(scenario.simulator, seed, [None] * cases)
    exact = draw.probabilities(calibration.temperature)
    stated = _stated(exact, draw)
    strangers = draw_cases(scenario.simulator, seed + 1, [patterns] * strange_cases)
    strange_exact = strangers.probabilities(calibration.temperature)
    strange = _stated(strange_exact, strangers)
    best_right = stated.argmax(axis=1) == draw.truths
    top = stated.max(axis=1)

    def at(level: float, limit: float) -> dict[str, Any]:
        said = named(stated, exact[:, patterns], draw.truths, groups, level, limit)
        strange_said = named(
            strange, strange_exact[:, patterns], strangers.truths, groups, level, limit
        )
        return _at(said, draw.truths < patterns, level, limit) | {
            "other_source_not_named": asdict(
                Rate(int((~strange_said.answered).sum()), strange_cases)
            )
        }

    shipped = (calibration.answer_threshold, calibration.other_limit)
    return {
        "name": scenario.name,
        "words": scenario.words,
        "photos": scenario.photos,
        "n": cases,
        "answered": at(*shipped),
        "at_85_percent": at(shipped[0], limit_85),
        "curve": [at(shipped[0], limit) for limit in CURVE],
        "ece": expected_calibration_error(top, best_right.astype(float)),
        "ece_floor_95": noise_floor(top),
        "ece_n": cases,
        "reliability": [asdict(row) for row in reliability_table(top, best_right.astype(float))],
        "highest_probability": float(top.max()),
        "other_source_below_0_9": asdict(
            Rate(int((strange[:, :patterns].max(axis=1) <= 0.9).sum()), strange_cases)
        ),
    }


def _stated(probabilities: Matrix, draw: Draw) -> Matrix:
    """What is shown: held at the ceiling where there are photos alone."""
    photos_only = np.array([not stated for stated in draw.stated])
    return np.where(photos_only[:, None], capped(probabilities), probabilities)


def _at(
    said: Named, listed: npt.NDArray[np.bool_], level: float, other_limit: float
) -> dict[str, Any]:
    """Coverage and accuracy at one threshold, for patterns or look-alike groups, and for
    single patterns alone. Coverage counts the pairs that are of a catalogue pattern; wrong
    names for other-source and mixed pairs count against the accuracy.
    """
    answered = said.answered
    single = answered & said.one
    return {
        "threshold": level,
        "other_limit": other_limit,
        "coverage": asdict(Rate(int((answered & listed).sum()), int(listed.sum()))),
        "top1": asdict(Rate(int(said.right[answered].sum()), int(answered.sum()))),
        "coverage_single": asdict(Rate(int((single & listed).sum()), int(listed.sum()))),
        "top1_single": asdict(Rate(int(said.right[single].sum()), int(single.sum()))),
    }


def limit_for_coverage(
    simulator: CaseSimulator, calibration: Calibration, groups: Matrix, cases: int, seed: int
) -> float:
    """The limit on P(other source) that answers 85 % of a calibration draw (never of the test
    draw), at the shipped answer threshold; NO_LIMIT where none does."""
    draw = draw_cases(simulator, seed, [None] * cases)
    exact = draw.probabilities(calibration.temperature)
    other = simulator.classes - 2
    listed = draw.truths < other
    stated = capped(exact)
    limits: tuple[float, ...] = (*OTHER_LIMITS, NO_LIMIT)
    for limit in limits:
        said = named(
            stated, exact[:, other], draw.truths, groups, calibration.answer_threshold, limit
        )
        # A little in hand, so that the test draw does not fall short by chance.
        if (said.answered & listed).sum() >= (COVERAGE_WANTED + 0.015) * listed.sum():
            return limit
    return NO_LIMIT


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


def rounded(calibration: Calibration) -> Calibration:
    """With conformal limits as they are kept, for every number of photos."""
    limits = {name: round(limit, 6) for name, limit in calibration.conformal.items()}
    further = None if calibration.several is None else rounded(calibration.several)
    return replace(calibration, conformal=limits, several=further)


def measure_tier(
    catalogue: Catalogue,
    confusion: Confusion,
    calibration: Calibration,
    options: argparse.Namespace,
    seed: int,
) -> dict[str, Any]:
    """All scenarios for one number of photos."""
    groups = look_alikes(catalogue)
    base = CaseSimulator(catalogue, confusion)
    limit_85 = limit_for_coverage(base, calibration, groups, options.cases, CALIBRATION_SEED + 10)
    return {
        "photos": confusion.photos,
        "readers": confusion.source,
        "scenarios": [
            measure(scenario, calibration, groups, options.cases, seed + 10 * number, limit_85)
            for number, scenario in enumerate(scenarios(catalogue, confusion))
        ],
        "conformal": conformal_coverage(base, calibration, options.per_class, 1000, seed + 1000),
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
    # The kept figures are rounded, so what is measured is what is kept.
    calibration = rounded(calibration)
    tiers = [
        measure_tier(
            catalogue, kind, calibration.for_photos(kind.photos), options, TEST_SEED + 5_000 * k
        )
        for k, kind in enumerate(confusion.tiers)
    ]
    mix = None
    if confusion.several is not None:
        mix = measure_mix(catalogue, confusion, calibration, options.cases, MIX_SEED)
    kept = dump_calibration(calibration, catalogue, confusion)
    kept["report"] = {
        "provisional_readers": confusion.provisional,
        "readers": confusion.source,
        "tiers": tiers,
        "photo_mix": mix,
    }
    (options.out / "identification.json").write_text(json.dumps(kept, indent=1) + "\n")
    text = report(catalogue, confusion, calibration, tiers, COVERAGE_WANTED, mix)
    (options.out / "IDENTIFICATION.md").write_text(text)
    print(text)


if __name__ == "__main__":
    main()
