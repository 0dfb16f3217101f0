"""`carbpair inspect` shows the identification; the readings stand in for the networks."""

import json
import sys
import types
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from carbpair.cli import app
from carbpair.identify import IdentifyError, demo_catalogue, load_calibration, load_confusion
from carbpair.identify.inspected import Identifier
from tests.identify.example import features, inspection

SMALL = """schema = "carbpair/catalogue/1"
[catalogue]
id = "small"
name = "Small"
version = "7"
[[pattern]]
id = "mine"
name = "Mine"
chamber = "piston"
"""


def report(carbs: bool = True) -> dict[str, Any]:
    held = inspection(*[features(4, "outboard", "piston", 2.0, "diamond") if carbs else None] * 2)
    entry = {"score": 0.9, "box": [0, 0, 9, 9], "position": "left"}
    held["photos"] = [
        {
            "file": "a.jpg",
            "width": 10,
            "height": 10,
            "error": None,
            "notes": [],
            "quality": {"status": "good", "findings": []},
            "carbs": [{**entry, **features(4, "outboard", "piston", 2.0, "diamond")}]
            if carbs
            else [],
        }
    ]
    return held


def test_the_demonstration_is_the_default_and_says_so() -> None:
    found = Identifier(None, None, None).identify(report())
    assert found is not None
    assert found.catalogue.demo
    assert found.candidates[0].id == "op-4out"


def test_a_given_catalogue_is_used(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(SMALL)
    found = Identifier(file, None, None).identify(report())
    assert found is not None
    assert (found.catalogue.id, found.catalogue.version) == ("small", "7")


def test_without_a_carburettor_there_is_none() -> None:
    assert Identifier(None, None, None).identify(report(carbs=False)) is None


def test_a_wrong_car_or_catalogue_is_said_at_once(tmp_path: Path) -> None:
    with pytest.raises(IdentifyError, match="Varnley Tindre"):
        Identifier(None, "Varnley Tindr", None)
    with pytest.raises(IdentifyError, match="cannot be read"):
        Identifier(tmp_path / "absent.toml", None, None)


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> str:
    module: Any = types.ModuleType("carbpair.inspection")
    module.inspect_photos = lambda *_, **__: types.SimpleNamespace(to_json=report)
    monkeypatch.setitem(sys.modules, "carbpair.inspection", module)
    photo = tmp_path / "a.jpg"
    photo.write_bytes(b"\xff\xd8\xff")
    return str(photo)


def run(*arguments: str) -> Any:
    return CliRunner().invoke(app, list(arguments))


def test_inspect_prints_it(read: str) -> None:
    result = run("inspect", read, "--json", "--car", "Varnley Tindre")
    assert result.exit_code == 0, result.output
    held = json.loads(result.stdout)["identification"]
    assert held["candidates"][0]["id"] == "op-4out"
    assert held["facts"]["car"] == "Varnley Tindre"


def test_a_wrong_car_stops_inspect_with_one_line(read: str) -> None:
    result = run("inspect", read, "--car", "Varnley Tindr")
    assert result.exit_code == 2
    assert "Did you mean 'Varnley Tindre'" in result.stderr


def test_identify_and_verify_take_photos(read: str) -> None:
    found = json.loads(run("identify", read, "--json").stdout)
    assert found["candidates"][0]["id"] == "op-4out"
    held = run("verify", "--pattern", "op-4out", "--after", read, read)
    assert held.exit_code == 0, held.output


def test_photos_of_which_none_can_be_read(read: str, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = report(carbs=False)
    fault = {"kind": "truncated", "message": "a.jpg: cut short.", "remedy": "Send it again."}
    broken["photos"][0]["error"] = fault
    module: Any = sys.modules["carbpair.inspection"]
    module.inspect_photos = lambda *_, **__: types.SimpleNamespace(to_json=lambda: broken)
    result = run("identify", read)
    assert result.exit_code == 2
    assert "a.jpg: cut short. Send it again." in result.stderr


def test_the_shipped_calibration_was_fitted_for_the_shipped_data() -> None:
    # After a change of catalogue or readers: python models/training/simulate_identification.py
    assert load_calibration(demo_catalogue(), load_confusion()).fitted
