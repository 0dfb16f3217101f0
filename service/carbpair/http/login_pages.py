"""Pages: first login, logging in and out, language."""

from typing import Annotated

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from carbpair.cases import account
from carbpair.cases.error import CaseError, GoneError
from carbpair.cases.workspace import Workspace
from carbpair.http.access import (
    CurrentUser,
    Space,
    cookie_name,
    find_session,
    set_session_cookie,
)
from carbpair.http.language import COOKIE
from carbpair.http.pages import pages_of
from carbpair.http.rate_limit import RateLimits, address_of, limit
from carbpair.http.setup_token import is_setup_token

router = APIRouter(include_in_schema=False, dependencies=[Depends(limit("address"))])


@router.get("/")
def home() -> Response:
    """Send people to the desk; customers come by their link."""
    return RedirectResponse("/desk", 303)


@router.get("/login")
def login_form(request: Request, workspace: Space, next: str = "/desk") -> Response:  # noqa: A002
    """Show the login form."""
    with workspace.database.read() as connection:
        empty = not account.has_users(connection)
    return pages_of(request).page(
        request, "login.html", target=safe_target(next), failed=False, empty=empty, name=""
    )


@router.post("/login")
def login(
    request: Request,
    workspace: Space,
    name: Annotated[str, Form(max_length=200)],
    password: Annotated[str, Form(max_length=1000)],
    next: Annotated[str, Form(max_length=500)] = "/desk",  # noqa: A002
) -> Response:
    """Check name and password; too many tries from an address, or for a name, must wait."""
    limits: RateLimits = request.app.state.rate_limits
    limits.hit("login", address_of(request))
    limits.hit("login", f"name:{name.strip().lower()}")
    with workspace.database.read() as connection:
        user = account.check_password(connection, name, password)
    if user is None:
        return pages_of(request).page(
            request,
            "login.html",
            401,
            target=safe_target(next),
            failed=True,
            empty=False,
            name=name,
        )
    return _logged_in(request, workspace, user, safe_target(next))


@router.post("/logout")
def logout(request: Request, workspace: Space, _user: CurrentUser) -> Response:
    """End the session."""
    with workspace.database.write() as connection:
        account.close_session(connection, request.state.session)
    response = RedirectResponse("/login", 303)
    response.delete_cookie(cookie_name(request), path="/", secure=request.app.state.secure)
    return response


@router.get("/setup/{token}")
def setup_form(request: Request, workspace: Space, token: str) -> Response:
    """Show the form for the first login; the link stands in the server's own terminal."""
    _check_setup(request, workspace, token)
    return pages_of(request).page(request, "setup.html", token=token, problem="", name="")


@router.post("/setup/{token}")
def setup(
    request: Request,
    workspace: Space,
    token: str,
    name: Annotated[str, Form(max_length=200)],
    password: Annotated[str, Form(max_length=1000)],
) -> Response:
    """Make the first login; after that this address is gone."""
    limits: RateLimits = request.app.state.rate_limits
    limits.hit("login", address_of(request))
    _check_setup(request, workspace, token)
    try:
        with workspace.database.write() as connection:
            if account.has_users(connection):
                raise GoneError("there is a login already", "log in")
            user = account.create_user(connection, "setup", name, password)
    except CaseError as error:
        if isinstance(error, GoneError):
            raise
        return pages_of(request).page(
            request, "setup.html", 422, token=token, problem=str(error), name=name
        )
    return _logged_in(request, workspace, user, "/desk")


@router.post("/language")
def choose_language(
    request: Request,
    language: Annotated[str, Form(max_length=10)],
    next: Annotated[str, Form(max_length=500)] = "/",  # noqa: A002
) -> Response:
    """Remember the reader's language."""
    if language not in pages_of(request).languages:
        raise HTTPException(422, "there are no pages in this language")
    response = RedirectResponse(safe_target(next), 303)
    response.set_cookie(
        COOKIE, language, max_age=365 * 86400, samesite="lax", secure=request.app.state.secure
    )
    return response


def safe_target(target: str) -> str:
    """Return a path on this server, never another site's address."""
    plain = target.startswith("/") and not target.startswith(("//", "/\\"))
    return target if plain and target.isprintable() and "\\" not in target else "/desk"


def _logged_in(request: Request, workspace: Workspace, user: account.User, target: str) -> Response:
    old = find_session(request)
    with workspace.database.write() as connection:
        if old is not None:
            account.close_session(connection, old)
        seconds = workspace.settings.session_hours * 3600
        token = account.open_session(connection, user, seconds)
    response = RedirectResponse(target, 303)
    set_session_cookie(request, response, token)
    return response


def _check_setup(request: Request, workspace: Workspace, token: str) -> None:
    with workspace.database.read() as connection:
        used = account.has_users(connection)
    if used or not is_setup_token(request.app.state.secret, token):
        raise HTTPException(404, "there is no such page")
