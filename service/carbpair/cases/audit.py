"""The audit trail: who did what to which case, never edited, kept after a case is deleted."""

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from carbpair.cases import schema


@dataclass(frozen=True)
class AuditEvent:
    """One line of the trail; `at` is Unix seconds."""

    id: int
    case_id: str | None
    actor: str
    action: str
    detail: Mapping[str, Any]
    at: float


def record(
    connection: sa.Connection,
    actor: str,
    action: str,
    case_id: str | None = None,
    **detail: Any,
) -> None:
    """Add a line; `detail` must hold nothing that deleting the case should erase."""
    connection.execute(
        schema.audit_event.insert().values(
            case_id=case_id, actor=actor, action=action, detail=detail, at=time.time()
        )
    )


def history(
    connection: sa.Connection, case_id: str, *, after: int = 0, limit: int = 200
) -> list[AuditEvent]:
    """Return a case's lines, oldest first, from the one after line `after`."""
    table = schema.audit_event
    rows = connection.execute(
        sa.select(table)
        .where(table.c.case_id == case_id, table.c.id > after)
        .order_by(table.c.id)
        .limit(limit)
    )
    return [AuditEvent(**row) for row in rows.mappings()]
