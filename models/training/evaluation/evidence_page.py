"""Write models/EVIDENCE.md with its plots from the results in models/evidence.

    python -m training.evaluation.evidence_page

Run from ``models/``. Every number of the page comes from one of those JSON files; a set that was
not scored is named as missing. ``--evidence DIR --out FILE.md`` reads and writes elsewhere.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from carbpair.evaluate.plots import all_plots
from carbpair.evaluate.report import confusion, table
from carbpair.evaluate.summary import degrees_words, look_up, share_words, summary

from .robustness_section import middle_aims, robustness_section

MODELS = Path(__file__).parents[2]
Data = Mapping[str, Any]
Lines = list[str]

TARGETS = (
    ("hole count right, of answers", ("flange_holes", "accuracy_of_answers"), 0.98),
    ("hole count answered, in view", ("flange_holes", "coverage"), 0.90),
    ("bowl side right, of answers", ("bowl_side", "accuracy_of_answers"), 0.99),
    ("bowl side answered, in view", ("bowl_side", "coverage"), 0.92),
)
DEGREES = (
    ("bearing, mean absolute error", ("mark", "mean_absolute_error_deg"), 2.0),
    ("bearing, 95th percentile", ("mark", "95th_percentile_deg"), 6.0),
)
FALSE_PAIRS = 0.005
MISLED = 0.95

SCORED = (
    "unseen_style",
    "unseen_style_new",
    "unseen_style_second",
    "unseen_style_third",
    "second_renderer",
    "negative",
    "adversarial",
    "pair_views",
    "corruption",
)
UNSEEN = {
    "unseen_style": "path-traced",
    "unseen_style_new": "path-traced, new",
    "unseen_style_second": "path-traced, second",
    "unseen_style_third": "path-traced, third",
    "second_renderer": "second renderer",
}
"""Columns of the table of unseen styles."""

EXTRA = ("benchmark", "domain_gap", "ablation", "locator_ablation")
"""Files that hold ready tables: `tables` is a list of title, text, head and rows."""


def load_all(folder: Path) -> dict[str, Any]:
    """Results by name, as far as they are there."""
    files = {n: folder / f"{n}.json" for n in (*SCORED, *EXTRA)}
    return {n: json.loads(f.read_text(encoding="utf-8")) for n, f in files.items() if f.is_file()}


def page(data: Data, sets: Data, plots: dict[str, str]) -> str:
    """The page; SVG texts are put into `plots` by file name."""
    lines: Lines = [
        "# Evidence",
        "",
        "Written by `python -m training.evaluation.evidence_page` (from `models/`) out of the "
        "results in `models/evidence`. Each number has its n and a 95 % interval: Wilson for "
        "shares, bootstrap for errors. Carbs of one picture are counted as independent, so the "
        "intervals are somewhat too narrow. All pictures of carburettors are renders; no real "
        "photograph of one has been scored. To score the readers on your own photographs: "
        "`carbpair evaluate DIR`, see `docs/evaluate.md`.",
        "",
        *_sets(data, sets),
        *_targets(data),
    ]
    if "unseen_style" in data:
        lines += _unseen(data, plots)
    if "pair_views" in data:
        lines += _pairs(data["pair_views"])
    if "negative" in data:
        lines += _negatives(data["negative"])
    if "adversarial" in data:
        lines += _adversarial(data["adversarial"])
    if "corruption" in data:
        lines += robustness_section(data["corruption"], plots)
    for name in EXTRA:
        if name in data:
            lines += _ready(data[name])
    return "\n".join(lines).rstrip() + "\n"


def _sets(data: Data, sets: Data) -> Lines:
    rows = []
    for name, one in sets.items():
        done = data.get(name)
        scored = (
            f"{done['pictures']} pictures{_outdated(data, name, one)}" if done else "not scored"
        )
        how = f"`{one['make']}`" if "make" in one else ""
        rows.append([name, one["what"], how, scored])
    head = ("set", "what it is", "made by", "scored")
    again = "Rerun: `python -m training.evaluation.evidence SET --pictures DIR`, then the page."
    return ["## Frozen sets", "", *table(head, rows), "", again, ""]


def _outdated(data: Data, name: str, one: Data) -> str:
    """What of a result is no longer so: its list of seeds, its networks or their limits.

    The present networks and limits are those of the unseen styles.
    """
    found = []
    if data[name]["set"].get("seeds") != one.get("seeds"):
        found.append("of an earlier list")
    now = data.get("unseen_style", data[name])
    if data[name]["models"] != now["models"]:
        found.append("read by earlier networks")
    if data[name].get("calibration") != now.get("calibration"):
        found.append("judged by other limits")
    return "".join(f", {words}" for words in found)


def _targets(data: Data) -> Lines:
    rows = []
    for name, note in (("unseen_style", ""), ("unseen_style_new", ", new")):
        if name not in data:
            continue
        tables = data[name]["tables"]
        for words, path, least in TARGETS:
            row = look_up(tables, path)
            rows.append([words + note, f"≥ {100 * least:g} %", share_words(row), _met(row, least)])
        for words, path, most in DEGREES:
            row = look_up(tables, path)
            met = "no case" if not row["n"] else "yes" if row["value"] <= most else "no"
            rows.append([words + note, f"≤ {most:g}°", degrees_words(row), met])
    if "negative" in data:
        row = data["negative"]["tables"]["locator"]["photographs_with_a_false_pair"]
        met = "no case" if not row["n"] else "yes" if row["share"] <= FALSE_PAIRS else "no"
        rows.append(
            ["photographs without a carb with a false pair", "≤ 0.5 %", share_words(row), met]
        )
    if "adversarial" in data:
        for kind, group in data["adversarial"]["answers"].items():
            row = group["right_or_silent"]
            words = f"misleading scenes, {kind.replace('_', ' ')}: right or silent"
            rows.append([words, f"≥ {100 * MISLED:g} %", share_words(row), _met(row, MISLED)])
    if "corruption" in data:
        rows += middle_aims(data["corruption"])
    return ["## Aims", "", *table(("what", "aim", "measured", "met"), rows), ""] if rows else []


def _met(row: Data, least: float) -> str:
    if not row["n"]:
        return "no case"
    return "yes" if row["share"] >= least else "no"


def _unseen(data: Data, plots: dict[str, str]) -> Lines:
    one = data["unseen_style"]
    shown = {
        words: dict(summary(data[name]["tables"])) for name, words in UNSEEN.items() if name in data
    }
    words = list(dict.fromkeys(w for rows in shown.values() for w in rows))
    rows = [[w, *(rows.get(w, "no case") for rows in shown.values())] for w in words]
    lines = ["## Unseen styles", "", f"{one['source']}. {one['set']['what'].capitalize()}.", ""]
    for name in UNSEEN:
        which = name.removeprefix("unseen_style_").capitalize()
        if name.startswith("unseen_style_") and name in data:
            other = data[name]
            lines += [f"{which}: {other['source']}. {other['set']['what'].capitalize()}.", ""]
    lines += [*table(("what", *shown), rows), ""]
    if "second_renderer" in data:
        lines += [
            "The difference between the two renderers is a first estimate of what real "
            "photographs will cost.",
            "",
        ]
    for name, svg in all_plots(one["tables"]).items():
        plots[f"{name}.svg"] = svg
        lines.append(f"![{name}](evidence/plots/{name}.svg)")
    lines += ["", "### Confusion (all carbs found, in view or not)", ""]
    for name, matrix in one["confusion"]["features"].items():
        if "labels" in matrix:
            lines += [f"{name}, n = {matrix['n']}", "", *confusion(matrix), ""]
    return lines


def _pairs(one: Data) -> Lines:
    rows = [
        [count, share_words(row["solved"]), share_words(row["with_a_wrong_answer"])]
        for count, row in one["pairs"].items()
    ]
    head = ("photos", "hole count and bowl side of both carbs right", "an answer wrong")
    return [
        "## Pairs solved with one, two and three photos", "",
        f"{one['source']}. Views are drawn as in every set, from behind and above too.", "",
        *table(head, rows), "",
    ]  # fmt: skip


def _negatives(one: Data) -> Lines:
    rows = []
    for kind, group in one["groups"].items():
        table_ = group["tables"]["locator"]
        rows.append(
            [
                kind.replace("_", " "),
                share_words(table_["photographs_with_a_false_carb"]),
                share_words(table_["photographs_with_a_false_pair"]),
            ]
        )
    whole = one["tables"]["locator"]
    total = [
        "**all**",
        share_words(whole["photographs_with_a_false_carb"]),
        share_words(whole["photographs_with_a_false_pair"]),
    ]
    head = ("kind, or what it looks like", "a carb found", "a pair found")
    return ["## Real photographs without a carb", "", *table(head, [*rows, total]), ""]


def _adversarial(one: Data) -> Lines:
    rows = []
    for kind, g in one["answers"].items():
        wrong = ", ".join(
            f"{name} {w['hits']}/{w['n']}" for name, w in g["wrong"].items() if w["hits"]
        )
        rows.append(
            [
                kind.replace("_", " "),
                share_words(g["found"]),
                share_words(g["right_or_silent"]),
                wrong or "none",
                share_words(g["silent"]["flange_holes"]),
            ]
        )
    head = (
        "scene",
        "carbs found",
        "found carbs right or silent",
        "wrong answers",
        "hole count silent",
    )
    return [
        "## Scenes made to mislead", "",
        "A carb passes when each answer about it is right; silence is allowed. In a mirror image "
        "right is what the picture shows, since nothing tells that it is one. The rules that a "
        "hole found both as a bolt's and as a vent's, and a flange hardly seen whole, leave the "
        "count open were found on these scenes: bolt holes are judged too kindly here.", "",
        *table(head, rows), "",
    ]  # fmt: skip


def _ready(one: Data) -> Lines:
    lines: Lines = [f"## {one['title']}", ""]
    if one.get("text"):
        lines += [one["text"], ""]
    for part in one["tables"]:
        if part.get("title"):
            lines += [f"### {part['title']}", ""]
        if part.get("text"):
            lines += [part["text"], ""]
        rows: Sequence[Sequence[str]] = [[str(c) for c in row] for row in part["rows"]]
        lines += [*table(part["head"], rows), ""]
    return lines


def write(evidence: Path, out: Path) -> int:
    """Write page and plots; returns how many results there were."""
    data = load_all(evidence)
    sets = json.loads((evidence / "sets.json").read_text(encoding="utf-8"))["sets"]
    plots: dict[str, str] = {}
    text = page(data, sets, plots)
    folder = out.parent / "evidence" / "plots"
    folder.mkdir(parents=True, exist_ok=True)
    for name, svg in plots.items():
        (folder / name).write_text(svg, encoding="utf-8")
    out.write_text(text, encoding="utf-8")
    return len(data)


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--evidence", type=Path, default=MODELS / "evidence")
    p.add_argument("--out", type=Path, default=MODELS / "EVIDENCE.md")
    a = p.parse_args()
    print(f"{write(a.evidence, a.out)} results: {a.out}")


if __name__ == "__main__":
    main()
