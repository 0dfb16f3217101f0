"""Security headers on every answer."""

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# No inline script or style anywhere; blob: shows a picture before it is sent.
CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # A link's token stands in the address; other sites must not see it. Not "no-referrer":
    # with that, browsers hide the origin of our own forms, which we check.
    "referrer-policy": "same-origin",
    "permissions-policy": "camera=(self), geolocation=(), microphone=()",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
HSTS = "max-age=31536000"
# These hold nothing personal: kept by browsers, asked for again by their ETag.
STATIC = ("/css/", "/js/", "/vendor/", "/icons/")


class SecurityHeaders:
    """ASGI middleware; `secure` adds HSTS."""

    def __init__(self, app: ASGIApp, *, secure: bool) -> None:
        """Wrap `app`."""
        self._app = app
        self._headers = HEADERS | ({"strict-transport-security": HSTS} if secure else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Add the headers that the answer does not set itself; nothing is cached by default."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
                static = scope["path"].startswith(STATIC)
                headers.setdefault("cache-control", "no-cache" if static else "no-store")
            await send(message)

        await self._app(scope, receive, send_with_headers)
