"""Errors as problem details (RFC 9457), or as a page for people."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.encoders import jsonable_encoder
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from carbpair.cases.error import (
    BusyError,
    CaseError,
    ConflictError,
    GoneError,
    InvalidError,
    NotFoundError,
    RejectedPhotoError,
)

MEDIA_TYPE = "application/problem+json"
STATUS = {
    NotFoundError: 404,
    GoneError: 410,
    ConflictError: 409,
    InvalidError: 422,
    BusyError: 503,
    RejectedPhotoError: 422,
}
TOO_LARGE_KINDS = frozenset({"too_large", "too_many_pixels"})
MAX_LISTED = 20


class FieldError(BaseModel):
    """One field that was refused: where it stands and what is wrong with it."""

    where: list[str | int]
    what: str


class Problem(BaseModel):
    """Problem details (RFC 9457); `remedy` says what to do, `kind` is for programs."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    remedy: str = ""
    kind: str | None = None
    errors: list[FieldError] | None = None


class LoginNeededError(Exception):
    """The request needs a login; pages send the person to the login form."""


def problem_response(
    status: int,
    detail: str,
    remedy: str = "",
    *,
    headers: Mapping[str, str] | None = None,
    **extra: Any,
) -> JSONResponse:
    """Make a problem+json answer."""
    body = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    if remedy:
        body["remedy"] = remedy
    return JSONResponse(body | extra, status, headers=dict(headers or {}), media_type=MEDIA_TYPE)


def status_of(error: CaseError) -> int:
    """Return the HTTP status of an error of the case store."""
    if isinstance(error, RejectedPhotoError) and error.kind in TOO_LARGE_KINDS:
        return 413
    return next((code for kind, code in STATUS.items() if isinstance(error, kind)), 400)


def wants_page(request: Request) -> bool:
    """Say whether a person's browser asks for a page, as opposed to a script or client."""
    return "text/html" in request.headers.get("accept", "")


def add_handlers(app: FastAPI, render_error: Any) -> None:
    """Install handlers; ``render_error(request, status, detail, remedy)`` makes the page."""

    def answer(
        request: Request,
        status: int,
        detail: str,
        remedy: str = "",
        headers: Mapping[str, str] | None = None,
        **extra: Any,
    ) -> Response:
        if wants_page(request):
            page: Response = render_error(request, status, detail, remedy)
            page.headers.update(headers or {})
            return page
        return problem_response(status, detail, remedy, headers=headers, **extra)

    @app.exception_handler(CaseError)
    def on_case_error(request: Request, error: CaseError) -> Response:
        headers = {"Retry-After": str(error.retry_after)} if isinstance(error, BusyError) else {}
        extra = {"kind": error.kind} if isinstance(error, RejectedPhotoError) else {}
        return answer(request, status_of(error), error.message, error.remedy, headers, **extra)

    @app.exception_handler(HTTPException)
    def on_http_error(request: Request, error: HTTPException) -> Response:
        return answer(request, error.status_code, str(error.detail), headers=error.headers)

    @app.exception_handler(RequestValidationError)
    def on_invalid(request: Request, error: RequestValidationError) -> Response:
        listed = [
            {"where": list(one["loc"]), "what": one["msg"]} for one in error.errors()[:MAX_LISTED]
        ]
        first = listed[0] if listed else {"where": [], "what": "the request cannot be read"}
        where = ".".join(map(str, first["where"]))[:200]
        return answer(request, 422, f"{where}: {first['what']}", errors=jsonable_encoder(listed))

    @app.exception_handler(LoginNeededError)
    def on_login_needed(request: Request, _error: LoginNeededError) -> Response:
        if wants_page(request) and request.method == "GET":
            target = request.url.path if request.url.path.startswith("/desk") else "/desk"
            return Response(status_code=303, headers={"Location": f"/login?next={target}"})
        return problem_response(
            401, "this needs a login", "log in, or send an API token as Authorization: Bearer …",
            headers={"WWW-Authenticate": "Bearer"},
        )  # fmt: skip

    @app.exception_handler(Exception)
    def on_failure(request: Request, _error: Exception) -> Response:
        # Starlette logs the traceback; the sender learns nothing of our insides.
        return answer(request, 500, "something went wrong on our side", "try again in a moment")
