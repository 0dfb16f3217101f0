"""Server side of the tus resumable upload protocol, version 1.0.0 (https://tus.io/protocols).

Core, creation, expiration and termination; the client is tus-js-client. Own code because an
upload belongs to one link, and its last answer must not be given before the photo is safe.
"""

import asyncio
import base64
import binascii
import os
from email.utils import formatdate
from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response
from fastapi.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from carbpair.cases.error import ConflictError, InvalidError
from carbpair.cases.link import Link
from carbpair.cases.workspace import Workspace
from carbpair.http import uploads
from carbpair.http.access import Space
from carbpair.http.link_access import live_link
from carbpair.http.problem import problem_response
from carbpair.http.uploads import Upload

VERSION = "1.0.0"
EXTENSIONS = "creation,expiration,termination"
CHUNK_TYPE = "application/offset+octet-stream"

router = APIRouter(prefix="/l/{token}/uploads", tags=["uploads"])
LiveLink = Annotated[Link, Depends(live_link)]


class Patches:
    """The one request that writes to each upload; a newer one takes over.

    After a lost connection the old request may still wait for bytes that never come; making
    the phone wait for its time-out is how uploads stall at 99 %.
    """

    def __init__(self) -> None:
        self._running: dict[str, asyncio.Task[None]] = {}

    async def run(self, upload_id: str, work: "asyncio.Task[None]") -> None:
        """Cancel what still writes to this upload, then wait for `work`."""
        older = self._running.get(upload_id)
        self._running[upload_id] = work
        if older is not None and not older.done():
            older.cancel()
        try:
            await work
        finally:
            if self._running.get(upload_id) is work:
                del self._running[upload_id]


def _base_headers(upload: Upload | None = None) -> dict[str, str]:
    headers = {"Tus-Resumable": VERSION, "Cache-Control": "no-store"}
    if upload is not None and upload.state == "open":
        headers["Upload-Expires"] = formatdate(upload.expires_at, usegmt=True)
    return headers


def _metadata(header: str) -> dict[str, str]:
    values: dict[str, str] = {}
    for pair in header.split(","):
        name, _, encoded = pair.strip().partition(" ")
        if name:
            try:
                values[name] = base64.b64decode(encoded, validate=True).decode()
            except (binascii.Error, UnicodeDecodeError):
                raise InvalidError("Upload-Metadata cannot be read") from None
    return values


def _number(request: Request, name: str) -> int:
    text = request.headers.get(name, "")
    if not text.isascii() or not text.isdigit() or len(text) > 15:
        raise InvalidError(f"{name} must be a whole number of bytes")
    return int(text)


@router.options("", status_code=204, include_in_schema=False)
@router.options("/{upload_id}", status_code=204, include_in_schema=False)
def describe(workspace: Space) -> Response:
    """Tell what this server can do."""
    return Response(
        status_code=204,
        headers={
            "Tus-Resumable": VERSION,
            "Tus-Version": VERSION,
            "Tus-Extension": EXTENSIONS,
            "Tus-Max-Size": str(workspace.settings.max_photo_bytes),
        },
    )


@router.post("", status_code=201)
def create(request: Request, workspace: Space, link: LiveLink) -> Response:
    """Open an upload; metadata `view` and `phase` are used, a file name is ignored."""
    if request.headers.get("tus-resumable") != VERSION:
        return problem_response(
            412, "tus version 1.0.0 is spoken", headers={"Tus-Version": VERSION}
        )
    metadata = _metadata(request.headers.get("upload-metadata", ""))
    upload = uploads.create(
        workspace,
        link,
        _number(request, "upload-length"),
        metadata.get("view", "other"),
        metadata.get("phase", "before"),
    )
    location = f"{request.url.path}/{upload.id}"
    return Response(status_code=201, headers=_base_headers(upload) | {"Location": location})


@router.head("/{upload_id}")
async def status(request: Request, upload_id: str, workspace: Space, link: LiveLink) -> Response:
    """Tell how many bytes are safe; a whole upload that a crash left over is finished first."""
    upload = await run_in_threadpool(uploads.get, workspace, link, upload_id)
    if upload.state == "rejected":
        return Response(status_code=410, headers=_base_headers())
    offset = uploads.offset(workspace, upload)
    if upload.state == "open" and offset == upload.length:
        await _finish(request, workspace, link, upload)
    headers = {"Upload-Offset": str(offset), "Upload-Length": str(upload.length)}
    return Response(status_code=200, headers=_base_headers(upload) | headers)


@router.patch("/{upload_id}", status_code=204)
async def append(request: Request, upload_id: str, workspace: Space, link: LiveLink) -> Response:
    """Add bytes at the offset; when it is whole, the answer comes after the photo is safe."""
    if request.headers.get("content-type") != CHUNK_TYPE:
        return problem_response(415, f"the content type must be {CHUNK_TYPE}")
    start = _number(request, "upload-offset")
    upload = await run_in_threadpool(uploads.get, workspace, link, upload_id)
    if upload.state == "rejected":
        return Response(status_code=410, headers=_base_headers())
    patches: Patches = request.app.state.patches
    work = asyncio.ensure_future(_receive(request, workspace, upload, start))
    try:
        await patches.run(upload.id, work)
    except (asyncio.CancelledError, ClientDisconnect):
        return problem_response(409, "a newer request goes on with this upload")
    offset = uploads.offset(workspace, upload)
    if upload.state == "open" and offset == upload.length:
        await _finish(request, workspace, link, upload)
    return Response(status_code=204, headers=_base_headers(upload) | {"Upload-Offset": str(offset)})


@router.delete("/{upload_id}", status_code=204)
def terminate(upload_id: str, workspace: Space, link: LiveLink) -> Response:
    """Give an unfinished upload up."""
    upload = uploads.get(workspace, link, upload_id)
    if upload.state == "complete":
        raise ConflictError("this upload is a photo already", "delete the photo instead")
    uploads.discard(workspace, upload)
    return Response(status_code=204, headers=_base_headers())


@router.get("/{upload_id}/result")
def result(upload_id: str, workspace: Space, link: LiveLink) -> dict[str, object]:
    """Tell what became of an upload: its photo, or why it was not taken."""
    upload = uploads.get(workspace, link, upload_id)
    return {"state": upload.state, "photo_id": upload.photo_id, "problem": upload.problem}


async def _receive(request: Request, workspace: Workspace, upload: Upload, start: int) -> None:
    present = uploads.offset(workspace, upload)
    if start != present or upload.state == "complete":
        raise ConflictError(f"{present} bytes are here, not {start}", "ask for the offset again")
    path = uploads.part_path(workspace, upload.id)
    with path.open("ab", buffering=0) as file:
        # Written as it comes: what came before a lost connection counts.
        async for chunk in request.stream():
            if present + len(chunk) > upload.length:
                raise InvalidError("more bytes came than were announced")
            file.write(chunk)
            present += len(chunk)
        await run_in_threadpool(os.fsync, file.fileno())


async def _finish(request: Request, workspace: Workspace, link: Link, upload: Upload) -> None:
    # One decoding at a time: a large photo takes hundreds of megabytes for a moment.
    async with request.app.state.decoding:
        present = await run_in_threadpool(uploads.get, workspace, link, upload.id)
        if present.state == "open":
            await run_in_threadpool(uploads.finish, workspace, present)
