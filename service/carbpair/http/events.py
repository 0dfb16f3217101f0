"""Progress as server-sent events."""

import asyncio
import time
from collections.abc import AsyncIterator
from typing import Any

from fastapi.concurrency import run_in_threadpool
from fastapi.sse import ServerSentEvent

from carbpair.cases import analysis, case
from carbpair.cases.error import NotFoundError
from carbpair.cases.workspace import Workspace

POLL_SECONDS = 0.5
# Long enough for a phone, short enough that a forgotten page costs nothing for ever;
# browsers connect again by themselves.
MAX_SECONDS = 600.0


def snapshot(workspace: Workspace, case_id: str) -> dict[str, Any]:
    """Return a case's state and its newest analysis's progress."""
    with workspace.database.read() as connection:
        found = case.get(connection, case_id)
        newest = analysis.latest(connection, case_id)
    return {
        "state": found.state,
        "revision": found.revision,
        "analysis": None if newest is None else newest.state,
        "done_photos": 0 if newest is None else newest.done_photos,
        "photos": 0 if newest is None else len(newest.photo_ids),
    }


async def progress_events(workspace: Workspace, case_id: str) -> AsyncIterator[ServerSentEvent]:
    """Yield a ``progress`` event at once and at each change; ``gone`` when the case is deleted."""
    before: dict[str, Any] | None = None
    end = time.monotonic() + MAX_SECONDS
    while time.monotonic() < end:
        try:
            now = await run_in_threadpool(snapshot, workspace, case_id)
        except NotFoundError:
            yield ServerSentEvent(event="gone", data={})
            return
        if now != before:
            yield ServerSentEvent(event="progress", data=now)
            before = now
        await asyncio.sleep(POLL_SECONDS)
