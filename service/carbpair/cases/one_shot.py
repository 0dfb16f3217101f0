"""Inspections without a case: photos in, result out, nothing kept afterwards."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from carbpair.cases import doomed, schema
from carbpair.cases.error import NotFoundError

# A request whose sender went away is dropped, with its photos, after this long.
KEEP_SECONDS = 900.0


@dataclass(frozen=True)
class OneShot:
    """A row; `files` are ``{"name", "key"}``, `request` the car and what else was said."""

    id: str
    state: str
    files: Sequence[Mapping[str, str]]
    request: Mapping[str, Any]
    inspection: Mapping[str, Any] | None
    error: str | None
    created_at: float


def create(
    connection: sa.Connection,
    one_shot_id: str,
    files: Sequence[Mapping[str, str]],
    request: Mapping[str, Any],
) -> None:
    """Record a request whose photos are stored already."""
    connection.execute(
        schema.one_shot.insert().values(
            id=one_shot_id,
            state="queued",
            files=list(files),
            request=dict(request),
            created_at=time.time(),
        )
    )


def get(connection: sa.Connection, one_shot_id: str) -> OneShot:
    """Return one request; raises NotFoundError when it was dropped."""
    table = schema.one_shot
    row = connection.execute(sa.select(table).where(table.c.id == one_shot_id)).mappings().first()
    if row is None:
        raise NotFoundError("the inspection was dropped before it was done")
    return OneShot(**row)


def end(
    connection: sa.Connection,
    one_shot_id: str,
    *,
    inspection: Mapping[str, Any] | None = None,
    error: str | None = None,
) -> None:
    """Keep the result, or the error, until it is fetched."""
    table = schema.one_shot
    connection.execute(
        table.update()
        .where(table.c.id == one_shot_id, table.c.state == "queued")
        .values(state="done" if error is None else "failed", inspection=inspection, error=error)
    )


def drop(connection: sa.Connection, one_shot_id: str) -> None:
    """Forget a request and doom its photos."""
    table = schema.one_shot
    row = connection.execute(sa.select(table).where(table.c.id == one_shot_id)).mappings().first()
    if row is not None:
        doomed.doom(connection, [file["key"] for file in row["files"]])
        connection.execute(table.delete().where(table.c.id == one_shot_id))
        connection.execute(schema.job.delete().where(schema.job.c.target == one_shot_id))


def drop_old(connection: sa.Connection) -> int:
    """Drop requests that nobody fetched; returns how many."""
    table = schema.one_shot
    old = connection.scalars(
        sa.select(table.c.id).where(table.c.created_at < time.time() - KEEP_SECONDS)
    ).all()
    for one_shot_id in old:
        drop(connection, one_shot_id)
    return len(old)
