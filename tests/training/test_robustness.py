"""Results of corruptions: joined over severities, and held against the aims of the middle one."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from models.training.evaluation.evidence import main
from models.training.evaluation.robustness import joined, readers
from models.training.evaluation.robustness_section import middle_aims

from carbpair.evaluate.intervals import share
from carbpair.settings import default_model_dir


def tables(holes: tuple[int, int], bowls: tuple[int, int] = (0, 0)) -> dict[str, Any]:
    return {
        "flange_holes": {"accuracy_of_answers": share(*holes)},
        "bowl_side": {"accuracy_of_answers": share(*bowls)},
    }


def made(kinds: dict[str, Any], source: str = "one") -> dict[str, Any]:
    return {
        "models": ["a"],
        "calibration": {"mark_threshold": 0.8},
        "kinds": kinds,
        "clean": 1,
        "source": source,
        "pictures": 200,
    }


def test_aims_of_all_kinds_and_of_the_worst() -> None:
    kinds = {
        "blur": {"3": tables((97, 100), (60, 60))},
        "colour_cast": {"3": tables((96, 100), (0, 0)), "5": tables((0, 9))},
        "fog": {"1": tables((0, 9))},  # without the middle severity
    }
    rows = middle_aims(made(kinds))
    assert [r[0].split(", ", 2)[2] for r in rows] == [
        "all kinds",
        "the worst kind, colour cast",
        "all kinds",
        "the worst kind, blur",
    ]
    assert [r[1] for r in rows] == ["≥ 97 %", "≥ 97 %", "≥ 98.5 %", "≥ 98.5 %"]
    assert ["193/200" in rows[0][2], "96/100" in rows[1][2], "60/60" in rows[2][2]] == [True] * 3
    assert [r[3] for r in rows] == ["no", "no", "yes", "yes"]  # 96.5 and 96.0 %, then 100 %


def test_without_answers_there_is_no_aim() -> None:
    assert middle_aims(made({"blur": {"3": tables((0, 0))}})) == []


def test_other_severities_are_joined() -> None:
    first = made({"blur": {"3": 30}, "fog": {"3": 31}})
    more = made({"blur": {"1": 10, "5": 50}, "fog": {"1": 11, "5": 51}}, "two") | {"clean": 2}
    both = joined(first, more)
    assert both["kinds"] == {
        "blur": {"1": 10, "3": 30, "5": 50},
        "fog": {"1": 11, "3": 31, "5": 51},
    }
    assert (both["clean"], both["pictures"], both["source"]) == (1, 200, "one; two")
    assert list(both["kinds"]["blur"]) == ["1", "3", "5"]
    with pytest.raises(ValueError, match="severity 1 of blur is there already"):
        joined(both, more)
    with pytest.raises(ValueError, match="different networks"):
        joined(first, more | {"models": ["b"]})
    with pytest.raises(ValueError, match="different calibrations"):
        joined(first, more | {"calibration": {"mark_threshold": 0.9}})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "severity 3 of blur is there already"),
        ({"models": ["other"]}, "different networks"),
        ({"calibration": {}}, "different calibrations"),
    ],
)
def test_what_cannot_be_joined_is_refused_before_anything_is_read(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    changes: dict[str, Any],
    words: str,
) -> None:
    there = made({"blur": {"3": 30}}) | readers(default_model_dir()) | changes
    (tmp_path / "corruption.json").write_text(json.dumps(there))
    (tmp_path / "0908200.jpg").touch()  # nothing that could be read
    command = f"x corruption --pictures {tmp_path} --out {tmp_path} --severities 1 3 --add"
    monkeypatch.setattr("sys.argv", command.split())
    with pytest.raises(SystemExit) as stopped:
        main()
    assert stopped.value.code == 2
    assert words in capsys.readouterr().err
