"""`carbpair evaluate` on sample pictures with the shipped networks, and what it refuses."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from carbpair.cli import app
from carbpair.settings import default_model_dir

SAMPLES = Path(__file__).parents[2] / "sample_images"
NAMES = ("two-hole-inboard", "mixed-pair", "filters-fitted")
runner = CliRunner()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("photos")
    for name in NAMES:
        shutil.copy(SAMPLES / f"{name}.jpg", made)
        shutil.copy(SAMPLES / f"{name}.truth.json", made)
    return made


def test_the_tables_say_what_the_pictures_show(folder: Path, tmp_path: Path) -> None:
    output, page = tmp_path / "out.json", tmp_path / "out.md"
    done = runner.invoke(
        app,
        ["evaluate", str(folder), "--json", str(output), "--report", str(page), "--name", "mine"],
    )
    assert done.exit_code == 0, done.output
    assert "mine: 3 photos, 6 carbs in view" in done.stdout
    result = json.loads(output.read_text())
    assert (result["schema"], result["pictures"], result["carbs"]) == (
        "carbpair/evaluation/1",
        3,
        6,
    )
    holes = result["confusion"]["features"]["flange_holes"]
    assert (
        holes["n"]
        == result["tables"]["locator"]["each_found"]["close_or_medium (8 % or more)"]["hits"]
    )
    names = ["locator", "reader", "refiner", "flange", "rim"]
    assert [m["name"] for m in result["models"]] == names
    assert (tmp_path / "out-plots" / "risk-coverage.svg").is_file()
    assert page.read_text().startswith("# Evaluation: mine")
    again = runner.invoke(app, ["evaluate", str(folder), "--json", str(output)])
    assert again.exit_code == 2
    assert "--force" in again.stderr


def test_a_photo_that_cannot_be_read_is_named_and_the_rest_scored(
    folder: Path, tmp_path: Path
) -> None:
    photos = tmp_path / "photos"
    shutil.copytree(folder, photos)
    (photos / "cut.jpg").write_bytes(b"\xff\xd8\xff\xe0 cut")
    (photos / "cut.json").write_text('{"carbs": []}')
    done = runner.invoke(app, ["evaluate", str(photos)])
    assert done.exit_code == 2
    assert "3 photos" in done.stdout
    assert "cut.jpg: " in done.stderr


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--json", str(default_model_dir() / "evaluation.json"), "--force"], "never overwritten"),
        (["--report", str(default_model_dir() / "EVIDENCE.md"), "--force"], "never overwritten"),
        (["--models", "/nowhere"], "locator.onnx is not in /nowhere"),
    ],
)
def test_what_is_refused(folder: Path, more: list[str], words: str) -> None:
    before = (default_model_dir() / "evaluation.json").read_bytes()
    done = runner.invoke(app, ["evaluate", str(folder), *more])
    assert done.exit_code == 2
    assert words in done.stderr
    assert (default_model_dir() / "evaluation.json").read_bytes() == before


def test_missing_truth_is_said_before_any_photo_is_read(tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "mixed-pair.jpg", tmp_path)
    done = runner.invoke(app, ["evaluate", str(tmp_path)])
    assert done.exit_code == 2
    assert "holds no truth" in done.stderr
    assert "truth.json" in done.stderr
