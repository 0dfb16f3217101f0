"""One-shot inspection: photos in, the command line's JSON out, nothing kept."""

import asyncio
import re
import time
from typing import Annotated, Any

from fastapi import APIRouter, Depends, File, Form, Request, UploadFile
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse

from carbpair.cases import doomed, one_shot
from carbpair.cases.error import BusyError, InvalidError, NotFoundError, RejectedPhotoError
from carbpair.cases.identifier import new_id
from carbpair.cases.one_shot import OneShot
from carbpair.cases.queue import check_room
from carbpair.cases.workspace import Workspace
from carbpair.http.access import Space, current_user
from carbpair.http.rate_limit import limit

POLL_SECONDS = 0.1
MAX_NAME = 120

router = APIRouter(tags=["inspection"])


async def may_inspect(request: Request, workspace: Space) -> None:
    """Let everyone in where the settings say so, else only people with a login or token."""
    if not workspace.settings.inspect_is_open:
        await current_user(request)


@router.post(
    "/inspect",
    dependencies=[Depends(limit("inspect")), Depends(may_inspect)],
    summary="Inspect photos of one pair",
)
async def inspect(
    request: Request,
    workspace: Space,
    photos: Annotated[list[UploadFile], File(description="Photos of one pair; repeat the field")],
    car: Annotated[str | None, Form(max_length=80)] = None,
    engine: Annotated[str | None, Form(max_length=80)] = None,
    year: Annotated[int | None, Form(ge=1885, le=2100)] = None,
    tag: Annotated[str | None, Form(max_length=200, description="Text on the tag")] = None,
    symptom: Annotated[list[str] | None, Form(max_length=20)] = None,
) -> JSONResponse:
    """Read the features from the photos and identify the pair.

    Answers the object that ``carbpair inspect --json`` prints. Files that are no photos stand in
    it with their error; when none is one, the answer is a 422 problem.
    """
    settings = workspace.settings
    if len(photos) > settings.max_photos_per_inspection:
        raise InvalidError(
            f"{len(photos)} photos were sent",
            f"send at most {settings.max_photos_per_inspection} at once",
        )
    for photo in photos:
        if (photo.size or 0) > settings.max_photo_bytes:
            raise RejectedPhotoError(
                "too_large",
                f"{shown_name(photo.filename)} has {(photo.size or 0) / 1e6:.0f} MB; "
                f"{settings.max_photo_bytes / 1e6:.0f} are taken",
                "send the photo as the camera made it",
            )
    said = {"car": car, "engine": engine, "year": year, "tag_text": tag, "symptoms": symptom or []}
    files = [(shown_name(photo.filename), await photo.read()) for photo in photos]
    one_shot_id = await run_in_threadpool(_accept, workspace, files, said)
    try:
        ended = await _wait(request, workspace, one_shot_id)
    finally:
        await asyncio.shield(run_in_threadpool(_forget, workspace, one_shot_id))
    if ended.inspection is None:
        raise InvalidError(ended.error or "the photos could not be analysed")
    errors = [one["error"] for one in ended.inspection["photos"] if one.get("error")]
    if errors and len(errors) == len(files):
        first = errors[0]
        raise RejectedPhotoError(first["kind"], first["message"], first["remedy"])
    return JSONResponse(dict(ended.inspection))


def shown_name(name: str | None) -> str:
    """Return a sender's file name without folders and control characters."""
    base = re.split(r"[/\\]", name or "")[-1]
    clean = "".join(character for character in base if character.isprintable())[-MAX_NAME:]
    return clean if clean.strip(". ") else "photo"


def _accept(workspace: Workspace, files: list[tuple[str, bytes]], said: dict[str, Any]) -> str:
    settings = workspace.settings
    with workspace.database.read() as connection:
        check_room(connection, workspace.queue, settings.queue_limit, settings.workers)
    one_shot_id = new_id()
    rows = [
        {"name": name, "key": f"one-shot/{one_shot_id}/{index}"}
        for index, (name, _) in enumerate(files)
    ]
    try:
        for row, (_, data) in zip(rows, files, strict=True):
            workspace.store.put(row["key"], data)
        with workspace.database.write() as connection:
            one_shot.create(connection, one_shot_id, rows, said)
            workspace.queue.defer(connection, "one_shot", one_shot_id)
    except BaseException:
        for row in rows:
            workspace.store.delete(row["key"])
        raise
    return one_shot_id


async def _wait(request: Request, workspace: Workspace, one_shot_id: str) -> OneShot:
    def look() -> OneShot:
        with workspace.database.read() as connection:
            return one_shot.get(connection, one_shot_id)

    end = time.monotonic() + workspace.settings.one_shot_wait_seconds
    while time.monotonic() < end:
        found = await run_in_threadpool(look)
        if found.state != "queued":
            return found
        if await request.is_disconnected():
            raise NotFoundError("the sender went away")
        await asyncio.sleep(POLL_SECONDS)
    raise BusyError(30)


def _forget(workspace: Workspace, one_shot_id: str) -> None:
    with workspace.database.write() as connection:
        one_shot.drop(connection, one_shot_id)
    doomed.sweep(workspace.database, workspace.store)
