"""Refuses changes that another site's page asks a browser to make."""

from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from carbpair.http.problem import problem_response

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


class SameOrigin:
    """ASGI middleware: browsers say where a request comes from; other clients say nothing."""

    def __init__(self, app: ASGIApp) -> None:
        """Wrap `app`."""
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer 403 to an unsafe request from another origin."""
        if scope["type"] == "http" and scope["method"] not in SAFE_METHODS:
            headers = Headers(scope=scope)
            if not is_same_origin(headers):
                response = problem_response(
                    403, "this request came from another site's page", "use the page itself"
                )
                await response(scope, receive, send)
                return
        await self._app(scope, receive, send)


def is_same_origin(headers: Headers) -> bool:
    """Judge by Sec-Fetch-Site, else by Origin against Host; no such header means no browser."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc == headers.get("host")
