"""The page that simulate_identification.py writes: targets, rates and tables as Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from carbpair.identify import Calibration, Catalogue, Confusion
from carbpair.identify.confusion import UNSURE_RIGHT, LabelConfusion
from carbpair.identify.mark import ASSEMBLY_SD_DEG, TURNED_SHARE
from carbpair.identify.prior import FITTED_SHARE, MIXED_SHARE, ODD_OTHER_SHARE, OTHER_SHARE
from carbpair.identify.simulated_case import CAR_STATED_SHARE
from carbpair.identify.simulation import LIMIT_CASES_PER_CASE, OTHER_RISK, STRANGERS_PER_CASE
from carbpair.identify.stated_evidence import LISTED_OWN

from .photo_mix import mix_lines
from .rate import Rate

RIGHT_WANTED = 0.98
NOT_NAMED_WANTED = 0.99


def report(
    catalogue: Catalogue,
    confusion: Confusion,
    calibration: Calibration,
    tiers: Sequence[dict[str, Any]],
    wanted: float,
    mix: dict[str, Any] | None = None,
) -> str:
    """The page as Markdown; ``wanted`` is the coverage asked for, ``mix`` that of photo_mix."""
    lines = [
        "# Identification: simulated evaluation",
        "",
        "Written by `models/training/simulate_identification.py`; do not edit by hand. Simulated "
        "cases, not real ones: true pairs are drawn from the catalogue, readings from the readers' "
        "measured errors. Intervals are exact 95 % (Clopper and Pearson).",
        "",
        f"Catalogue: {catalogue.header.name}, version {catalogue.header.version} "
        f"({len(catalogue.patterns)} patterns).",
        "",
    ]
    if confusion.provisional:
        lines += [
            "**Provisional**: the readers' errors are assumed. Every number below changes when "
            "the measured ones arrive.",
            "",
        ]
    if mix is not None:
        lines += mix_lines(mix, wanted, RIGHT_WANTED, NOT_NAMED_WANTED)
    for tier in tiers:
        lines += _tier(tier, calibration.for_photos(tier["photos"]), wanted)
    if len(tiers) == 1:
        lines += [
            "What several photos of one pair say together was not measured; every photo set is "
            "weighed with the figures of one photo.",
            "",
        ]
    return "\n".join([*lines, *_assumptions(confusion)]) + "\n"


def _tier(tier: dict[str, Any], calibration: Calibration, wanted: float) -> list[str]:
    rows = tier["scenarios"]
    heading = "One photo of the pair" if tier["photos"] == 1 else f"{tier['photos']} photos"
    return [
        f"## {heading}",
        "",
        f"Readers: {tier['readers']}. Fitted on calibration cases, {calibration.cases} for the "
        f"temperature, {LIMIT_CASES_PER_CASE * calibration.cases} others for the first limit and "
        f"{STRANGERS_PER_CASE * calibration.cases} of another source for the second: temperature "
        f"{calibration.temperature}; a pattern is named from {calibration.answer_threshold} on, "
        "and only where the probability of another source, before the ceiling of 0.99, is at "
        f"most {calibration.other_limit}. With 95 % confidence the first limit keeps wrong names "
        f"≤ {calibration.stated_risk:.0%} of those named, the second keeps the named among pairs "
        f"of another source ≤ {OTHER_RISK:.1%}.",
        "",
        *_targets(rows[0], tier["conformal"], wanted),
        "### Named patterns",
        "",
        "Answered: one pattern is named, or the group that no photo can split. Coverage counts "
        'pairs that are of a catalogue pattern. "One pattern" leaves the groups out.',
        "",
        *_table(
            (
                "case", "coverage", "right among answered", "one pattern: coverage",
                "one pattern: right", "other source not named",
            ),
            (
                (row["words"], *(_words(row["answered"][key]) for key in _NAMED))
                for row in rows
            ),
        ),
        "Caution against coverage, for the first case, at the same answer threshold:",
        "",
        *_table(
            (
                "limit on another source", "coverage", "right among answered",
                "other source not named",
            ),
            (
                (
                    f"{at['other_limit']}",
                    *(_words(at[key]) for key in ("coverage", "top1", "other_source_not_named")),
                )
                for _, at in sorted(
                    {
                        float(at["other_limit"]): at
                        for at in (
                            *rows[0]["curve"],
                            rows[0]["answered"],
                            rows[0]["at_85_percent"],
                        )
                    }.items()
                )
            ),
        ),
        *_calibration(rows),
        *_conformal(tier["conformal"]),
    ]  # fmt: skip


_NAMED = ("coverage", "top1", "coverage_single", "top1_single", "other_source_not_named")


def _targets(row: dict[str, Any], conformal: dict[str, Any], wanted: float) -> list[str]:
    """Each target for photos as asked for, met or not, by the measured share."""
    shipped, wider = row["answered"], row["at_85_percent"]

    def share(table: Any, key: str) -> float:
        return float(table[key]["share"])

    def met(held: bool) -> str:
        return "met" if held else "**not met**"

    def both(at: Any) -> bool:
        return share(at, "top1") >= RIGHT_WANTED and share(at, "coverage") >= wanted

    not_named, below = shipped["other_source_not_named"], row["other_source_below_0_9"]
    n_classes = len(conformal["classes"])
    return [
        f"{row['words']}:",
        "",
        *_table(
            ("target", "measured", ""),
            (
                (
                    "right ≥ 98 % at coverage ≥ 85 %, as shipped",
                    f"{_words(shipped['top1'])} at {_words(shipped['coverage'])}",
                    met(both(shipped)),
                ),
                (
                    "pairs of another source not named ≥ 99 %, as shipped (named at all, above "
                    "0.9 or below)",
                    _words(not_named),
                    met(share(shipped, "other_source_not_named") >= NOT_NAMED_WANTED),
                ),
                (
                    "the first, with the limit that answers 85 %",
                    f"{_words(wider['top1'])} at {_words(wider['coverage'])}; other source not "
                    f"named {_words(wider['other_source_not_named'])}",
                    met(both(wider)),
                ),
                (
                    "pairs of another source in which no pattern has more than 0.9, named or not",
                    _words(below),
                    met(below["share"] >= NOT_NAMED_WANTED),
                ),
                (
                    f"calibration error ≤ its 95 % floor (n = {row['ece_n']})",
                    f"{row['ece']:.4f} against {row['ece_floor_95']:.4f}",
                    met(row["ece"] <= row["ece_floor_95"]),
                ),
                (
                    "conformal coverage within the exact interval",
                    f"{conformal['within']} of {n_classes} classes",
                    met(conformal["within"] == n_classes),
                ),
                (
                    "no probability above 0.99",
                    f"{row['highest_probability']:.4f}",
                    met(row["highest_probability"] <= 0.99 + 1e-9),
                ),
            ),
        ),
    ]


def _calibration(rows: Sequence[dict[str, Any]]) -> list[str]:
    return [
        "### Calibration",
        "",
        "Expected calibration error of the leading hypothesis, ten equal bins, beside the error "
        "that a perfect model stays below in 95 % of draws of this n; and pairs of another source "
        "in which no pattern has more than 0.9, named or not.",
        "",
        *_table(
            ("case", "n", "error", "95 % floor", "highest probability", "other source below 0.9"),
            (
                (
                    row["words"],
                    f"{row['ece_n']}",
                    f"{row['ece']:.4f}",
                    f"{row['ece_floor_95']:.4f}",
                    f"{row['highest_probability']:.4f}",
                    _words(row["other_source_below_0_9"]),
                )
                for row in rows
            ),
        ),
        "Reliability, for the first case:",
        "",
        *_table(
            ("stated", "n", "mean", "right"),
            (
                (
                    f"{one['low']:.1f} to {one['high']:.1f}",
                    f"{one['n']}",
                    f"{one['stated']:.3f}",
                    f"{one['observed']:.3f}",
                )
                for one in rows[0]["reliability"]
            ),
        ),
    ]


def _conformal(held: dict[str, Any]) -> list[str]:
    low, high = held["interval"]
    return [
        "### Conformal sets",
        "",
        f"Class-conditional at {held['level']}: {held['n_calibration_per_class']} calibration and "
        f"{held['n_test_per_class']} test cases of each class. Exact beta-binomial interval, "
        f"simultaneous 95 % over all classes: {low:.3f} to {high:.3f}. Within: {held['within']} of "
        f"{len(held['classes'])} classes. Mean set size {held['mean_set_size']:.2f}.",
        "",
        *_table(
            ("class", "coverage"),
            ((row["class"], f"{row['coverage']:.3f}") for row in held["classes"]),
        ),
    ]


def _assumptions(confusion: Confusion) -> list[str]:
    """What the simulated world is made of besides the measured counts."""
    fitted, other, mixed = FITTED_SHARE, OTHER_SHARE, MIXED_SHARE
    labels = confusion.labels
    names = ("chamber", "flange_holes", "bowl_side")

    def counted(what: str) -> str:
        have = [name for name in names if getattr(labels[name], what) is not None]
        return "counted" if len(have) == len(names) else "not counted"

    return [
        "## What is assumed",
        "",
        "Measured: how often each true value is read as what (each case draws its own error table "
        "from the Dirichlet posterior of the counts, so a small evaluation promises little), the "
        "spread of the mark's bearing, its flips and strays.",
        "",
        f"- As asked for: readings of features in full view were {counted('in_view')}"
        + (
            "."
            if labels["flange_holes"].in_view is not None
            else "; every unsure reading of the evaluation stands for them, also those of features "
            "that were half hidden, and nothing is hidden."
        ),
        f"- Where unsure readers lean was {counted('unsure')}"
        + (
            "."
            if labels["flange_holes"].unsure is not None
            else f": their likeliest value is taken to be right in {UNSURE_RIGHT:.0%} (judgement)."
        ),
        f"- Errors of answers that are sure of themselves were {counted('sure')} by themselves.",
        "- How often marks of each certainty, answered or unsure, were right was "
        + (
            "counted."
            if confusion.bearing.records
            else "not counted: all unsure marks count alike."
        ),
        "- Both carburettors of a pair are read alike for one cause in this share of scenes: "
        + ", ".join(f"{name.replace('_', ' ')} {_alike(labels[name])}" for name in names)
        + " (0.5 is the judgement that stands in where it was not measured). Marks are read "
        "independently.",
        f"- The world (judgements, no source): the car is stated in {CAR_STATED_SHARE:.0%}; then "
        f"{fitted:.0%} of pairs are the car's own pattern, {1 - fitted - other - mixed:.0%} "
        f"another of the catalogue, {other:.0%} of another source and {mixed:.0%} mixed (of those "
        f"the one put in is none of the catalogue's in {ODD_OTHER_SHARE:.0%}). "
        f"{TURNED_SHARE:.0%} of covers were refitted turned; the others sit within a spread of "
        f"{ASSEMBLY_SD_DEG:.0f}°. A tag that is typed in is the pattern's own in {LISTED_OWN:.0%}.",
        "- Pairs of another source have every chamber, hole count, layout of that many holes and "
        "layout of the bowls equally often, and a mark that points anywhere, both alike. Real ones "
        "may look more like the catalogue's than that: the row with copies shows what then "
        "happens. One that copies every visible feature cannot be told by any photo; the tag and "
        "the hand checks must.",
        "- This catalogue says of every pattern how its holes lie (`hole_layout`). One that does "
        "not leaves photos less to tell a pair of another source by.",
        "- What is seen of another source has by chance all in common with some pattern in a few "
        "of a hundred cases: caution and coverage pull against each other, and only more evidence "
        "(more photos, better readings, tags) helps both.",
    ]


def _alike(held: LabelConfusion) -> str:
    return f"{held.pair_correlation:.2f}"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return [*lines, ""]


def _words(rate: dict[str, Any]) -> str:
    return str(Rate(int(rate["count"]), int(rate["n"])))
