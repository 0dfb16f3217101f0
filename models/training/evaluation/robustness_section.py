"""The page's part on corruptions: tables by kind, and plots by severity."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from carbpair.evaluate.intervals import share
from carbpair.evaluate.plot import Plot
from carbpair.evaluate.report import table
from carbpair.evaluate.summary import look_up, share_words

SHOWN = (
    ("carbs found", ("found",)),
    ("hole count answered", ("flange_holes", "coverage")),
    ("hole count right", ("flange_holes", "accuracy_of_answers")),
    ("bowl side answered", ("bowl_side", "coverage")),
    ("bowl side right", ("bowl_side", "accuracy_of_answers")),
    ("chamber right", ("chamber", "accuracy_of_answers")),
)
MIDDLE = "3"
AIMS = (
    ("hole count", ("flange_holes", "accuracy_of_answers"), 0.97),
    ("bowl side", ("bowl_side", "accuracy_of_answers"), 0.985),
)
"""At the middle severity: the aim without corruption allows 2 and 1 % to be wrong, and half as much
again may be added. Measured against the clean pictures themselves nothing could be: all but none of
their answers are wrong."""
PLOTS = (
    ("corruption-found", "Carbs found under corruption", ("found",)),
    ("corruption-holes", "Hole count right, of answers", ("flange_holes", "accuracy_of_answers")),
    ("corruption-coverage", "Hole count answered", ("flange_holes", "coverage")),
)
PER_PLOT = 5
"""More lines than this in one plot cannot be told apart."""


def middle_aims(one: Mapping[str, Any]) -> list[list[str]]:
    """Rows of the page's aims: what, aim, measured, met; all kinds together and the worst one."""
    rows = []
    for words, path, least in AIMS:
        by_kind = {
            kind.replace("_", " "): look_up(tables[MIDDLE], path)
            for kind, tables in one["kinds"].items()
            if MIDDLE in tables
        }
        said = {k: r for k, r in by_kind.items() if r["n"]}
        if not said:
            continue
        every = share(*(sum(r[key] for r in said.values()) for key in ("hits", "n")))
        worst = min(said, key=lambda k: said[k]["share"])
        for name, row in (("all kinds", every), (f"the worst kind, {worst}", said[worst])):
            what = f"{words} right under corruption {MIDDLE}, of answers, {name}"
            met = "yes" if row["share"] >= least else "no"
            rows.append([what, f"≥ {100 * least:g} %", share_words(row), met])
    return rows


def robustness_section(one: Mapping[str, Any], plots: dict[str, str]) -> list[str]:
    """Lines of the page; SVG texts are put into `plots` by file name."""
    lines = [
        "## Corruptions", "",
        f"{one['source']}. Definitions and severities: `training/evaluation/corruption`; noise, "
        "JPEG, fog and low resolution are ImageNet-C's (Hendrycks and Dietterich 2019, from "
        "memory), the others our own. In view is what the truth says after crop, tilt, hose, "
        "sticker and shrinking; elsewhere what was in view before, so blur and darkness must "
        "lower coverage. Rows of one severity are of the same pictures and can be compared; a "
        "severity read on fewer pictures than another cannot be compared with it.", "",
    ]  # fmt: skip
    rows = [["clean", *(share_words(look_up(one["clean"], p)) for _, p in SHOWN)]]
    for kind, by_severity in one["kinds"].items():
        found = by_severity.get(MIDDLE)
        if found is not None:
            words = f"{kind.replace('_', ' ')}, {MIDDLE}"
            rows.append([words, *(share_words(look_up(found, p)) for _, p in SHOWN)])
    lines += [f"Severity {MIDDLE}:", "", *table(("corruption", *(w for w, _ in SHOWN)), rows), ""]
    severities = sorted({int(s) for k in one["kinds"].values() for s in k})
    if len(severities) > 1:
        kinds = list(one["kinds"])
        for name, title, path in PLOTS:
            for part in range(0, len(kinds), PER_PLOT):
                file = f"{name}-{part // PER_PLOT + 1}.svg"
                plots[file] = _plot(one, title, path, kinds[part : part + PER_PLOT], severities)
                lines.append(f"![{title}](evidence/plots/{file})")
        lines.append("")
    return lines


def _plot(
    one: Mapping[str, Any],
    title: str,
    path: tuple[str, ...],
    kinds: list[str],
    severities: list[int],
) -> str:
    plot = Plot(title, "severity (0: clean)", "share", (0.0, 5.0), (0.0, 1.0), percent_y=True)
    clean = look_up(one["clean"], path)
    for k, kind in enumerate(kinds):
        rows = [(0, clean), *((s, look_up(one["kinds"][kind][str(s)], path)) for s in severities)]
        shown = [(s, r) for s, r in rows if r["n"]]
        shift = 0.06 * (k - (len(kinds) - 1) / 2)
        plot.line([(s + shift * bool(s), r["share"]) for s, r in shown], kind.replace("_", " "), k)
        dots = [(s + shift, r["share"], *r["interval95"]) for s, r in shown if s]
        plot.dots(dots, kind.replace("_", " "), k)
    ticks = [(float(s), str(s)) for s in range(6)]
    return plot.svg(ticks)
