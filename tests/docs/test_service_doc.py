"""docs/service.md: every setting is in its table, and its requests work as they stand."""

import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from carbpair.cases import account
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import open_workspace
from tests.web.process import ServiceProcess

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/service.md").read_text(encoding="utf-8")
REQUESTS = re.findall(r"^curl .*$", PAGE, flags=re.M)
TIMED_OUT = 28  # curl's exit status at --max-time, with which a stream without end is left


def test_every_setting_is_told() -> None:
    told = set(re.findall(r"`CARBPAIR_(\w+)`", PAGE))
    assert {name.upper() for name in ServiceSettings.model_fields} <= told


def test_defaults_in_the_table_are_those_in_force() -> None:
    for name, field in ServiceSettings.model_fields.items():
        if name.endswith("_rate"):
            assert f"`{field.default}`" in PAGE
    defaults = {name: field.default for name, field in ServiceSettings.model_fields.items()}
    assert defaults["max_photo_bytes"] == 25 * 2**20
    assert defaults["max_photo_pixels"] == 50_000_000
    for names, told in (
        (("lease_seconds", "max_attempts"), "10, 3"),
        (("link_days", "session_hours", "upload_hours"), "14, 12, 48"),
        (("max_photos_per_case", "max_photos_per_inspection"), "40, 12"),
    ):
        assert ", ".join(f"{defaults[name]:g}" for name in names) == told
        row = next(line for line in PAGE.splitlines() if f"`CARBPAIR_{names[0].upper()}`" in line)
        assert row.endswith(f"| {told} |")


@pytest.fixture
def service(tmp_path: Path) -> Iterator[ServiceProcess]:
    running = ServiceProcess(tmp_path / "data")
    running.start()
    yield running
    running.stop()


@pytest.mark.skipif(shutil.which("curl") is None, reason="the examples are curl's")
def test_requests_work_as_they_stand(service: ServiceProcess, tmp_path: Path) -> None:
    workspace = open_workspace(ServiceSettings(data_dir=tmp_path / "data"))
    with workspace.database.write() as connection:
        user = account.create_user(connection, "test", "ann", "three quiet carburettors")
        token = account.open_session(connection, user, 3600, kind="bearer")
    workspace.close()
    environment = os.environ | {"TOKEN": token}
    answers = []
    for request in REQUESTS:
        command = request.replace("http://127.0.0.1:8000", service.url)
        done = subprocess.run(
            ["bash", "-c", command], capture_output=True, text=True, env=environment, cwd=ROOT,
            check=False,
        )  # fmt: skip
        assert done.returncode in (0, TIMED_OUT), (command, done.stdout, done.stderr)
        answers.append(done.stdout)
        if "--json" in request:
            environment["CASE"] = json.loads(done.stdout)["id"]
    assert len(answers) == 5
    assert json.loads(answers[0])["schema"] == "carbpair/inspection/1"
    assert [case["title"] for case in json.loads(answers[2])["cases"]] == ["Blue two-seater"]
    assert json.loads(answers[3])["view"] == "intake"
    assert answers[4].startswith("event: progress\ndata: ")
