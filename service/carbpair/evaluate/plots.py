"""The plots of an evaluation: each a name and an SVG text."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from carbpair.evaluate.plot import Plot

CURVES = {
    "flange_holes": "hole count", "bowl_side": "bowl side", "chamber": "chamber",
    "filter_fitted": "filter fitted", "mark": "mark within 15°",
}  # fmt: skip


def all_plots(tables: Mapping[str, Any]) -> dict[str, str]:
    """Plots by name, as far as the tables have cases."""
    out = {"risk-coverage": risk_plot(tables), "locator-by-size": size_plot(tables["locator"])}
    for name, words in CURVES.items():
        if tables[name]["reliability"]["n"]:
            out[f"reliability-{name.replace('_', '-')}"] = reliability_plot(
                words, tables[name]["reliability"]
            )
    if sum(tables["mark"]["error_histogram"]["counts"]):
        out["bearing-errors"] = error_plot(tables["mark"])
    return out


def risk_plot(tables: Mapping[str, Any]) -> str:
    """Share of wrong answers against the share answered, surest first, for each feature."""
    curves = {k: tables[k]["risk_coverage"] for k in CURVES}
    worst = max((p[1] for c in curves.values() for p in c["points"]), default=0.0)
    top = next((t for t in (0.02, 0.04, 0.08, 0.2, 0.4) if worst <= t), 1.0)
    plot = Plot(
        "Risk and coverage", "answered, surest first", "of these, wrong",
        (0.0, 1.0), (0.0, top), percent_x=True, percent_y=True,
    )  # fmt: skip
    for k, (name, words) in enumerate(CURVES.items()):
        points = [(p[0], p[1]) for p in curves[name]["points"]]
        plot.line(points, f"{words} (n = {curves[name]['n']})", k)
    return plot.svg()


def reliability_plot(words: str, table: Mapping[str, Any]) -> str:
    """Share right against the probability stated, with intervals and the noise floor."""
    plot = Plot(
        f"Reliability: {words}", "probability stated", "share right",
        (0.0, 1.0), (0.0, 1.0), 340, 300, percent_x=True, percent_y=True,
    )  # fmt: skip
    plot.reference((0.0, 0.0), (1.0, 1.0))
    points = [
        (b["mean_probability"], b["right"]["share"], *b["right"]["interval95"])
        for b in table["bins"]
    ]
    plot.dots(points, "", 0)
    plot.note(f"n = {table['n']}, calibration error {table['ece']:.4f}")
    plot.note(f"a perfect reader: {table['floor_mean']:.4f}, 95 % below {table['floor_95']:.4f}")
    return plot.svg()


def size_plot(locator: Mapping[str, Any]) -> str:
    """Share of pairs and of single carbs found, by the dashpot's size."""
    return share_plot(
        "Found, by dashpot width over photo width",
        {"both carbs of a pair": locator["both_found"], "each carb": locator["each_found"]},
    )


def share_plot(title: str, series: Mapping[str, Mapping[str, Any]], y_label: str = "share") -> str:
    """Shares with intervals over named categories, one series beside the other."""
    names = list(dict.fromkeys(k for rows in series.values() for k in rows))
    plot = Plot(
        title, "", y_label, (-0.5, len(names) - 0.5), (0.0, 1.0),
        max(460, 120 * len(names)), percent_y=True,
    )  # fmt: skip
    for s, (label, rows) in enumerate(series.items()):
        shift = 0.16 * (s - (len(series) - 1) / 2)
        points = [
            (k + shift, row["share"], *row["interval95"])
            for k, name in enumerate(names)
            if (row := rows.get(name)) and row["n"]
        ]
        plot.dots(points, label, s)
    ticks = [(float(k), _short(name)) for k, name in enumerate(names)]
    return plot.svg(ticks)


def error_plot(mark: Mapping[str, Any]) -> str:
    """Histogram of the bearing's absolute error; bars of unequal width in degrees."""
    counts: Sequence[int] = mark["error_histogram"]["counts"]
    edges: Sequence[float] = mark["error_histogram"]["edges_deg"]
    n = sum(counts)
    top = math.ceil(25 * max(counts) / n) / 25
    plot = Plot(
        "Bearing: absolute error of the answers", "degrees", "share of answers",
        (0.0, float(len(counts))), (0.0, top), percent_y=True,
    )  # fmt: skip
    for k, count in enumerate(counts):
        plot.bar(k, k + 1, count / n)
    plot.note(f"n = {n}")
    return plot.svg([(float(k), f"{e:g}") for k, e in enumerate(edges)])


def _short(name: str) -> str:
    return name.replace("close_or_medium (8 % or more)", "8 % or more").replace("_", " ")
