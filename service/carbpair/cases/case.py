"""A case: one pair of carburettors on one car, with what its owner said about it."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from carbpair.cases import audit, schema
from carbpair.cases.error import InvalidError, NotFoundError
from carbpair.cases.identifier import is_id, new_id
from carbpair.identify import symptoms

STATES = ("awaiting_photos", "analysing", "ready", "failed", "closed")
PURPOSES = ("workshop", "purchase")
EDITABLE = frozenset(
    {"title", "purpose", "car", "engine", "year", "tag_text", "symptoms", "remarks"}
    | {"consent_learning", "state"}
)
MAX_TEXT = {"title": 200, "car": 80, "engine": 80, "tag_text": 200, "remarks": 4000}


@dataclass(frozen=True)
class Case:
    """A row of the case list; times are Unix seconds, `revision` counts changes of photos."""

    id: str
    number: int
    title: str
    state: str
    purpose: str
    car: str | None
    engine: str | None
    year: int | None
    tag_text: str | None
    symptoms: Sequence[str]
    remarks: str
    consent_learning: bool
    revision: int
    created_at: float
    updated_at: float


def create(connection: sa.Connection, actor: str, title: str, **facts: Any) -> Case:
    """Open a case; `facts` are the editable fields. Raises InvalidError."""
    values = _checked({"title": title, **facts})
    if connection.dialect.name == "postgresql":
        # Two transactions must not count the same number; SQLite has one writer anyway.
        connection.execute(sa.text("SELECT pg_advisory_xact_lock(7203)"))
    number = connection.scalar(
        sa.select(sa.func.coalesce(sa.func.max(schema.case_file.c.number), 0))
    )
    now = time.time()
    row = {
        "id": new_id(),
        "number": int(number or 0) + 1,
        "state": "awaiting_photos",
        "purpose": "workshop",
        "car": None,
        "engine": None,
        "year": None,
        "tag_text": None,
        "symptoms": [],
        "remarks": "",
        "consent_learning": False,
        "revision": 0,
        "created_at": now,
        "updated_at": now,
    } | values
    connection.execute(schema.case_file.insert().values(row))
    audit.record(connection, actor, "case_created", str(row["id"]))
    return get(connection, str(row["id"]))


def get(connection: sa.Connection, case_id: str) -> Case:
    """Return one case; raises NotFoundError."""
    row = None
    if is_id(case_id):
        statement = sa.select(schema.case_file).where(schema.case_file.c.id == case_id)
        row = connection.execute(statement).mappings().first()
    if row is None:
        raise NotFoundError("there is no such case")
    return Case(**row)


def page(
    connection: sa.Connection,
    *,
    state: str | None = None,
    before: int | None = None,
    limit: int = 50,
) -> list[Case]:
    """Return up to `limit` cases, newest first, whose number is below `before`."""
    table = schema.case_file
    statement = sa.select(table).order_by(table.c.number.desc()).limit(limit)
    if state is not None:
        statement = statement.where(table.c.state == state)
    if before is not None:
        statement = statement.where(table.c.number < before)
    return [Case(**row) for row in connection.execute(statement).mappings()]


def count_by_state(connection: sa.Connection) -> dict[str, int]:
    """Return how many cases are in each state, in the order of STATES."""
    table = schema.case_file
    rows = connection.execute(sa.select(table.c.state, sa.func.count()).group_by(table.c.state))
    counts = {state: int(count) for state, count in rows}
    return {state: counts.get(state, 0) for state in STATES}


def update(connection: sa.Connection, actor: str, case_id: str, changes: Mapping[str, Any]) -> Case:
    """Change editable fields; the trail keeps the names of the fields, not their text."""
    before = get(connection, case_id)
    values = _checked(changes)
    changed = {key: value for key, value in values.items() if getattr(before, key) != value}
    if not changed:
        return before
    _write(connection, case_id, changed)
    detail = {"state": changed["state"]} if "state" in changed else {}
    audit.record(connection, actor, "case_changed", case_id, fields=sorted(changed), **detail)
    return get(connection, case_id)


def set_state(connection: sa.Connection, case_id: str, state: str) -> None:
    """Move a case on, as the queue and worker do."""
    if state not in STATES:
        raise InvalidError(f"there is no case state {state!r}")
    _write(connection, case_id, {"state": state})


def next_revision(connection: sa.Connection, case_id: str) -> int:
    """Count up the revision because the set of photos changed; returns the new one."""
    table = schema.case_file
    connection.execute(
        table.update()
        .where(table.c.id == case_id)
        .values(revision=table.c.revision + 1, updated_at=time.time())
    )
    return get(connection, case_id).revision


def delete(connection: sa.Connection, actor: str, case_id: str) -> None:
    """Drop a case with all rows about it and doom its files; see ``doomed.sweep``."""
    get(connection, case_id)
    photo = schema.photo
    keys = connection.execute(
        sa.select(photo.c.store_key, photo.c.original_key).where(photo.c.case_id == case_id)
    ).all()
    now = time.time()
    doomed = [{"store_key": key, "doomed_at": now} for row in keys for key in row if key]
    if doomed:
        connection.execute(schema.doomed_file.insert(), doomed)
    analyses = sa.select(schema.analysis.c.id).where(schema.analysis.c.case_id == case_id)
    connection.execute(schema.job.delete().where(schema.job.c.target.in_(analyses)))
    # Lines of the trail stay, but only as who, when and which action.
    connection.execute(
        schema.audit_event.update().where(schema.audit_event.c.case_id == case_id).values(detail={})
    )
    connection.execute(schema.case_file.delete().where(schema.case_file.c.id == case_id))
    audit.record(connection, actor, "case_deleted", case_id, photos=len(keys))


def _write(connection: sa.Connection, case_id: str, values: Mapping[str, Any]) -> None:
    table = schema.case_file
    connection.execute(
        table.update().where(table.c.id == case_id).values(**values, updated_at=time.time())
    )


def _checked(values: Mapping[str, Any]) -> dict[str, Any]:
    unknown = sorted(set(values) - EDITABLE)
    if unknown:
        raise InvalidError(f"a case has no field {', '.join(unknown)}")
    clean = dict(values)
    for field, limit in MAX_TEXT.items():
        text = clean.get(field)
        if text is None:
            continue
        text = str(text).replace("\x00", "").strip()
        if len(text) > limit:
            raise InvalidError(f"{field} is longer than {limit} characters", "shorten it")
        clean[field] = text or None if field in ("car", "engine", "tag_text") else text
    if "title" in clean and not clean["title"]:
        raise InvalidError("a case needs a title", "say whose car it is, or which job")
    if clean.get("state", STATES[0]) not in STATES:
        raise InvalidError(f"state must be one of {', '.join(STATES)}")
    if clean.get("purpose", PURPOSES[0]) not in PURPOSES:
        raise InvalidError(f"purpose must be one of {', '.join(PURPOSES)}")
    year = clean.get("year")
    if year is not None and not 1885 <= int(year) <= 2100:
        raise InvalidError("the model year must lie between 1885 and 2100")
    if "symptoms" in clean:
        strange = sorted(set(clean["symptoms"]) - set(symptoms()))
        if strange:
            raise InvalidError(f"unknown symptom {', '.join(strange)[:80]}")
        clean["symptoms"] = [symptom for symptom in symptoms() if symptom in clean["symptoms"]]
    return clean
