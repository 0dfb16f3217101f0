"""Photos of a case: bytes in the photo store, a row here."""

import hashlib
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from carbpair.cases import audit, case, doomed, schema
from carbpair.cases.error import ConflictError, InvalidError, NotFoundError
from carbpair.cases.identifier import is_id

# What the customer is guided through; `other` is anything else they send.
VIEWS = ("intake", "top", "left", "right", "tag", "other")
PHASES = ("before", "after")


@dataclass(frozen=True)
class CleanPhoto:
    """An upright JPEG without metadata, as ``photo_intake`` makes it; sides in pixels."""

    jpeg: bytes
    width: int
    height: int
    notes: Sequence[str]
    quality: Mapping[str, Any]


@dataclass(frozen=True)
class Photo:
    """A stored photo; `size` in bytes, `quality` as in the inspection schema."""

    id: str
    case_id: str
    ordinal: int
    view: str
    phase: str
    store_key: str
    original_key: str | None
    sha256: str
    width: int
    height: int
    size: int
    notes: Sequence[str]
    quality: Mapping[str, Any]
    created_at: float

    @property
    def file_name(self) -> str:
        """Neutral name for people: a sender's own file names can tell where and when."""
        return f"photo-{self.ordinal:02d}.jpg"


def store_key(case_id: str, photo_id: str, suffix: str = ".jpg") -> str:
    """Return the key of a photo's bytes in the photo store."""
    return f"cases/{case_id}/{photo_id}{suffix}"


def add(
    connection: sa.Connection,
    actor: str,
    case_id: str,
    clean: CleanPhoto,
    *,
    photo_id: str,
    view: str = "other",
    phase: str = "before",
    original_key: str | None = None,
    limit: int = 40,
) -> Photo:
    """Record a photo whose bytes are stored already; the same picture twice is kept once.

    Returns the new row, or the older one of the same picture. Raises ConflictError when the case
    is full, InvalidError for an unknown view or phase.
    """
    if view not in VIEWS or phase not in PHASES:
        raise InvalidError("unknown view or phase of a photo")
    case.get(connection, case_id)
    table = schema.photo
    fingerprint = hashlib.sha256(clean.jpeg).hexdigest()
    same = connection.execute(
        sa.select(table).where(
            table.c.case_id == case_id, table.c.sha256 == fingerprint, table.c.phase == phase
        )
    ).mappings()
    existing = same.first()
    if existing is not None:
        keys = [store_key(case_id, photo_id)] + ([original_key] if original_key else [])
        doomed.doom(connection, [key for key in keys if key != existing["store_key"]])
        return Photo(**existing)
    present = of_case(connection, case_id)
    if len(present) >= limit:
        raise ConflictError(
            f"this case has {limit} photos already", "delete some before adding others"
        )
    row = Photo(
        id=photo_id,
        case_id=case_id,
        ordinal=max((photo.ordinal for photo in present), default=0) + 1,
        view=view,
        phase=phase,
        store_key=store_key(case_id, photo_id),
        original_key=original_key,
        sha256=fingerprint,
        width=clean.width,
        height=clean.height,
        size=len(clean.jpeg),
        notes=list(clean.notes),
        quality=dict(clean.quality),
        created_at=time.time(),
    )
    connection.execute(table.insert().values(**vars(row)))
    audit.record(connection, actor, "photo_added", case_id, photo=photo_id, view=view)
    return row


def of_case(connection: sa.Connection, case_id: str) -> list[Photo]:
    """Return a case's photos in the order in which they came."""
    table = schema.photo
    rows = connection.execute(
        sa.select(table).where(table.c.case_id == case_id).order_by(table.c.ordinal)
    )
    return [Photo(**row) for row in rows.mappings()]


def phases(photos: Sequence[Photo]) -> tuple[list[Photo], list[Photo]]:
    """Split into those that tell the pattern, and those taken after reassembly.

    With no photo from before, all of them tell the pattern.
    """
    before = [one for one in photos if one.phase == "before"]
    if not before:
        return list(photos), []
    return before, [one for one in photos if one.phase == "after"]


def get(connection: sa.Connection, case_id: str, photo_id: str) -> Photo:
    """Return one photo of this case; raises NotFoundError, also for another case's photo."""
    table = schema.photo
    row = None
    if is_id(photo_id):
        row = (
            connection.execute(
                sa.select(table).where(table.c.case_id == case_id, table.c.id == photo_id)
            )
            .mappings()
            .first()
        )
    if row is None:
        raise NotFoundError("this case has no such photo")
    return Photo(**row)


def delete(connection: sa.Connection, actor: str, case_id: str, photo_id: str) -> None:
    """Drop a photo and doom its files."""
    photo = get(connection, case_id, photo_id)
    connection.execute(schema.photo.delete().where(schema.photo.c.id == photo_id))
    keys = [photo.store_key] + ([photo.original_key] if photo.original_key else [])
    doomed.doom(connection, keys)
    audit.record(connection, actor, "photo_deleted", case_id, photo=photo_id)
