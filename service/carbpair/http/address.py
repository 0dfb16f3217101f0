"""Addresses that leave the service, such as customer links."""

from fastapi import Request

from carbpair.http.access import workspace_of


def link_url(request: Request, token: str) -> str:
    """Return a customer link's full address; the setting `public_url` wins over the request."""
    public = workspace_of(request).settings.public_url
    base = (public or str(request.base_url)).rstrip("/")
    return f"{base}/l/{token}"
