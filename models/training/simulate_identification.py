"""Measures the identification on simulated cases and fits its calibration.

    python models/training/simulate_identification.py

reads models/confusion.json and the demonstration catalogue, writes models/identification.json
(calibration and report) and models/IDENTIFICATION.md. Seeds are fixed; calibration and test
draws have different ones. Nothing is fitted on the test draws.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, dataclass, field, replace
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
CALIBRATION_SEED = 20_001
TEST_SEED = 70_001
CURVE = (0.8, 0.85, 0.9, 0.95, 0.97, 0.98)
COVERAGE_WANTED = 0.85

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Rate:
    """A share with its exact 95 % interval (Clopper and Pearson)."""

    count: int
    n: int
    share: float = field(init=False)
    interval: tuple[float, float] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "share", self.count / self.n if self.n else float("nan"))
        exact = stats.binomtest(self.count, self.n).proportion_ci(method="exact")
        object.__setattr__(self, "interval", (float(exact.low), float(exact.high)))

    def __str__(self) -> str:
        low, high = self.interval
        return f"{self.share:.1%} ({low:.1%} to {high:.1%}, n = {self.n})"


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
    text = report(catalogue, confusion, calibration, measured, conformal)
    (options.out / "IDENTIFICATION.md").write_text(text)
    print(text)


def report(
    catalogue: Catalogue,
    confusion: Confusion,
    calibration: Calibration,
    measured: list[dict[str, Any]],
    conformal: dict[str, Any],
) -> str:
    lines = [
        "# Identification: simulated evaluation",
        "",
        "Written by `models/training/simulate_identification.py`; do not edit by hand. Simulated "
        "cases, not real ones: true pairs are drawn from the catalogue, readings from the readers' "
        "measured errors. Intervals are exact 95 % (Clopper and Pearson).",
        "",
        f"- Catalogue: {catalogue.header.name}, version {catalogue.header.version} "
        f"({len(catalogue.patterns)} patterns).",
        f"- Readers: {confusion.source}",
    ]
    if confusion.provisional:
        lines.append(
            "- **Provisional**: the readers' errors are assumed. Every number below changes when "
            "the measured ones arrive."
        )
    lines += [
        f"- Fitted on {calibration.cases} calibration cases: temperature "
        f"{calibration.temperature}, a pattern is named from {calibration.answer_threshold}. The "
        f"threshold keeps, with 95 % confidence, wrong names ≤ {calibration.stated_risk:.0%} of "
        "those named and other-source pairs named ≤ 1 %.",
        "",
        "## Targets",
        "",
        *_targets(measured[0], conformal),
        "",
        "## Named patterns",
        "",
        "Answered: one pattern is named, or the group that no photo can split. Coverage counts "
        'pairs that are of a catalogue pattern. "One pattern" leaves the groups out.',
        "",
        "| case | coverage | right among answered | one pattern: coverage | one pattern: right |",
        "|---|---|---|---|---|",
    ]
    for row in measured:
        at = row["answered"]
        lines.append(
            f"| {row['words']} | "
            + " | ".join(
                _words(at[key]) for key in ("coverage", "top1", "coverage_single", "top1_single")
            )
            + " |"
        )
    lines += [
        "",
        "At the threshold that answers 85 % (chosen on a calibration draw):",
        "",
        "| case | threshold | coverage | right among answered |",
        "|---|---|---|---|",
    ]
    for row in measured:
        at = row["at_85_percent"]
        lines.append(
            f"| {row['words']} | {at['threshold']} | {_words(at['coverage'])} | "
            f"{_words(at['top1'])} |"
        )
    lines += [
        "",
        "Risk against coverage, photos as asked for:",
        "",
        "| threshold | coverage | right among answered |",
        "|---|---|---|",
    ]
    for at in measured[0]["curve"]:
        lines.append(f"| {at['threshold']} | {_words(at['coverage'])} | {_words(at['top1'])} |")
    lines += [
        "",
        "## Calibration",
        "",
        "Expected calibration error of the leading hypothesis, ten equal bins, beside the "
        "error that a perfect model stays below in 95 % of draws of this n.",
        "",
        "| case | n | error | 95 % floor | highest probability |",
        "|---|---|---|---|---|",
    ]
    for row in measured:
        lines.append(
            f"| {row['words']} | {row['ece_n']} | {row['ece']:.4f} | {row['ece_floor_95']:.4f} | "
            f"{row['highest_probability']:.4f} |"
        )
    lines += [
        "",
        "Reliability, photos as asked for:",
        "",
        "| stated | n | mean | right |",
        "|---|---|---|---|",
    ]
    for bin_ in measured[0]["reliability"]:
        lines.append(
            f"| {bin_['low']:.1f} to {bin_['high']:.1f} | {bin_['n']} | {bin_['stated']:.3f} | "
            f"{bin_['observed']:.3f} |"
        )
    lines += [
        "",
        "## Pairs of another source",
        "",
        "Drawn with every feature at random, unless the row says otherwise. Not named: no "
        "answer names a catalogue pattern or group. Below 0.9: no pattern has more than 0.9, "
        "named or not.",
        "",
        "| case | not named | below 0.9 |",
        "|---|---|---|",
    ]
    for row in measured:
        lines.append(
            f"| {row['words']} | {_words(row['other_source_not_named'])} | "
            f"{_words(row['other_source_below_0_9'])} |"
        )
    low, high = conformal["interval"]
    lines += [
        "",
        "A pair of another source that copies every visible feature cannot be told by any photo; "
        "the tag and the hand checks must. The last row shows how much that matters.",
        "",
        "## Conformal sets",
        "",
        f"Class-conditional at {conformal['level']}: {conformal['n_calibration_per_class']} "
        f"calibration and {conformal['n_test_per_class']} test cases of each class. Exact "
        f"beta-binomial interval, simultaneous 95 % over all classes: {low:.3f} to {high:.3f}. "
        f"Within: {conformal['within']} of {len(conformal['classes'])} classes. "
        f"Mean set size {conformal['mean_set_size']:.2f}.",
        "",
        "| class | coverage |",
        "|---|---|",
    ]
    lines += [f"| {row['class']} | {row['coverage']:.3f} |" for row in conformal["classes"]]
    return "\n".join(lines) + "\n"


def _targets(row: dict[str, Any], conformal: dict[str, Any]) -> list[str]:
    """Each target for photos as asked for, met or not, by the measured share."""
    shipped, curve = row["answered"], row["at_85_percent"]

    def share(table: Any, key: str) -> float:
        return float(table[key]["share"])

    met = {True: "met", False: "**not met**"}
    at_85 = share(curve, "top1") >= 0.98 and share(curve, "coverage") >= COVERAGE_WANTED
    as_shipped = share(shipped, "top1") >= 0.98 and share(shipped, "coverage") >= COVERAGE_WANTED
    not_named, below = row["other_source_not_named"], row["other_source_below_0_9"]
    n_classes = len(conformal["classes"])
    return [
        "Photos as asked for:",
        "",
        "| target | measured | |",
        "|---|---|---|",
        "| right ≥ 98 % at coverage ≥ 85 %, at the threshold that answers 85 % | "
        f"{_words(curve['top1'])} at {_words(curve['coverage'])} | {met[at_85]} |",
        "| the same at the shipped threshold, stricter for the sake of pairs of another source | "
        f"{_words(shipped['top1'])} at {_words(shipped['coverage'])} | {met[as_shipped]} |",
        f"| calibration error ≤ its 95 % floor (n = {row['ece_n']}) | {row['ece']:.4f} against "
        f"{row['ece_floor_95']:.4f} | {met[row['ece'] <= row['ece_floor_95']]} |",
        f"| pairs of another source not named ≥ 99 % | {_words(not_named)} | "
        f"{met[not_named['share'] >= 0.99]} |",
        f"| the same, counting every probability above 0.9, named or not | {_words(below)} | "
        f"{met[below['share'] >= 0.99]} |",
        f"| conformal coverage within the exact interval | {conformal['within']} of {n_classes} "
        f"classes | {met[conformal['within'] == n_classes]} |",
        f"| no probability above 0.99 | {row['highest_probability']:.4f} | "
        f"{met[row['highest_probability'] <= 0.99 + 1e-9]} |",
        "",
        "Coverage and caution pull against each other while photos show only four features: a few "
        "pairs of another source in a hundred have all that was seen in common with a catalogue "
        "pattern by chance. With both tag texts all targets for naming are met (rows below).",
    ]


def _words(rate: dict[str, Any]) -> str:
    return str(Rate(int(rate["count"]), int(rate["n"])))


if __name__ == "__main__":
    main()
