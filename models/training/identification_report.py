"""The page that simulate_identification.py writes: targets, rates and tables as Markdown."""

from __future__ import annotations

from typing import Any

from carbpair.identify import Calibration, Catalogue, Confusion

from .rate import Rate


def report(
    catalogue: Catalogue,
    confusion: Confusion,
    calibration: Calibration,
    measured: list[dict[str, Any]],
    conformal: dict[str, Any],
    wanted: float,
) -> str:
    """The page as Markdown; ``wanted`` is the coverage asked for."""
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
        f"{calibration.temperature}; a pattern is named from {calibration.answer_threshold} on, "
        "and only where the probability of another source, before the ceiling of 0.99, is "
        f"{calibration.other_limit} at most. With 95 % confidence the first limit keeps wrong "
        f"names ≤ {calibration.stated_risk:.0%} of those named, the second keeps the named among "
        "pairs of another source ≤ 1 %.",
        "",
        "## Targets",
        "",
        *_targets(measured[0], conformal, wanted),
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
        "With the limit on another source that answers 85 % (chosen on a calibration draw):",
        "",
        "| case | limit | coverage | right among answered | other source not named |",
        "|---|---|---|---|---|",
    ]
    for row in measured:
        at = row["at_85_percent"]
        lines.append(
            f"| {row['words']} | {at['other_limit']} | {_words(at['coverage'])} | "
            f"{_words(at['top1'])} | {_words(at['other_source_not_named'])} |"
        )
    lines += [
        "",
        "Caution against coverage, photos as asked for, at the shipped answer threshold:",
        "",
        "| limit on another source | coverage | right among answered | other source not named |",
        "|---|---|---|---|",
    ]
    for at in measured[0]["curve"]:
        lines.append(
            f"| {at['other_limit']} | {_words(at['coverage'])} | {_words(at['top1'])} | "
            f"{_words(at['other_source_not_named'])} |"
        )
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
            f"| {row['words']} | {_words(row['answered']['other_source_not_named'])} | "
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


def _targets(row: dict[str, Any], conformal: dict[str, Any], wanted: float) -> list[str]:
    """Each target for photos as asked for, met or not, by the measured share."""
    shipped, wider = row["answered"], row["at_85_percent"]

    def share(table: Any, key: str) -> float:
        return float(table[key]["share"])

    met = {True: "met", False: "**not met**"}
    at_85 = share(wider, "top1") >= 0.98 and share(wider, "coverage") >= wanted
    as_shipped = share(shipped, "top1") >= 0.98 and share(shipped, "coverage") >= wanted
    not_named, below = shipped["other_source_not_named"], row["other_source_below_0_9"]
    n_classes = len(conformal["classes"])
    return [
        "Photos as asked for:",
        "",
        "| target | measured | |",
        "|---|---|---|",
        "| right ≥ 98 % at coverage ≥ 85 %, as shipped | "
        f"{_words(shipped['top1'])} at {_words(shipped['coverage'])} | {met[as_shipped]} |",
        "| the same with the limit that answers 85 %, which names more pairs of another source | "
        f"{_words(wider['top1'])} at {_words(wider['coverage'])} | {met[at_85]} |",
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
