"""Ticks and notes on a case's checklist, made by hand."""

import time
from dataclasses import dataclass

import sqlalchemy as sa

from carbpair.cases import audit, case, schema
from carbpair.cases.error import InvalidError

OUTCOMES = ("open", "good", "bad", "skipped")
MAX_NOTE = 2000


@dataclass(frozen=True)
class Tick:
    """What a person found for one item of the checklist."""

    case_id: str
    item_id: str
    outcome: str
    note: str
    made_by: str
    made_at: float


def set_tick(
    connection: sa.Connection, actor: str, case_id: str, item_id: str, outcome: str, note: str = ""
) -> Tick:
    """Set the outcome of an item; a later one replaces it and both stand in the trail."""
    case.get(connection, case_id)
    note = note.replace("\x00", "").strip()
    if outcome not in OUTCOMES:
        raise InvalidError(f"outcome must be one of {', '.join(OUTCOMES)}")
    if not 1 <= len(item_id) <= 120:
        raise InvalidError("there is no such checklist item")
    if len(note) > MAX_NOTE:
        raise InvalidError(f"the note is longer than {MAX_NOTE} characters", "shorten it")
    table = schema.checklist_tick
    tick = Tick(case_id, item_id, outcome, note, actor, time.time())
    connection.execute(table.delete().where(table.c.case_id == case_id, table.c.item_id == item_id))
    connection.execute(table.insert().values(**vars(tick)))
    audit.record(connection, actor, "checklist_ticked", case_id, item=item_id, outcome=outcome)
    return tick


def of_case(connection: sa.Connection, case_id: str) -> dict[str, Tick]:
    """Return a case's ticks by item."""
    table = schema.checklist_tick
    rows = connection.execute(sa.select(table).where(table.c.case_id == case_id)).mappings()
    return {row["item_id"]: Tick(**row) for row in rows}
