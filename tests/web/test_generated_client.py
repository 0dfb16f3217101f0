"""A client that openapi-python-client makes from our OpenAPI talks to a running service."""

import importlib
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import httpx
import pytest

from carbpair.cases import account
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import open_workspace
from tests.web.process import ServiceProcess

SAMPLE = Path(__file__).parents[2] / "sample_images" / "two-hole-inboard.jpg"
PACKAGE = "carbpair_generated"


@pytest.fixture
def service(tmp_path: Path) -> Iterator[ServiceProcess]:
    running = ServiceProcess(tmp_path / "data", CARBPAIR_RATE_LIMITS="false")
    running.start()
    yield running
    running.stop()


@pytest.fixture
def client_package(
    service: ServiceProcess, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> ModuleType:
    document = tmp_path / "openapi.json"
    document.write_text(httpx.get(f"{service.url}/openapi.json").text)
    config = tmp_path / "config.json"
    bytes_as_they_are = dict.fromkeys(("image/jpeg", "application/pdf"), "application/octet-stream")
    config.write_text(
        json.dumps(
            {
                "package_name_override": PACKAGE,
                "post_hooks": [],
                "content_type_overrides": bytes_as_they_are,
            }
        )
    )
    made = subprocess.run(
        [sys.executable, "-m", "openapi_python_client", "generate", "--path", str(document),
         "--config", str(config), "--meta", "none", "--fail-on-warning",
         "--output-path", str(tmp_path / PACKAGE)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert made.returncode == 0, made.stdout + made.stderr
    monkeypatch.syspath_prepend(str(tmp_path))
    return importlib.import_module(PACKAGE)


def _part(name: str) -> Any:
    return importlib.import_module(f"{PACKAGE}.{name}")


def test_generated_client_inspects_and_keeps_cases(
    service: ServiceProcess, client_package: ModuleType, tmp_path: Path
) -> None:
    file = _part("types").File(
        payload=SAMPLE.open("rb"), file_name="IMG_1.jpg", mime_type="image/jpeg"
    )
    body = _part("models").BodyInspectInspectPost(photos=[file])
    visitor = client_package.Client(base_url=service.url, timeout=120.0)
    answer = _part("api.inspection.inspect_inspect_post").sync_detailed(client=visitor, body=body)
    assert answer.status_code == 200
    inspection = json.loads(answer.content)
    assert inspection["schema"] == "carbpair/inspection/1"
    assert inspection["photos"][0]["file"] == "IMG_1.jpg"
    assert {carb["position"] for carb in inspection["photos"][0]["carbs"]} == {"left", "right"}
    assert inspection["identification"]["schema"] == "carbpair/identification/1"

    workspace = open_workspace(ServiceSettings(data_dir=tmp_path / "data"))
    with workspace.database.write() as connection:
        user = account.create_user(connection, "test", "ann", "three quiet carburettors")
        token = account.open_session(connection, user, 3600, kind="bearer")
    workspace.close()
    desk = client_package.AuthenticatedClient(base_url=service.url, token=token)
    new_case = _part("models").NewCase(title="Blue two-seater")
    made = _part("api.cases.create_case_api_cases_post").sync(client=desk, body=new_case)
    assert (made.title, made.state) == ("Blue two-seater", "awaiting_photos")
    listed = _part("api.cases.list_cases_api_cases_get").sync(client=desk)
    assert [one.id for one in listed.cases] == [made.id]

    # An error is an object of its own, with the remedy.
    refused = _part("api.cases.get_case_api_cases_case_id_get").sync(client=desk, case_id="none")
    assert type(refused).__name__ == "Problem"
    assert (refused.status, refused.detail) == (404, "there is no such case")
