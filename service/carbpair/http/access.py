"""Who is asking: sessions, API tokens, CSRF tokens, as FastAPI dependencies."""

import hashlib
import hmac
from typing import Annotated

from fastapi import Depends, HTTPException, Path, Request
from fastapi.concurrency import run_in_threadpool
from starlette.responses import Response

from carbpair.cases import account
from carbpair.cases.account import Session, User
from carbpair.cases.workspace import Workspace
from carbpair.http.problem import LoginNeededError
from carbpair.http.same_origin import SAFE_METHODS

CSRF_FIELD = "csrf"
CSRF_HEADER = "x-csrf-token"


def workspace_of(request: Request) -> Workspace:
    """Return the installation's workspace."""
    workspace: Workspace = request.app.state.workspace
    return workspace


def cookie_name(request: Request) -> str:
    """Return the session cookie's name; the prefix binds it to this host over HTTPS."""
    return "__Host-carbpair" if request.app.state.secure else "carbpair"


def find_session(request: Request) -> Session | None:
    """Return the live session of a request, by cookie or bearer token."""
    workspace = workspace_of(request)
    scheme, _, bearer = request.headers.get("authorization", "").partition(" ")
    cookie = request.cookies.get(cookie_name(request))
    if scheme.lower() == "bearer" and bearer:
        token, kind = bearer.strip(), "bearer"
    elif cookie:
        token, kind = cookie, "cookie"
    else:
        return None
    with workspace.database.read() as connection:
        session = account.find_session(connection, token, kind)
    if session is None:
        return None
    seconds = workspace.settings.session_hours * 3600
    if account.needs_renewal(session, seconds):
        with workspace.database.write() as connection:
            account.renew(connection, session, seconds)
    return session


def csrf_token(secret: bytes, session: Session) -> str:
    """Return the token that forms of this session must carry."""
    return hmac.new(secret, b"csrf:" + session.digest.encode(), hashlib.sha256).hexdigest()


async def current_user(request: Request) -> User:
    """Require a login; unsafe requests by cookie also need the CSRF token."""
    session = await run_in_threadpool(find_session, request)
    if session is None:
        raise LoginNeededError
    if request.method not in SAFE_METHODS and session.kind == "cookie":
        await _check_csrf(request, session)
    request.state.session = session
    return session.user


async def _check_csrf(request: Request, session: Session) -> None:
    given = request.headers.get(CSRF_HEADER)
    if given is None and "form" in request.headers.get("content-type", ""):
        field = (await request.form()).get(CSRF_FIELD)
        given = field if isinstance(field, str) else None
    wanted = csrf_token(request.app.state.secret, session)
    if not hmac.compare_digest((given or "").encode(), wanted.encode()):
        raise HTTPException(403, "the form is out of date: load the page again")


def set_session_cookie(request: Request, response: Response, token: str) -> None:
    """Give the browser its session; scripts cannot read it, other sites cannot send it."""
    settings = workspace_of(request).settings
    response.set_cookie(
        cookie_name(request),
        token,
        max_age=int(settings.session_hours * 3600 * 4),
        path="/",
        secure=request.app.state.secure,
        httponly=True,
        samesite="lax",
    )


# Both databases number rows within 64 bits; a larger number would break the driver.
RowId = Annotated[int, Path(ge=1, le=2**62)]


async def _workspace(request: Request) -> Workspace:
    # A coroutine, though it waits for nothing: FastAPI hands plain functions to a thread, and
    # each hand-over may wait for its turn.
    return workspace_of(request)


Space = Annotated[Workspace, Depends(_workspace)]
CurrentUser = Annotated[User, Depends(current_user)]
