"""Access by a customer's link: one case, nothing else."""

from fastapi import Request

from carbpair.cases import link
from carbpair.cases.link import Link
from carbpair.http.access import workspace_of
from carbpair.http.rate_limit import RateLimits, address_of


def live_link(request: Request, token: str) -> Link:
    """Return the link of the token in the path; raises 404, 410 or 429."""
    limits: RateLimits = request.app.state.rate_limits
    # By address first: guessing tokens must run dry before it looks anything up.
    limits.hit("address", address_of(request))
    workspace = workspace_of(request)
    with workspace.database.read() as connection:
        found = link.resolve(connection, token)
    limits.hit("link", found.digest)
    return found
