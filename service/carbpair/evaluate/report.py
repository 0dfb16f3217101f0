"""An evaluation as Markdown with SVG plots beside it."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from carbpair.evaluate.confusion_table import NO_ANSWER
from carbpair.evaluate.plots import all_plots
from carbpair.evaluate.summary import share_words, summary

CAUTION = (
    "Intervals are 95 %: Wilson for shares, bootstrap for errors. Carbs of one photo are counted "
    "as independent, so the intervals are somewhat too narrow."
)


def write_report(result: Mapping[str, Any], path: Path) -> list[Path]:
    """Write the page and a folder of plots named after it; returns all files written."""
    folder = plot_folder(path)
    folder.mkdir(exist_ok=True)
    written = []
    plots = all_plots(result["tables"])
    for name, svg in plots.items():
        target = folder / f"{name}.svg"
        target.write_text(svg, encoding="utf-8")
        written.append(target)
    text = report(result, {name: f"{folder.name}/{name}.svg" for name in plots})
    path.write_text(text, encoding="utf-8")
    return [path, *written]


def plot_folder(path: Path) -> Path:
    """Where the plots of a page go."""
    return path.with_name(path.stem + "-plots")


def report(result: Mapping[str, Any], plots: Mapping[str, str]) -> str:
    """The page; `plots` maps names to links."""
    lines = [
        f"# Evaluation: {result['source']}",
        "",
        f"carbpair {result['software']['version']}; {result['pictures']} photos with "
        f"{result['carbs']} carbs that should be found. {CAUTION}",
        "",
        *table(("what", "result"), summary(result["tables"])),
        "",
    ]
    if result["not_read"]:
        lines += ["Not read: " + ", ".join(r["file"] for r in result["not_read"]) + ".", ""]
    lines += _why_not(result["tables"])
    lines += _pairs(result["pairs"])
    lines += ["## Confusion", "", "Rows: true. Columns: said. All carbs found, in view or not.", ""]
    for name, matrix in result["confusion"]["features"].items():
        if "labels" in matrix and matrix["n"]:
            lines += [f"### {name} (n = {matrix['n']})", "", *confusion(matrix), ""]
    lines += ["## Plots", ""]
    lines += [f"![{name}]({link})" for name, link in plots.items()]
    lines += ["", *_groups(result["groups"]), "## Networks", ""]
    lines += [f"- {m['name']} {m['sha256']}" for m in result["models"]]
    return "\n".join(lines) + "\n"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A Markdown table."""
    out = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return out + ["| " + " | ".join(cell.strip() for cell in row) + " |" for row in rows]


def confusion(matrix: Mapping[str, Any]) -> list[str]:
    """A confusion matrix as a Markdown table."""
    labels = matrix["labels"]
    rows = [
        [f"**{name}**", *(str(v) for v in counts)]
        for name, counts in zip(labels, matrix["counts"], strict=True)
    ]
    return table(("true", *labels, *NO_ANSWER), rows)


def _why_not(tables: Mapping[str, Any]) -> list[str]:
    rows = [
        [name, ", ".join(f"{k} {v}" for k, v in sorted(why.items(), key=lambda kv: -kv[1]))]
        for name in ("flange_holes", "hole_layout", "bowl_side", "mark", "chamber", "filter_fitted")
        if (why := tables[name]["not_answered"])
    ]
    return ["## Why not answered, though in view", "", *table(("feature", "reasons"), rows), ""]


def _pairs(pairs: Mapping[str, Any]) -> list[str]:
    if not pairs:
        return []
    rows = [
        [count, share_words(row["solved"]), share_words(row["with_a_wrong_answer"])]
        for count, row in pairs.items()
    ]
    head = ("photos", "hole count and bowl side of both carbs right", "an answer wrong")
    return ["## Pairs by number of photos", "", *table(head, rows), ""]


def _groups(groups: Mapping[str, Any]) -> list[str]:
    out: list[str] = []
    for name, group in groups.items():
        rows = summary(group["tables"])
        out += [f"## {name} ({group['pictures']} photos)", "", *table(("what", "result"), rows), ""]
    return out
