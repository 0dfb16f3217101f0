import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from carbpair.cli import app
from tests.identify.example import features, inspection

FOUR = inspection(*[features(4, "outboard", "piston", 2.0, "diamond")] * 2)
CAR = ["--car", "Varnley Tindre", "--engine", "VS20 1991 cc"]


def run(*arguments: str, given: str | None = None) -> Result:
    return CliRunner().invoke(app, list(arguments), input=given)


@pytest.fixture
def four(tmp_path: Path) -> str:
    file = tmp_path / "four.json"
    file.write_text(json.dumps(FOUR))
    return str(file)


def test_identify_in_words_and_as_json(four: str) -> None:
    words = run("identify", four, *CAR)
    assert words.exit_code == 0
    assert "op-4out" in words.output
    assert "demonstration" in words.output
    held = json.loads(run("identify", four, *CAR, "--json").output)
    assert held["candidates"][0]["id"] == "op-4out"
    assert held["facts"]["car"] == "Varnley Tindre"


def test_identify_from_standard_input(four: str) -> None:
    piped = run("identify", "-", *CAR, "--json", given=Path(four).read_text())
    assert piped.output == run("identify", four, *CAR, "--json").output


def test_all_kinds_of_facts_reach_the_identification(four: str) -> None:
    held = json.loads(
        run(
            "identify",
            four,
            "--tag",
            "left:VN 2405 R",
            "--tag",
            "right:VN 2404 F",
            "--confirmed",
            "heat_shield=false",
            "--symptom",
            "flooding",
            "--year",
            "1968",
            "--car",
            "Varnley Tindre",
            "--json",
        ).output
    )
    assert held["answer"] == "op-4out"
    assert [tag["position"] for tag in held["facts"]["tags"]] == ["left", "right"]
    assert any(item["reason"] == "symptom" for item in held["checklist"])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--car", "Varnley Tindr"], "Did you mean 'Varnley Tindre'"),
        (["--car", "Varnley Tindre", "--engine", "V8"], "Known: VS20 1991 cc"),
        (["--confirmed", "flange_holes=3", "--confirmed", "flange_holes=4"], "stated twice"),
        (["--confirmed", "nonsense"], "feature=value"),
        (["--symptom", "explodes"], "not a known symptom"),
        (["--catalogue", "absent.toml"], "absent.toml: cannot be read"),
    ],
)
def test_bad_facts_are_one_clear_message(four: str, arguments: list[str], says: str) -> None:
    result = run("identify", four, *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.output


@pytest.mark.parametrize(
    ("content", "says"), [("{", "not JSON"), ("[]", "one JSON object"), ("{}", "schema")]
)
def test_bad_features_files(tmp_path: Path, content: str, says: str) -> None:
    file = tmp_path / "f.json"
    file.write_text(content)
    result = run("identify", str(file))
    assert result.exit_code == 2
    assert says in result.stderr


def test_features_and_photos_do_not_mix(four: str) -> None:
    result = run("identify", four, "a.jpg")
    assert result.exit_code == 2
    assert "cannot be mixed" in result.stderr


def test_verify_exit_codes(four: str, tmp_path: Path) -> None:
    hidden = tmp_path / "hidden.json"
    hidden.write_text(json.dumps(inspection(*[features(None, "outboard", "piston", 2.0)] * 2)))
    assert run("verify", "--pattern", "op-4out", "--after", four).exit_code == 0
    assert run("verify", "--pattern", "op-2in", "--after", four).exit_code == 1
    unseen = run("verify", "--before", four, "--after", str(hidden))
    assert unseen.exit_code == 3
    assert "CANNOT SEE" in unseen.output
    nothing = run("verify", "--after", four)
    assert nothing.exit_code == 2
    assert "--pattern ID or --before" in nothing.stderr
    assert run("verify", "--pattern", "op-9", "--after", four).exit_code == 2


def test_verify_as_json(four: str) -> None:
    held = json.loads(run("verify", "--pattern", "op-4out", "--after", four, "--json").output)
    assert held["result"] == "pass"
    mark = next(item for item in held["items"] if item["item"] == "alignment mark")
    assert mark["interval_deg"][0] < mark["bearing_deg"] < mark["interval_deg"][1]


SMALL = """schema = "carbpair/catalogue/1"
[catalogue]
id = "small"
name = "Small"
version = "1"
[[pattern]]
id = "a"
name = "A"
chamber = "piston"
[[pattern]]
id = "b"
name = "B"
chamber = "diaphragm"
"""


def test_catalogue_check(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(SMALL)
    good = run("catalogue", "check", str(file), "--list")
    assert good.exit_code == 0
    assert "2 patterns" in good.output
    file.write_text(SMALL.replace("chamber =", "chambr =", 1))
    bad = run("catalogue", "check", str(file))
    assert bad.exit_code == 2
    assert "line 9" in bad.stderr
    assert "Did you mean 'chamber'" in bad.stderr


def test_catalogue_schema_is_json() -> None:
    assert json.loads(run("catalogue", "schema").output)["$schema"]


def test_a_catalogue_can_be_calibrated_and_is_then_trusted(four: str, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(SMALL)
    before = json.loads(run("identify", four, "--catalogue", str(file), "--json").output)
    assert not before["trust"]["calibrated"]
    done = run("catalogue", "calibrate", str(file), "--cases", "500", "--per-pattern", "50")
    assert done.exit_code == 0, done.output
    after = json.loads(run("identify", four, "--catalogue", str(file), "--json").output)
    assert after["trust"]["calibrated"]
    assert after["conformal_set"]
