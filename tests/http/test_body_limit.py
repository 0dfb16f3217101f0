"""Caps while streaming, at the level of ASGI, where it shows how much was read."""

import asyncio
from typing import Any

import pytest

from carbpair.http.body_limit import SMALL_BODY, BodyLimit

CHUNK = 10_000


async def _echo_length(scope: Any, receive: Any, send: Any) -> None:
    total = 0
    while True:
        message = await receive()
        total += len(message["body"])
        if not message.get("more_body"):
            break
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(total).encode()})


def _post(path: str, chunks: int, declared: bytes | None = None) -> tuple[int, int]:
    """(status, chunks that were read) of a request that sends `chunks` chunks."""
    read = 0
    statuses: list[int] = []

    async def receive() -> dict[str, Any]:
        nonlocal read
        read += 1
        return {"type": "http.request", "body": b"x" * CHUNK, "more_body": read < chunks}

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            statuses.append(message["status"])

    headers = [] if declared is None else [(b"content-length", declared)]
    app = BodyLimit(_echo_length, limits=[(r"/big/[^/]+", 100 * CHUNK)])
    scope = {"type": "http", "path": path, "headers": headers}
    asyncio.run(app(scope, receive, send))  # type: ignore[arg-type]
    assert len(statuses) == 1
    return statuses[0], read


def test_reading_stops_at_the_cap() -> None:
    assert _post("/big/x", 100) == (200, 100)
    assert _post("/big/x", 10_000) == (413, 101)


def test_other_paths_have_a_small_cap() -> None:
    for path in ("/", "/big/", "/big/x/y", "/big"):
        status, read = _post(path, 10_000)
        assert status == 413
        assert read == SMALL_BODY // CHUNK + 1


@pytest.mark.parametrize("declared", [b"99999999999", b"-1", b"abc", b""])
def test_impossible_length_is_refused_before_reading(declared: bytes) -> None:
    assert _post("/big/x", 5, declared) == (413, 0)
