"""Caps on request bodies, enforced while they stream in."""

import json
import re
from collections.abc import Sequence
from contextlib import suppress

from starlette.types import ASGIApp, Message, Receive, Scope, Send

SMALL_BODY = 256 * 1024
SLACK = 64 * 1024  # multipart boundaries and part headers


class _TooLargeError(Exception):
    """More bytes came than the path allows."""


class BodyLimit:
    """ASGI middleware: the first pattern that matches the path sets the cap in bytes."""

    def __init__(self, app: ASGIApp, *, limits: Sequence[tuple[str, int]]) -> None:
        """Wrap `app`; `limits` are (regular expression, cap), others get SMALL_BODY."""
        self._app = app
        self._limits = [(re.compile(pattern), cap) for pattern, cap in limits]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count the body; stop reading and answer 413 at the cap."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        cap = next((cap for pattern, cap in self._limits if pattern.fullmatch(scope["path"])), 0)
        cap = cap or SMALL_BODY
        declared = dict(scope["headers"]).get(b"content-length", b"0")
        if not declared.isdigit() or int(declared) > cap:
            await _refuse(send, cap)
            return
        came = 0
        started = refused = False

        async def counted() -> Message:
            nonlocal came, refused
            message = await receive()
            if message["type"] == "http.request":
                came += len(message.get("body", b""))
                if came > cap:
                    refused = True
                    raise _TooLargeError
            return message

        async def watched(message: Message) -> None:
            nonlocal started
            if refused and not started:
                # The application took our error for a broken body; the sender gets the truth.
                return
            started = True
            await send(message)

        with suppress(_TooLargeError):
            await self._app(scope, counted, watched)
        if refused and not started:
            await _refuse(send, cap)


async def _refuse(send: Send, cap: int) -> None:
    body = json.dumps(
        {
            "type": "about:blank",
            "title": "Content Too Large",
            "status": 413,
            "detail": f"more than {cap:,} bytes were sent: send less at once",
        }
    ).encode()
    headers = [
        (b"content-type", b"application/problem+json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": 413, "headers": headers})
    await send({"type": "http.response.body", "body": body})
