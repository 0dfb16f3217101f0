"""Idempotency-Key: a POST that is sent again gets the first one's answer, done once."""

import hashlib
import json
import time
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from fastapi import Request
from fastapi.responses import JSONResponse

from carbpair.cases import schema
from carbpair.cases.error import ConflictError, InvalidError
from carbpair.http.access import workspace_of

HEADER = "idempotency-key"
KEEP_SECONDS = 24 * 3600.0
MAX_KEY = 200


def once(
    request: Request,
    scope: str,
    body: Any,
    act: Callable[[sa.Connection], Any],
    status: int = 201,
) -> JSONResponse:
    """Run ``act(connection)`` in a transaction and answer its JSON; with a key, only once.

    The answer is stored in the same transaction as the deed. `scope` keeps users apart. Raises
    ConflictError when the key was used for a different body.
    """
    workspace = workspace_of(request)
    key = request.headers.get(HEADER)
    if key is None:
        with workspace.database.write() as connection:
            return JSONResponse(act(connection), status)
    if not 1 <= len(key) <= MAX_KEY or not key.isprintable():
        raise InvalidError(f"an Idempotency-Key has 1 to {MAX_KEY} printable characters")
    text = json.dumps([request.method, request.url.path, body], sort_keys=True, default=str)
    fingerprint = hashlib.sha256(text.encode()).hexdigest()
    table = schema.idempotency
    here = (table.c.scope == scope) & (table.c.idempotency_key == key)
    with workspace.database.write() as connection:
        connection.execute(table.delete().where(table.c.created_at < time.time() - KEEP_SECONDS))
        row = connection.execute(sa.select(table).where(here)).mappings().first()
        if row is not None:
            if row["fingerprint"] != fingerprint:
                raise ConflictError(
                    "this Idempotency-Key was used for a different request", "use a new key"
                )
            return JSONResponse(row["body"], row["status"], {"Idempotency-Replayed": "true"})
        result = act(connection)
        connection.execute(
            table.insert().values(
                scope=scope,
                idempotency_key=key,
                fingerprint=fingerprint,
                status=status,
                body=result,
                created_at=time.time(),
            )
        )
    return JSONResponse(result, status)
