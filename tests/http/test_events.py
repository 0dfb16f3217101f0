"""Progress as server-sent events (WHATWG HTML, "Server-sent events")."""

import asyncio
import json
from collections.abc import Callable

import pytest

from carbpair.cases import case_files
from carbpair.http import events
from carbpair.http.events import progress_events
from tests.http.desk import Desk


def test_events_follow_the_analysis_and_end_with_the_case(
    desk: Desk, recorded_analysis: Callable[..., None]
) -> None:
    case_id = desk.new_case()

    async def follow() -> list[tuple[str | None, object]]:
        seen: list[tuple[str | None, object]] = []
        async for event in progress_events(desk.workspace, case_id):
            state = event.data.get("state") if isinstance(event.data, dict) else None
            seen.append((event.event, state))
            if state == "awaiting_photos":
                await asyncio.to_thread(desk.add_photo, case_id)
            elif state == "analysing":
                await asyncio.to_thread(desk.work)
            elif state == "ready":
                await asyncio.to_thread(case_files.delete_case, desk.workspace, "ann", case_id)
        return seen

    assert asyncio.run(asyncio.wait_for(follow(), 30)) == [
        ("progress", "awaiting_photos"),
        ("progress", "analysing"),
        ("progress", "ready"),
        ("gone", None),
    ]


def test_stream_has_the_standard_form(desk: Desk) -> None:
    case_id = desk.new_case()
    link = desk.new_link(case_id)
    case_files.delete_case(desk.workspace, "ann", case_id)
    assert desk.visitor.get(f"{link}/events").status_code == 404
    other = desk.new_case()
    path = desk.new_link(other)

    import threading

    timer = threading.Timer(1.0, case_files.delete_case, (desk.workspace, "ann", other))
    timer.start()
    answer = desk.visitor.get(f"{path}/events")
    timer.join()
    assert answer.headers["content-type"].startswith("text/event-stream")
    blocks = [block for block in answer.text.split("\n\n") if block.startswith("event")]
    assert blocks[0].startswith("event: progress\ndata: ")
    assert json.loads(blocks[0].partition("data: ")[2])["state"] == "awaiting_photos"
    assert blocks[-1].startswith("event: gone")


def test_programs_follow_a_case_by_the_api(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(events, "MAX_SECONDS", 0.3)
    case_id = desk.new_case()
    path = f"/api/cases/{case_id}/events"
    assert desk.visitor.get(path).status_code == 401
    answer = desk.client.get(path)
    assert answer.headers["content-type"].startswith("text/event-stream")
    (block,) = [one for one in answer.text.split("\n\n") if one.startswith("event: progress")]
    assert json.loads(block.partition("data: ")[2]) == {
        "state": "awaiting_photos", "revision": 0, "analysis": None, "done_photos": 0, "photos": 0,
    }  # fmt: skip
    unknown = desk.client.get("/api/cases/000000000000/events")
    assert unknown.status_code == 404
    assert unknown.headers["content-type"] == "application/problem+json"
