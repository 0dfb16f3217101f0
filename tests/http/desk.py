"""A service with a logged-in desk, for tests."""

import base64
from dataclasses import dataclass
from threading import Event
from typing import Any

import httpx
from fastapi.testclient import TestClient

from carbpair.cases import account
from carbpair.cases.task import giver_up, performer
from carbpair.cases.workspace import Workspace
from carbpair.http import case_api, desk_pages, photo_api, report_pages
from carbpair.http.access import csrf_token
from carbpair.http.app import create_app
from tests.cases.pictures import jpeg

PASSWORD = "three quiet carburettors"  # noqa: S105 - for tests


@dataclass
class Desk:
    """`client` is logged in as `name` and sends the CSRF token; `visitor` is nobody."""

    workspace: Workspace
    client: TestClient
    visitor: TestClient
    name: str

    @classmethod
    def open(cls, workspace: Workspace, name: str = "ann") -> "Desk":
        app = create_app(workspace)
        with workspace.database.write() as connection:
            user = account.create_user(connection, "test", name, PASSWORD)
            token = account.open_session(connection, user, 3600)
            session = account.find_session(connection, token, "cookie")
        assert session is not None
        client = TestClient(app, base_url="http://testserver", raise_server_exceptions=False)
        client.cookies.set("carbpair", token)
        client.headers["x-csrf-token"] = csrf_token(app.state.secret, session)
        visitor = TestClient(app, base_url="http://testserver", raise_server_exceptions=False)
        return cls(workspace, client, visitor, name)

    def new_case(self, title: str = "Blue two-seater", **facts: Any) -> str:
        answer = self.client.post("/api/cases", json={"title": title, **facts})
        assert answer.status_code == 201, answer.text
        return str(answer.json()["id"])

    def new_link(self, case_id: str) -> str:
        """Path of a fresh customer link."""
        answer = self.client.post(f"/api/cases/{case_id}/links", json={})
        assert answer.status_code == 201, answer.text
        return str(answer.json()["url"]).removeprefix("http://testserver")

    def add_photo(self, case_id: str, data: bytes | None = None, **form: str) -> httpx.Response:
        files = {"photo": ("x.jpg", jpeg(1) if data is None else data, "image/jpeg")}
        return self.client.post(f"/api/cases/{case_id}/photos", files=files, data=form)

    def work(self) -> int:
        """Work the queue off, in this process."""
        return self.workspace.queue.run(
            performer(self.workspace), giver_up(self.workspace), Event(), wait=False
        )


def tus_create(client: TestClient, link: str, length: int, view: str = "intake") -> httpx.Response:
    metadata = f"view {base64.b64encode(view.encode()).decode()}"
    return client.post(
        f"{link}/uploads",
        headers={
            "tus-resumable": "1.0.0",
            "upload-length": str(length),
            "upload-metadata": metadata,
        },
    )


def tus_patch(client: TestClient, location: str, offset: int, data: bytes) -> httpx.Response:
    return client.patch(
        location,
        content=data,
        headers={
            "tus-resumable": "1.0.0",
            "upload-offset": str(offset),
            "content-type": "application/offset+octet-stream",
        },
    )


def tus_send(client: TestClient, link: str, data: bytes, view: str = "intake") -> httpx.Response:
    location = tus_create(client, link, len(data), view).headers["location"]
    return tus_patch(client, location, 0, data)


def routes() -> list[tuple[str, str]]:
    """(method, path) of every route that needs a login."""
    found = []
    for module in (case_api, photo_api, desk_pages, report_pages):
        for route in module.router.routes:
            found += [(method, route.path) for method in sorted(route.methods - {"HEAD"})]
    return found
