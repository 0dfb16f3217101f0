"""The command line around a literal inspection; the readings themselves are tested elsewhere."""

import json
import os
import subprocess
import sys
import types
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import pytest
from typer.testing import CliRunner

from carbpair.cli import app
from carbpair.settings import Settings
from tests.inspection_example import inspection, picture_of

runner = CliRunner()


class Literal:
    """Stands for carbpair.inspection.Inspection."""

    def __init__(self, report: dict[str, Any]) -> None:
        self.report = report

    def to_json(self) -> dict[str, Any]:
        return self.report


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[tuple[list[Path], Settings]]:
    made: list[tuple[list[Path], Settings]] = []

    def inspect_photos(paths: Sequence[Path], settings: Settings, progress: Any = None) -> Literal:
        made.append((list(paths), settings))
        report = inspection()
        report["photos"] = [{**p, "file": f.name} for p, f in zip(report["photos"], paths)]  # noqa: B905
        return Literal(report)

    module: Any = types.ModuleType("carbpair.inspection")
    module.inspect_photos = inspect_photos
    monkeypatch.setitem(sys.modules, "carbpair.inspection", module)
    return made


@pytest.fixture
def photos(tmp_path: Path) -> list[Path]:
    """Two photos that fit the literal inspection and a third, broken file."""
    files = [tmp_path / name for name in ("front.jpg", "dark.jpg", "cut.jpg")]
    for file, entry in zip(files, inspection()["photos"], strict=True):
        if entry["error"]:
            file.write_bytes(b"\xff\xd8\xff\xe0 cut")
        else:
            cv2.imwrite(str(file), picture_of(entry)[..., ::-1])
    return files


def test_text_for_people(calls: list, photos: list[Path]) -> None:
    result = runner.invoke(app, ["inspect", *map(str, photos[:2])])
    assert result.exit_code == 0
    assert "Both carburettors found" in result.stdout
    assert calls[0][0] == photos[:2]


def test_one_json_object_for_programs(calls: list, photos: list[Path]) -> None:
    result = runner.invoke(app, ["inspect", "--json", *map(str, photos[:2])])
    assert result.exit_code == 0
    report = json.loads(result.stdout)
    assert report["schema"] == "carbpair/inspection/1"
    assert [p["file"] for p in report["photos"]] == ["front.jpg", "dark.jpg"]


def test_a_broken_photo_gives_code_2_and_the_others_are_there(
    calls: list, photos: list[Path]
) -> None:
    result = runner.invoke(app, ["inspect", "--json", *map(str, photos)])
    assert result.exit_code == 2
    report = json.loads(result.stdout)
    assert [bool(p["error"]) for p in report["photos"]] == [False, False, True]
    assert result.stderr.startswith("cut.jpg: The photo is cut short")
    text = runner.invoke(app, ["inspect", *map(str, photos)])
    assert text.exit_code == 2
    assert "cut.jpg: NOT READ" in text.stdout


def test_drawings_are_written_for_what_was_read(
    calls: list, photos: list[Path], tmp_path: Path
) -> None:
    out = tmp_path / "new" / "drawn"
    result = runner.invoke(app, ["inspect", "--annotate", str(out), *map(str, photos)])
    assert result.exit_code == 2
    assert sorted(p.name for p in out.iterdir()) == ["dark-annotated.jpg", "front-annotated.jpg"]
    assert max(cv2.imread(str(out / "front-annotated.jpg")).shape) <= 2000
    assert "front-annotated.jpg" in result.stdout


def test_same_names_from_two_folders_are_both_kept(
    calls: list, photos: list[Path], tmp_path: Path
) -> None:
    twin = tmp_path / "b" / "front.jpg"
    twin.parent.mkdir()
    twin.write_bytes(photos[1].read_bytes())
    out = tmp_path / "drawn"
    runner.invoke(app, ["inspect", "--annotate", str(out), str(photos[0]), str(twin)])
    names = sorted(p.name for p in out.iterdir())
    assert names == ["front-annotated-2.jpg", "front-annotated.jpg"]


def test_folders_are_expanded(calls: list, photos: list[Path], tmp_path: Path) -> None:
    runner.invoke(app, ["inspect", str(tmp_path)])
    assert calls[0][0] == sorted(photos)


def test_an_empty_folder_is_an_error(calls: list, tmp_path: Path) -> None:
    result = runner.invoke(app, ["inspect", str(tmp_path)])
    assert result.exit_code == 2
    assert "holds no JPEG" in result.stderr
    assert calls == []


