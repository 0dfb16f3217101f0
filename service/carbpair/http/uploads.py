"""Parts of uploads on disk, and what becomes of them when they are whole."""

import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from carbpair.cases import case_files, schema
from carbpair.cases.error import (
    ConflictError,
    GoneError,
    InvalidError,
    NotFoundError,
    RejectedPhotoError,
)
from carbpair.cases.identifier import new_token
from carbpair.cases.link import Link
from carbpair.cases.photo import PHASES, VIEWS, Photo
from carbpair.cases.photo_intake import clean_photo
from carbpair.cases.workspace import Workspace

MAX_OPEN_PER_LINK = 60
ACTOR = "customer"


@dataclass(frozen=True)
class Upload:
    """A row; `length` in bytes, `state` open, complete or rejected."""

    id: str
    case_id: str
    link_digest: str
    length: int
    view: str
    phase: str
    state: str
    photo_id: str | None
    problem: Mapping[str, Any] | None
    created_at: float
    expires_at: float


def part_path(workspace: Workspace, upload_id: str) -> Path:
    """Return the file that collects an upload's bytes; upload_id comes from a row, never raw."""
    folder = workspace.settings.data_dir / "uploads"
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder / upload_id


def create(workspace: Workspace, link: Link, length: int, view: str, phase: str) -> Upload:
    """Open an upload; raises InvalidError, ConflictError or RejectedPhotoError (too large)."""
    settings = workspace.settings
    if length > settings.max_photo_bytes:
        raise RejectedPhotoError(
            "too_large",
            f"the file has {length / 1e6:.0f} MB; {settings.max_photo_bytes / 1e6:.0f} are taken",
            "send the photo as the camera made it, not a panorama or raw file",
        )
    if length < 1:
        raise InvalidError("the file is empty", "choose it again")
    if view not in VIEWS or phase not in PHASES:
        raise InvalidError("unknown view of a photo")
    table = schema.upload
    now = time.time()
    row = Upload(
        id=new_token()[:40],
        case_id=link.case_id,
        link_digest=link.digest,
        length=length,
        view=view,
        phase=phase,
        state="open",
        photo_id=None,
        problem=None,
        created_at=now,
        expires_at=now + settings.upload_hours * 3600,
    )
    with workspace.database.write() as connection:
        waiting = connection.scalar(
            sa.select(sa.func.count()).where(
                table.c.link_digest == link.digest, table.c.state == "open"
            )
        )
        if int(waiting or 0) >= MAX_OPEN_PER_LINK:
            raise ConflictError("too many unfinished uploads", "finish or remove some first")
        connection.execute(table.insert().values(**vars(row)))
    part_path(workspace, row.id).touch(mode=0o600)
    return row


def get(workspace: Workspace, link: Link, upload_id: str) -> Upload:
    """Return an upload made with this link; raises NotFoundError or GoneError."""
    table = schema.upload
    with workspace.database.read() as connection:
        row = (
            connection.execute(
                sa.select(table).where(table.c.id == upload_id, table.c.link_digest == link.digest)
            )
            .mappings()
            .first()
        )
    if row is None:
        raise NotFoundError("this upload is not known", "send the photo again")
    upload = Upload(**row)
    if upload.state == "open" and upload.expires_at < time.time():
        raise GoneError("this upload has ended", "send the photo again")
    return upload


def offset(workspace: Workspace, upload: Upload) -> int:
    """Return how many bytes of an upload are safe here."""
    if upload.state == "complete":
        return upload.length
    try:
        return part_path(workspace, upload.id).stat().st_size
    except FileNotFoundError:
        return 0


def finish(workspace: Workspace, upload: Upload) -> Photo:
    """Turn a whole upload into a photo of its case; repeating it after a crash does no harm.

    Raises RejectedPhotoError when it is no usable photo; the upload is then closed.
    """
    path = part_path(workspace, upload.id)
    data = path.read_bytes()
    try:
        clean = clean_photo(data, workspace.settings)
    except RejectedPhotoError as error:
        problem = {"kind": error.kind, "message": error.message, "remedy": error.remedy}
        _close(workspace, upload, state="rejected", problem=problem)
        path.unlink(missing_ok=True)
        raise
    photo = case_files.add_photo(
        workspace, ACTOR, upload.case_id, clean, view=upload.view, phase=upload.phase,
        original=data,
    )  # fmt: skip
    _close(workspace, upload, state="complete", photo_id=photo.id)
    path.unlink(missing_ok=True)
    return photo


def discard(workspace: Workspace, upload: Upload) -> None:
    """Forget an upload that the sender gave up."""
    table = schema.upload
    with workspace.database.write() as connection:
        connection.execute(table.delete().where(table.c.id == upload.id))
    part_path(workspace, upload.id).unlink(missing_ok=True)


def drop_expired(workspace: Workspace) -> int:
    """Remove open uploads past their time, and part files that no row knows; returns how many."""
    table = schema.upload
    with workspace.database.write() as connection:
        connection.execute(
            table.delete().where(table.c.state == "open", table.c.expires_at < time.time())
        )
        known = set(connection.scalars(sa.select(table.c.id).where(table.c.state == "open")))
    folder = workspace.settings.data_dir / "uploads"
    strays = (
        [path for path in folder.glob("*") if path.name not in known] if folder.is_dir() else []
    )
    old = time.time() - 60
    removed = [path for path in strays if path.stat().st_mtime < old]
    for path in removed:
        path.unlink(missing_ok=True)
    return len(removed)


def _close(workspace: Workspace, upload: Upload, **values: Any) -> None:
    table = schema.upload
    with workspace.database.write() as connection:
        connection.execute(table.update().where(table.c.id == upload.id).values(**values))
