"""Rate limits per link and per address, with the wait told."""

import math
import time
from collections.abc import Awaitable, Callable

from fastapi import HTTPException, Request
from limits import RateLimitItem, parse
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

from carbpair.cases.settings import ServiceSettings


class RateLimits:
    """Counts hits in this process; one server process answers all requests."""

    def __init__(self, settings: ServiceSettings) -> None:
        """Read the rates from the settings."""
        self._enabled = settings.rate_limits
        self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self._rates: dict[str, RateLimitItem] = {
            "link": parse(settings.link_rate),
            "address": parse(settings.address_rate),
            "inspect": parse(settings.inspect_rate),
            "login": parse(settings.login_rate),
        }

    def hit(self, kind: str, who: str) -> None:
        """Count one request of `who`; raises 429 with Retry-After when there were too many."""
        rate = self._rates[kind]
        if not self._enabled or self._limiter.hit(rate, kind, who):
            return
        window = self._limiter.get_window_stats(rate, kind, who)
        wait = max(1, math.ceil(window.reset_time - time.time()))
        raise HTTPException(
            429, f"too many requests: try again in {wait} s", {"Retry-After": str(wait)}
        )


def limit(kind: str) -> Callable[[Request], Awaitable[None]]:
    """Return a dependency that counts requests of `kind` by address."""

    async def check(request: Request) -> None:
        limits: RateLimits = request.app.state.rate_limits
        limits.hit(kind, address_of(request))

    return check


def address_of(request: Request) -> str:
    """Return the sender's address; behind a proxy the server has set it from the headers."""
    return request.client.host if request.client else "unknown"