def test_settings_come_from_the_environment(
    calls: list, photos: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CARBPAIR_MAX_PHOTO_PIXELS", "2000000")
    runner.invoke(app, ["inspect", str(photos[0])])
    assert calls[0][1].photo_limits().max_megapixels == 2.0
    monkeypatch.setenv("CARBPAIR_MAX_PHOTO_BYTES", "many")
    result = runner.invoke(app, ["inspect", str(photos[0])])
    assert result.exit_code == 2
    assert "CARBPAIR_MAX_PHOTO_BYTES" in result.stderr


def test_each_photo_can_be_a_pair_of_its_own(calls: list, photos: list[Path]) -> None:
    result = runner.invoke(app, ["inspect", "--each", "--json", *map(str, photos[:2])])
    assert result.exit_code == 0
    listed = json.loads(result.stdout)
    assert listed["schema"] == "carbpair/inspection-list/1"
    assert [i["schema"] for i in listed["inspections"]] == ["carbpair/inspection/1"] * 2
    assert [paths for paths, _ in calls] == [[photos[0]], [photos[1]]]
    assert [[p["file"] for p in i["photos"]] for i in listed["inspections"]] == [
        ["front.jpg"],
        ["dark.jpg"],
    ]


def test_each_in_text_has_a_heading_a_photo_and_one_caution(
    calls: list, photos: list[Path]
) -> None:
    result = runner.invoke(app, ["inspect", "--each", *map(str, photos[:2])])
    assert result.exit_code == 0
    heads = [line for line in result.stdout.splitlines() if line.startswith("===")]
    assert heads == ["=== front.jpg ===", "=== dark.jpg ==="]
    assert result.stdout.count("no flames or sparks") == 1
    assert max(len(line) for line in result.stdout.splitlines()[-3:]) <= 110


def test_each_goes_on_after_a_broken_photo_and_draws_the_others(
    calls: list, photos: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def inspect_photos(paths: Sequence[Path], settings: Settings, progress: Any = None) -> Literal:
        report = inspection()
        at = {"front.jpg": 0, "dark.jpg": 1, "cut.jpg": 2}[paths[0].name]
        return Literal({**report, "photos": [report["photos"][at]]})

    monkeypatch.setattr(sys.modules["carbpair.inspection"], "inspect_photos", inspect_photos)
    twin = tmp_path / "b" / "front.jpg"
    twin.parent.mkdir()
    twin.write_bytes(photos[0].read_bytes())
    out = tmp_path / "drawn"
    given = [photos[2], photos[0], twin]
    command = ["inspect", "--each", "--json", "--annotate", str(out), *map(str, given)]
    result = runner.invoke(app, command)
    assert result.exit_code == 2
    assert result.stderr.startswith("cut.jpg: The photo is cut short")
    listed = json.loads(result.stdout)["inspections"]
    assert [bool(i["photos"][0]["error"]) for i in listed] == [True, False, False]
    names = sorted(p.name for p in out.iterdir())
    assert names == ["front-annotated-2.jpg", "front-annotated.jpg"]


def test_help_and_version_import_nothing_heavy() -> None:
    # numpy, OpenCV and the rest cost a second; the help must not.
    code = (
        "import sys; from carbpair.cli import app\n"
        "try: app(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'cv2', 'onnxruntime', 'fastapi', 'sqlalchemy', 'pydantic', 'PIL'}\n"
        "sys.exit(','.join(heavy & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    for command in ("inspect", "serve", "work", "user"):
        assert command in done.stdout
    assert runner.invoke(app, ["--version"]).stdout.startswith("carbpair 0.")


def test_the_service_commands_are_found_when_asked_for() -> None:
    result = runner.invoke(app, ["serve", "--help"])
    assert result.exit_code == 0
    assert "--port" in result.stdout


@pytest.mark.parametrize("each", [False, True])
def test_a_progress_bar_is_shown_on_a_terminal(tmp_path: Path, each: bool) -> None:
    script = tmp_path / "run.py"
    script.write_text(
        "import sys, types\n"
        "from tests.inspection_example import inspection\n"
        "def inspect_photos(paths, settings, progress=None):\n"
        "    for i, p in enumerate(paths):\n"
        "        progress(i + 1, len(paths), p.name)\n"
        "    report = inspection()\n"
        "    report['photos'] = [report['photos'][0] for _ in paths]\n"
        "    return types.SimpleNamespace(to_json=lambda: report)\n"
        "module = types.ModuleType('carbpair.inspection')\n"
        "module.inspect_photos = inspect_photos\n"
        "sys.modules['carbpair.inspection'] = module\n"
        "from carbpair.cli import app\n"
        "app(['inspect', '--json', *sys.argv[1:], 'a.jpg', 'b.jpg', 'c.jpg', 'd.jpg'])\n",
        encoding="utf-8",
    )
    master, slave = os.openpty()
    done = subprocess.run(
        [sys.executable, str(script), *(["--each"] if each else [])],
        stdout=subprocess.PIPE,
        stderr=slave,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "TERM": "xterm"},
        check=False,
    )
    os.close(slave)
    shown = os.read(master, 100_000).decode()
    os.close(master)
    assert done.returncode == 0, shown
    assert "4/4" in shown
    schema = json.loads(done.stdout)["schema"]
    assert schema == f"carbpair/inspection{'-list' if each else ''}/1"
