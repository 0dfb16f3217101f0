"""API: the photos of a case."""

from typing import Annotated

from fastapi import APIRouter, File, Form, Request, Response, UploadFile
from fastapi.concurrency import run_in_threadpool

from carbpair.cases import case, case_files, photo
from carbpair.cases.photo_intake import clean_photo
from carbpair.http.access import CurrentUser, Space
from carbpair.http.api_models import PhotoOut
from carbpair.http.image import photo_response
from carbpair.http.openapi import BINARY

router = APIRouter(prefix="/api/cases/{case_id}/photos", tags=["photos"])


@router.get("")
def list_photos(case_id: str, workspace: Space, _user: CurrentUser) -> list[PhotoOut]:
    """List a case's photos in the order in which they came."""
    with workspace.database.read() as connection:
        case.get(connection, case_id)
        return [PhotoOut.of(row) for row in photo.of_case(connection, case_id)]


@router.post("", status_code=201)
async def add_photo(
    request: Request,
    case_id: str,
    workspace: Space,
    user: CurrentUser,
    file: Annotated[UploadFile, File(alias="photo")],
    view: Annotated[str, Form(max_length=20)] = "other",
    phase: Annotated[str, Form(max_length=8)] = "before",
) -> PhotoOut:
    """Add a photo and queue the analysis; sending the same picture again changes nothing."""
    data = await file.read()

    def keep() -> PhotoOut:
        with workspace.database.read() as connection:
            case.get(connection, case_id)
        clean = clean_photo(data, workspace.settings)
        added = case_files.add_photo(
            workspace, user.name, case_id, clean, view=view, phase=phase, original=data
        )
        return PhotoOut.of(added)

    async with request.app.state.decoding:
        return await run_in_threadpool(keep)


@router.get(
    "/{photo_id}/image",
    response_class=Response,
    responses={200: {"content": {"image/jpeg": {"schema": BINARY}}}},
)
def get_image(case_id: str, photo_id: str, workspace: Space, _user: CurrentUser) -> Response:
    """Return the upright picture, without metadata."""
    with workspace.database.read() as connection:
        found = photo.get(connection, case_id, photo_id)
    return photo_response(workspace, found)


@router.delete("/{photo_id}", status_code=204)
def delete_photo(case_id: str, photo_id: str, workspace: Space, user: CurrentUser) -> Response:
    """Delete a photo for good and analyse those left."""
    case_files.delete_photo(workspace, user.name, case_id, photo_id)
    return Response(status_code=204)
