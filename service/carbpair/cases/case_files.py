"""Changes to a case's photos as one step: bytes, row, analysis and job together or not at all."""

from typing import Any

import sqlalchemy as sa

from carbpair.cases import analysis, audit, case, correction, doomed, photo
from carbpair.cases.correction import Correction
from carbpair.cases.error import ConflictError
from carbpair.cases.identifier import new_id
from carbpair.cases.photo import CleanPhoto, Photo
from carbpair.cases.queue import check_room
from carbpair.cases.workspace import Workspace


def add_photo(
    workspace: Workspace,
    actor: str,
    case_id: str,
    clean: CleanPhoto,
    *,
    view: str = "other",
    phase: str = "before",
    original: bytes | None = None,
) -> Photo:
    """Keep a photo and queue the case's analysis; on return neither can be lost.

    `original` is kept only if the settings say so. Raises BusyError, ConflictError, NotFoundError.
    """
    settings = workspace.settings
    with workspace.database.read() as connection:
        if case.get(connection, case_id).state == "closed":
            raise ConflictError("this case is closed", "ask the workshop to open it again")
        check_room(connection, workspace.queue, settings.queue_limit, settings.workers)
    photo_id = new_id()
    key = photo.store_key(case_id, photo_id)
    original_key = None
    written = [key]
    workspace.store.put(key, clean.jpeg)
    if original is not None and settings.keep_originals:
        original_key = photo.store_key(case_id, photo_id, ".original")
        workspace.store.put(original_key, original)
        written.append(original_key)
    try:
        with workspace.database.write() as connection:
            added = photo.add(
                connection, actor, case_id, clean, photo_id=photo_id, view=view, phase=phase,
                original_key=original_key, limit=settings.max_photos_per_case,
            )  # fmt: skip
            if added.id == photo_id:
                _queue_analysis(workspace, connection, case_id)
    except BaseException:
        for one in written:
            workspace.store.delete(one)
        raise
    doomed.sweep(workspace.database, workspace.store)
    return added


def delete_photo(workspace: Workspace, actor: str, case_id: str, photo_id: str) -> None:
    """Remove one photo, from disk too, and analyse what is left."""
    with workspace.database.write() as connection:
        photo.delete(connection, actor, case_id, photo_id)
        _queue_analysis(workspace, connection, case_id)
    doomed.sweep(workspace.database, workspace.store)


def delete_case(workspace: Workspace, actor: str, case_id: str) -> None:
    """Remove a case and its photos, from disk too."""
    with workspace.database.write() as connection:
        case.delete(connection, actor, case_id)
    doomed.sweep(workspace.database, workspace.store)


def analyse_again(workspace: Workspace, actor: str, case_id: str) -> None:
    """Queue a fresh analysis of the photos that are there."""
    settings = workspace.settings
    with workspace.database.write() as connection:
        case.get(connection, case_id)
        check_room(connection, workspace.queue, settings.queue_limit, settings.workers)
        audit.record(connection, actor, "analysis_requested", case_id)
        _queue_analysis(workspace, connection, case_id)


def correct(
    workspace: Workspace, connection: sa.Connection, actor: str, case_id: str, **values: Any
) -> Correction:
    """Record a correction (``correction.make``); a drawn carburettor is read in a new analysis."""
    made = correction.make(connection, actor, case_id, **values)
    if made.feature == correction.DRAWN_CARB:
        _queue_analysis(workspace, connection, case_id)
    return made


def withdraw_correction(
    workspace: Workspace, connection: sa.Connection, actor: str, case_id: str, correction_id: int
) -> None:
    """Take a correction back (``correction.withdraw``), with what the readers saw for its sake."""
    taken_back = correction.withdraw(connection, actor, case_id, correction_id)
    if taken_back is not None and taken_back.feature == correction.DRAWN_CARB:
        _queue_analysis(workspace, connection, case_id)


def _queue_analysis(workspace: Workspace, connection: sa.Connection, case_id: str) -> None:
    wanted = analysis.request(connection, case_id)
    if wanted is not None:
        workspace.queue.defer(connection, "case", wanted.id)
