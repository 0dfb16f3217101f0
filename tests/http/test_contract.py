"""Schemathesis drives every operation of our own OpenAPI with generated requests, in process.

What is checked: no 5xx, only documented codes and media types, and bodies that fit their schema.
"""

import os
from threading import Event, Thread
from typing import Any

import pytest
import schemathesis
from argon2 import PasswordHasher
from fastapi.routing import APIRoute
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from carbpair.cases import account, task
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.task import giver_up, performer
from carbpair.cases.workspace import open_workspace
from carbpair.http import case_api, events, inspect_api, photo_api, report_pages, tus
from tests.cases.pictures import jpeg
from tests.http.desk import Desk
from tests.http.recorded import inspection

# A bounded number in the suite; a longer run sets the variable.
EXAMPLES = int(os.environ.get("CARBPAIR_CONTRACT_EXAMPLES", "25"))
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A desk with one case that has a photo, and a worker that answers a recorded inspection."""
    folder = tmp_path_factory.mktemp("contract")
    workspace = open_workspace(ServiceSettings(data_dir=folder, rate_limits=False))
    monkeypatch = pytest.MonkeyPatch()
    monkeypatch.setattr(
        task, "analyse", lambda sources, *_: inspection([source.name for source in sources])
    )
    monkeypatch.setattr(account, "_hasher", PasswordHasher(time_cost=1, memory_cost=64))
    monkeypatch.setattr(events, "MAX_SECONDS", 0.05)
    stop = Event()
    worker = Thread(
        target=workspace.queue.run, args=(performer(workspace), giver_up(workspace), stop)
    )
    worker.start()
    desk = Desk.open(workspace)
    case_id = desk.new_case()
    photo_id = desk.add_photo(case_id, jpeg(1)).json()["id"]
    yield desk, {"case_id": case_id, "photo_id": photo_id, "token": desk.new_link(case_id)[3:]}
    stop.set()
    worker.join(20)
    monkeypatch.undo()
    workspace.close()


def _operations() -> list[tuple[str, str]]:
    found = []
    for module in (inspect_api, case_api, photo_api, report_pages, tus):
        for route in module.router.routes:
            if isinstance(route, APIRoute) and route.include_in_schema:
                found += [(method, route.path) for method in sorted(route.methods)]
    return found


@pytest.mark.parametrize(("method", "path"), _operations())
def test_operation_keeps_its_contract(method: str, path: str, service: Any) -> None:
    # Schemathesis's own pytest plugin does not work with pytest 9.2 (Function has no _nodeid).
    desk, known = service
    schema = schemathesis.openapi.from_asgi("/openapi.json", desk.client.app)
    operation = schema[path][method]
    headers = {"x-csrf-token": desk.client.headers["x-csrf-token"]}
    cookies = {"carbpair": desk.client.cookies["carbpair"]}
    tried = 0

    @settings(
        max_examples=EXAMPLES, phases=[Phase.explicit, Phase.generate], deadline=None,
        suppress_health_check=list(HealthCheck), database=None, derandomize=True,
    )  # fmt: skip
    @given(case=operation.as_strategy(), real=st.booleans())
    def keeps(case: schemathesis.Case, real: bool) -> None:
        nonlocal tried
        tried += 1
        # Made-up ids would end at 404 each time: half of the requests name what exists.
        if real and method != "DELETE":
            case.path_parameters |= {
                name: value for name, value in known.items() if name in case.path_parameters
            }
        case.call_and_validate(headers=headers, cookies=cookies, checks=CHECKS)

    keeps()
    assert tried >= 1


def test_every_documented_operation_is_tried(service: Any) -> None:
    desk, _ = service
    paths = desk.client.get("/openapi.json").json()["paths"]
    documented = {(method.upper(), path) for path, each in paths.items() for method in each}
    assert documented == set(_operations())
