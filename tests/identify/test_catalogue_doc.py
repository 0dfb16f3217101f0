"""The examples of docs/catalogue.md and docs/identification.md are tried as they stand."""

import json
import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from carbpair.cli import app
from carbpair.identify.catalogue_file import parse_catalogue
from carbpair.identify.confusion_file import parse_confusion
from carbpair.identify.pattern import Pattern
from carbpair.identify.thread import THREADS
from tests.identify.example import features, inspection

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "catalogue.md").read_text(encoding="utf-8")
OUTPUT = (ROOT / "docs" / "identification.md").read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", text, flags=re.M | re.S)


@pytest.mark.parametrize("text", blocks(PAGE, "toml"))
def test_every_example_is_a_catalogue(text: str) -> None:
    assert parse_catalogue(text.encode(), "docs").patterns


def test_the_large_example_shows_every_field() -> None:
    text = blocks(PAGE, "toml")[1]
    for name in Pattern.__dataclass_fields__:
        assert re.search(rf"^{name} =|\[\[?pattern\.{name}\]", text, flags=re.M), name


def test_every_thread_is_listed() -> None:
    assert all(f"`{name}`" in PAGE for name in THREADS)


def test_the_confusion_example_has_the_right_shape() -> None:
    held = json.loads(blocks(OUTPUT, "json")[0])
    holes = held["features"]["flange_holes"]
    for name, labels in (("chamber", 2), ("bowl_side", 3)):
        held["features"][name] = {
            "labels": [str(n) for n in range(labels)],
            "counts": [[1] * (labels + 2)] * labels,
        }
    assert (
        parse_confusion(json.dumps(held).encode(), "docs").labels["flange_holes"].n == (holes["n"])
    )


def lines() -> list[str]:
    found = [
        line for text in (PAGE, OUTPUT) for body in blocks(text, "sh") for line in body.splitlines()
    ]
    return [line for line in found if line.startswith("carbpair ") and "calibrate" not in line]


@pytest.mark.parametrize("line", lines())
def test_every_command_runs(line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    held = json.dumps(inspection(*[features(4, "outboard", "piston", 2.0, "diamond")] * 2))
    for name in ("features.json", "before.json"):
        Path(name).write_text(held)
    Path("mine.toml").write_text(blocks(PAGE, "toml")[0])
    result = CliRunner().invoke(app, shlex.split(line)[1:])
    assert result.exit_code == 0, result.output
    assert result.output
