"""The OpenAPI document: errors as what they are, problem details, on every operation."""

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from carbpair.http.problem import MEDIA_TYPE, Problem

# What any operation may answer: broken request, too large a body, not understood, too many.
ANY = ("400", "413", "422", "429")
BY_PATH = {
    "/api/": ("401", "403", "404", "409", "503"),
    "/inspect": ("401", "403", "404", "503"),
    "/l/": ("403", "404", "409", "410", "412", "415", "503"),
}
FRAMEWORK_SCHEMAS = ("HTTPValidationError", "ValidationError")
STREAM = "text/event-stream"
# One event; `data` is the JSON text of the state.
EVENT = {
    "type": "object",
    "properties": {"event": {"type": "string"}, "data": {"type": "string"}},
    "required": ["event", "data"],
}
# Bytes as generators of clients know them.
BINARY = {"type": "string", "format": "binary"}
REFERENCE = {"$ref": "#/components/schemas/Problem"}
TEXT = {
    "400": "The request cannot be read",
    "401": "A login or token is needed",
    "403": "Not allowed: CSRF token or origin is wrong",
    "404": "There is no such thing here",
    "409": "It does not fit the present state",
    "410": "The link or upload has ended",
    "412": "Another version of the upload protocol",
    "413": "Too large",
    "415": "Wrong media type",
    "422": "Understood, but refused; the detail says why",
    "429": "Too many requests; Retry-After says how long to wait",
    "503": "Busy; Retry-After says how long to wait",
}


def openapi_of(app: FastAPI) -> dict[str, Any]:
    """Return the document, made once per application."""
    if app.openapi_schema is None:
        document = get_openapi(
            title=app.title, version=app.version, description=app.description, routes=app.routes
        )
        schemas = document.setdefault("components", {}).setdefault("schemas", {})
        # FastAPI documents its own form of validation errors, which we never send.
        for name in FRAMEWORK_SCHEMAS:
            schemas.pop(name, None)
        problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
        schemas |= problem.pop("$defs") | {"Problem": problem}
        _mark_binary(schemas)
        for path, operations in document["paths"].items():
            for operation in operations.values():
                _document_problems(path, operation["responses"])
                _document_streams(operation["responses"])
        app.openapi_schema = document
    return app.openapi_schema


def _document_problems(path: str, responses: dict[str, Any]) -> None:
    for code in [code for code in responses if code[0] in "45"]:
        del responses[code]
    more = next((codes for start, codes in BY_PATH.items() if path.startswith(start)), ())
    for code in sorted({*ANY, *more}):
        responses[code] = {
            "description": TEXT[code],
            "content": {MEDIA_TYPE: {"schema": REFERENCE}},
        }


def _document_streams(responses: dict[str, Any]) -> None:
    # FastAPI describes the events by itemSchema, which OpenAPI has only from version 3.2 on.
    for response in responses.values():
        if STREAM in response.get("content", {}):
            response["content"][STREAM] = {"schema": EVENT}


def _mark_binary(part: Any) -> None:
    # FastAPI writes files as OpenAPI 3.1 does, by contentMediaType; generators of clients look
    # for format and would otherwise ask their users for text.
    if isinstance(part, dict):
        if part.get("contentMediaType") == "application/octet-stream":
            part |= BINARY
        for value in part.values():
            _mark_binary(value)
    elif isinstance(part, list):
        for value in part:
            _mark_binary(value)
