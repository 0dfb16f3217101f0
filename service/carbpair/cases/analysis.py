"""Analyses: one per revision of a case's photos, each with at most one result, ever."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from carbpair.cases import audit, case, photo, schema
from carbpair.cases.identifier import new_id


@dataclass(frozen=True)
class Analysis:
    """State and result of looking at one revision of a case's photos.

    `inspection` follows schema ``carbpair/inspection/1`` without the identification, which
    depends on later corrections and is worked out when it is shown. `inspection_after` is the
    same for the photos taken after reassembly, None when there are none.
    """

    id: str
    case_id: str
    revision: int
    state: str
    done_photos: int
    photo_ids: Sequence[str]
    inspection: Mapping[str, Any] | None
    inspection_after: Mapping[str, Any] | None
    error: str | None
    queued_at: float
    started_at: float | None
    finished_at: float | None


def request(connection: sa.Connection, case_id: str) -> Analysis | None:
    """Count up the case's revision and note that its photos want analysing.

    Returns None, with the case waiting for photos again, when none is left. The caller defers
    the job in the same transaction (SQLite) or after it (a sweep makes up for a crash between).
    """
    revision = case.next_revision(connection, case_id)
    photos = photo.of_case(connection, case_id)
    table = schema.analysis
    connection.execute(
        table.update()
        .where(table.c.case_id == case_id, table.c.state.in_(("queued", "running")))
        .values(state="superseded")
    )
    if not photos:
        case.set_state(connection, case_id, "awaiting_photos")
        return None
    row = Analysis(
        id=new_id(),
        case_id=case_id,
        revision=revision,
        state="queued",
        done_photos=0,
        photo_ids=[one.id for one in photos],
        inspection=None,
        inspection_after=None,
        error=None,
        queued_at=time.time(),
        started_at=None,
        finished_at=None,
    )
    connection.execute(table.insert().values(**vars(row)))
    case.set_state(connection, case_id, "analysing")
    return row


def get(connection: sa.Connection, analysis_id: str) -> Analysis | None:
    """Return one analysis, or None when its case is gone."""
    table = schema.analysis
    row = connection.execute(sa.select(table).where(table.c.id == analysis_id)).mappings().first()
    return None if row is None else Analysis(**row)


def latest(connection: sa.Connection, case_id: str, *, done: bool = False) -> Analysis | None:
    """Return the newest analysis of a case, or the newest with a result."""
    table = schema.analysis
    statement = sa.select(table).where(table.c.case_id == case_id)
    if done:
        statement = statement.where(table.c.state == "done")
    row = (
        connection.execute(statement.order_by(table.c.revision.desc()).limit(1)).mappings().first()
    )
    return None if row is None else Analysis(**row)


def start(connection: sa.Connection, analysis_id: str) -> bool:
    """Mark as running; False when there is nothing left to do for it."""
    table = schema.analysis
    result = connection.execute(
        table.update()
        .where(table.c.id == analysis_id, table.c.state.in_(("queued", "running")))
        .values(state="running", done_photos=0, started_at=time.time())
    )
    return result.rowcount == 1


def progress(connection: sa.Connection, analysis_id: str, done_photos: int) -> None:
    """Note how many photos have been looked at."""
    table = schema.analysis
    connection.execute(
        table.update()
        .where(table.c.id == analysis_id, table.c.state == "running")
        .values(done_photos=done_photos)
    )


def finish(
    connection: sa.Connection,
    analysis_id: str,
    inspection: Mapping[str, Any],
    inspection_after: Mapping[str, Any] | None = None,
) -> bool:
    """Keep the result unless there is one, or the photos have changed; says whether it was kept."""
    return _end(
        connection,
        analysis_id,
        state="done",
        case_state="ready",
        inspection=inspection,
        inspection_after=inspection_after,
    )


def fail(connection: sa.Connection, analysis_id: str, error: str) -> bool:
    """Note that the analysis cannot be done, in words for the desk."""
    return _end(connection, analysis_id, state="failed", case_state="failed", error=error)


def _end(
    connection: sa.Connection, analysis_id: str, state: str, case_state: str, **values: Any
) -> bool:
    table = schema.analysis
    result = connection.execute(
        table.update()
        .where(table.c.id == analysis_id, table.c.state.in_(("queued", "running")))
        .values(state=state, finished_at=time.time(), **values)
    )
    if result.rowcount != 1:
        return False
    row = get(connection, analysis_id)
    if row is not None:
        case.set_state(connection, row.case_id, case_state)
        audit.record(
            connection, "carbpair", f"analysis_{state}", row.case_id, revision=row.revision
        )
    return True
