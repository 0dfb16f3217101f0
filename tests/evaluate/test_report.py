"""Plots are well-formed SVG whose marks stand where the numbers say; outputs never overwrite."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from carbpair.evaluate.error import OutputError
from carbpair.evaluate.evaluation import result, without_curves
from carbpair.evaluate.outputs import check_outputs
from carbpair.evaluate.plot import LEFT, TOP, Plot
from carbpair.evaluate.plots import all_plots
from carbpair.evaluate.report import write_report
from carbpair.evaluate.summary import share_words, summary
from carbpair.settings import PACKAGE, default_model_dir
from tests.evaluate.example import RIGHT, bearing, carb, held, photo, seen, true

SVG = "{http://www.w3.org/2000/svg}"


def photos() -> list:
    left = true(flange_holes=2, bowl_side="inboard", mark_bearing_deg=4.0, chamber="piston")
    right = true(RIGHT, "right", flange_holes=2, bowl_side="inboard", chamber="piston")
    read = carb(
        flange_holes=seen(2), bowl_side=seen("inboard"), mark_bearing_deg=bearing(6.0),
        chamber=held("piston"),
    )  # fmt: skip
    other = carb(RIGHT, "right", flange_holes=seen(3), bowl_side=seen("inboard"))
    return [photo([left, right], [read, other], file="a.jpg"), photo([], [], file="b <&>.jpg")]


def test_a_mark_stands_where_its_number_says() -> None:
    plot = Plot("t", "x", "y", (0.0, 10.0), (0.0, 1.0), 460, 320)
    assert plot.at(0, 1) == (LEFT, TOP)
    plot.dots([(5.0, 0.5, 0.25, 1.0)], "a & b", 0)
    plot.line([(0, 0), (10, 1)], "line", 1)
    plot.note("n = 3 < 4")
    root = ET.fromstring(plot.svg())  # noqa: S314 - our own text
    (dot,) = [c for c in root.iter(f"{SVG}circle") if float(c.get("cy", 0)) < 300]
    assert (float(dot.get("cx", 0)), float(dot.get("cy", 0))) == pytest.approx(
        plot.at(5, 0.5), abs=0.1
    )
    words = [t.text for t in root.iter(f"{SVG}text")]
    assert {"a & b", "line", "n = 3 < 4", "x", "y"} <= set(words)


def test_every_plot_is_well_formed_and_named(tmp_path: Path) -> None:
    made = result(photos(), default_model_dir(), "set <1>", [])
    for name, svg in all_plots(made["tables"]).items():
        root = ET.fromstring(svg)  # noqa: S314 - our own text
        assert root.find(f"{SVG}title") is not None, name
        assert root.get("role") == "img"
    page = tmp_path / "mine.md"
    written = write_report(made, page)
    text = page.read_text()
    assert text.startswith("# Evaluation: set <1>")
    for path in written[1:]:
        assert f"(mine-plots/{path.name})" in text
        assert path.is_file()
    assert re.search(r"hole count right, of answers \| 50.0 % \(9\.\d–90\.\d\), 1/2", text)
    assert "| **2** | 1 | 1 | 0 | 0 | 0 |" in text


def test_summary_leaves_out_what_has_no_case() -> None:
    made = result(photos(), default_model_dir(), "x", [])
    rows = dict(summary(made["tables"]))
    assert rows["both carbs found, close or medium"].endswith("1/1")
    assert "filter answered" not in rows
    assert share_words({"n": 0}) == "no case"
    assert rows["bearing, mean absolute error"] == "2.0° (2.0–2.0), n = 1"


def test_curves_can_be_left_out() -> None:
    made = result(photos(), default_model_dir(), "x", [])
    assert "risk_coverage" in made["tables"]["flange_holes"]
    short = without_curves(made["tables"])
    assert "risk_coverage" not in short["flange_holes"]
    assert "reliability" not in short["mark"]
    assert short["flange_holes"]["coverage"] == made["tables"]["flange_holes"]["coverage"]


def test_the_shipped_evidence_is_never_written_to(tmp_path: Path) -> None:
    models = default_model_dir()
    (tmp_path / "nets").mkdir()
    (tmp_path / "clone").mkdir()
    (tmp_path / "clone" / "locator.onnx").touch()  # another clone, not the one in use
    for path in (
        models / "evaluation.json", models / "evidence" / "new.json", PACKAGE / "x.json",
        tmp_path / "clone" / "EVIDENCE.md", tmp_path / "clone" / "evidence" / "x.json",
        tmp_path / "nets" / "calibration.json",
        tmp_path / ".." / tmp_path.name / "nets" / "x.md",
    ):  # fmt: skip
        with pytest.raises(OutputError, match="never overwritten"):
            check_outputs([path], tmp_path / "nets", force=True)
    link = tmp_path / "link.json"
    link.symlink_to(models / "evaluation.json")
    with pytest.raises(OutputError, match="never overwritten"):
        check_outputs([link], models, force=True)


def test_other_files_are_overwritten_only_when_asked(tmp_path: Path) -> None:
    mine = tmp_path / "mine.json"
    check_outputs([mine], default_model_dir(), force=False)
    mine.write_text("{}")
    with pytest.raises(OutputError, match="--force"):
        check_outputs([mine], default_model_dir(), force=False)
    check_outputs([mine], default_model_dir(), force=True)
    with pytest.raises(OutputError, match="no folder"):
        check_outputs([tmp_path / "no" / "x.json"], default_model_dir(), force=True)
    with pytest.raises(OutputError, match="is a folder"):
        check_outputs([tmp_path], default_model_dir(), force=True)
