"""A draft lists photos and carbs, leaves features open, and never replaces a truth file."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from carbpair.cli import app
from carbpair.evaluate.draft import TO_FILL, draft
from carbpair.evaluate.truth import FEATURES
from carbpair.evaluate.truth_file import folder_entries
from carbpair.inspection import PhotoInspection
from carbpair.photo import PhotoError
from tests.evaluate.example import RIGHT, carb, seen

SAMPLES = Path(__file__).parents[2] / "sample_images"


def test_a_draft_is_a_truth_file_without_answers() -> None:
    left = carb(flange_holes=seen(2))
    read = [
        PhotoInspection("a.jpg", 400, 300, carbs=(left, carb(RIGHT, "right"))),
        PhotoInspection("b.jpg", 400, 300),
        PhotoInspection("c.jpg", error=PhotoError("damaged", "c.jpg", "Broken.", "Send it again.")),
    ]
    made = draft(["day/a.jpg", "b.jpg", "c.jpg"], read)
    entries = folder_entries(Path("truth.json"), json.loads(json.dumps(made)))
    assert list(entries) == ["day/a.jpg", "b.jpg"]
    first = entries["day/a.jpg"].carbs
    assert [c.position for c in first] == ["left", "right"]
    assert first[1].box == RIGHT
    assert all(getattr(c, name) is None for c in first for name in TO_FILL)
    assert set(TO_FILL) == set(FEATURES) - {"mark_verdict"}  # follows from the bearing


def test_from_the_command_line_and_never_twice(tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "two-hole-inboard.jpg", tmp_path)
    done = CliRunner().invoke(app, ["evaluate", str(tmp_path), "--draft"])
    assert done.exit_code == 0, done.output
    data = json.loads((tmp_path / "truth.json").read_text())
    assert len(data["photos"]["two-hole-inboard.jpg"]["carbs"]) == 2
    for entry in data["photos"]["two-hole-inboard.jpg"]["carbs"]:
        entry["flange_holes"] = 2
    (tmp_path / "truth.json").write_text(json.dumps(data))
    again = CliRunner().invoke(app, ["evaluate", str(tmp_path), "--draft"])
    assert again.exit_code == 2
    assert "exists already and is kept" in again.stderr
    scored = CliRunner().invoke(app, ["evaluate", str(tmp_path)])
    assert scored.exit_code == 0, scored.output
    assert "hole count answered, of flanges in view" in scored.stdout


@pytest.mark.parametrize("folder", ["empty", "none"])
def test_a_folder_without_photos(tmp_path: Path, folder: str) -> None:
    (tmp_path / "empty").mkdir()
    done = CliRunner().invoke(app, ["evaluate", str(tmp_path / folder), "--draft"])
    assert done.exit_code == 2
    assert done.stderr
