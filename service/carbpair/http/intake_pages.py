"""Pages behind a customer's link: photos in, a plain answer out; nothing of our insides."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response
from fastapi.sse import EventSourceResponse

from carbpair.cases import case, case_files, case_result, photo
from carbpair.cases.identification import catalogue_in_force
from carbpair.cases.link import Link
from carbpair.http.access import Space
from carbpair.http.desk_pages import year_of
from carbpair.http.events import progress_events, snapshot
from carbpair.http.findings import findings_of
from carbpair.http.image import photo_response
from carbpair.http.link_access import live_link
from carbpair.http.pages import pages_of
from carbpair.identify import symptoms
from carbpair.identify.check import cautions

ACTOR = "customer"

router = APIRouter(prefix="/l/{token}", include_in_schema=False)
LiveLink = Annotated[Link, Depends(live_link)]


@router.get("")
def show(request: Request, token: str, workspace: Space, link: LiveLink) -> Response:
    """Show the guide: cautions, views, what is known about the car, result so far."""
    with workspace.database.read() as connection:
        found = case.get(connection, link.case_id)
        photos = photo.of_case(connection, link.case_id)
    fitments = catalogue_in_force(workspace.settings).fitments
    settings = workspace.settings
    return pages_of(request).page(
        request,
        "intake.html",
        case=found,
        base=f"/l/{token}",
        photos=photos,
        cautions=cautions(),
        symptoms=symptoms(),
        cars=sorted({one.car for one in fitments}),
        engines=sorted({one.engine for one in fitments if one.engine}),
        limits={
            "max_bytes": settings.max_photo_bytes,
            "max_pixels": settings.max_photo_pixels,
        },
    )


@router.get("/state")
def state(workspace: Space, link: LiveLink) -> dict[str, Any]:
    """Tell the page which photos are here and how far the analysis is."""
    with workspace.database.read() as connection:
        rows = photo.of_case(connection, link.case_id)
    photos = [
        {"id": one.id, "view": one.view, "phase": one.phase, "quality": one.quality} for one in rows
    ]
    return snapshot(workspace, link.case_id) | {"list": photos}


@router.get("/events", response_class=EventSourceResponse)
async def events(workspace: Space, link: LiveLink) -> Any:
    """Stream the analysis's progress."""
    async for event in progress_events(workspace, link.case_id):
        yield event


@router.get("/result")
def result(request: Request, workspace: Space, link: LiveLink) -> Response:
    """Return what was recognised, as a piece of the page."""
    with workspace.database.read() as connection:
        found = case_result.load(connection, link.case_id, workspace.settings)
    return pages_of(request).page(
        request, "intake_result.html", case=found.case, findings=findings_of(found)
    )


@router.post("/about")
def about(
    workspace: Space,
    link: LiveLink,
    car: Annotated[str, Form(max_length=400)] = "",
    engine: Annotated[str, Form(max_length=400)] = "",
    year: Annotated[str, Form(max_length=10)] = "",
    tag_text: Annotated[str, Form(max_length=1000)] = "",
    remarks: Annotated[str, Form(max_length=10_000)] = "",
    symptom: Annotated[list[str] | None, Form(max_length=20)] = None,
    consent: Annotated[str, Form(max_length=5)] = "",
) -> dict[str, str]:
    """Keep what the customer says about the car."""
    changes = {
        "car": car, "engine": engine, "year": year_of(year), "tag_text": tag_text,
        "remarks": remarks, "symptoms": symptom or [], "consent_learning": consent == "yes",
    }  # fmt: skip
    with workspace.database.write() as connection:
        case.update(connection, ACTOR, link.case_id, changes)
    return {"state": "kept"}


@router.get("/photos/{photo_id}.jpg")
def image(photo_id: str, workspace: Space, link: LiveLink) -> Response:
    """Return one of this case's photos."""
    with workspace.database.read() as connection:
        found = photo.get(connection, link.case_id, photo_id)
    return photo_response(workspace, found)


@router.delete("/photos/{photo_id}", status_code=204)
def delete_photo(photo_id: str, workspace: Space, link: LiveLink) -> Response:
    """Let the owner take a photo back."""
    case_files.delete_photo(workspace, ACTOR, link.case_id, photo_id)
    return Response(status_code=204)
