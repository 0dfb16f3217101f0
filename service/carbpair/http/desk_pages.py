"""Pages of the workshop's desk: inbox and case."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, File, Form, Query, Request, UploadFile
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse, Response
from fastapi.sse import EventSourceResponse

from carbpair.cases import audit, case, case_files, case_result, checklist, correction, link, photo
from carbpair.cases.error import CaseError, InvalidError
from carbpair.cases.identification import catalogue_in_force
from carbpair.cases.photo_intake import clean_photo
from carbpair.http.access import CurrentUser, RowId, Space
from carbpair.http.address import link_url
from carbpair.http.case_api import known_case
from carbpair.http.events import progress_events
from carbpair.http.form_value import form_value
from carbpair.http.image import photo_response
from carbpair.http.overlay import overlays_of
from carbpair.http.pages import pages_of
from carbpair.http.qr_code import qr_svg
from carbpair.http.rate_limit import limit
from carbpair.identify import symptoms
from carbpair.part_width import small_parts

PAGE = 50

router = APIRouter(
    prefix="/desk", include_in_schema=False, dependencies=[Depends(limit("address"))]
)


@router.get("")
def inbox(
    request: Request,
    workspace: Space,
    _user: CurrentUser,
    state: Annotated[str | None, Query(max_length=20)] = None,
    before: Annotated[int | None, Query(ge=1, le=2**31)] = None,
) -> Response:
    """List cases by state, newest first."""
    if state is not None and state not in case.STATES:
        raise InvalidError("there is no such state of cases")
    with workspace.database.read() as connection:
        rows = case.page(connection, state=state, before=before, limit=PAGE + 1)
        counts = case.count_by_state(connection)
    return pages_of(request).page(
        request, "inbox.html", cases=rows[:PAGE], more=len(rows) > PAGE, state=state, counts=counts
    )


@router.post("/cases")
def create(
    workspace: Space,
    user: CurrentUser,
    title: Annotated[str, Form(max_length=1000)],
    purpose: Annotated[str, Form(max_length=20)] = "workshop",
) -> Response:
    """Open a case and go to it."""
    with workspace.database.write() as connection:
        made = case.create(connection, user.name, title, purpose=purpose)
    return RedirectResponse(f"/desk/cases/{made.id}", 303)


@router.get("/cases/{case_id}")
def show(request: Request, case_id: str, workspace: Space, _user: CurrentUser) -> Response:
    """Show everything about a case."""
    return _case_page(request, workspace, case_id)


@router.get("/cases/{case_id}/events", response_class=EventSourceResponse)
async def events(workspace: Space, case_id: Annotated[str, Depends(known_case)]) -> Any:
    """Stream the analysis's progress."""
    async for event in progress_events(workspace, case_id):
        yield event


@router.get("/cases/{case_id}/photos/{photo_id}.jpg")
def image(case_id: str, photo_id: str, workspace: Space, _user: CurrentUser) -> Response:
    """Return a photo."""
    with workspace.database.read() as connection:
        found = photo.get(connection, case_id, photo_id)
    return photo_response(workspace, found)


@router.post("/cases/{case_id}/links")
def make_link(request: Request, case_id: str, workspace: Space, user: CurrentUser) -> Response:
    """Make a customer link and show it, once, with its QR code."""
    seconds = workspace.settings.link_days * 86400
    with workspace.database.write() as connection:
        token, made = link.create(connection, user.name, case_id, seconds)
        found = case.get(connection, case_id)
    url = link_url(request, token)
    return pages_of(request).page(
        request, "new_link.html", case=found, link=made, url=url, qr=qr_svg(url)
    )


@router.post("/cases/{case_id}/links/{link_id}/revoke")
def revoke(case_id: str, link_id: str, workspace: Space, user: CurrentUser) -> Response:
    """End a link."""
    with workspace.database.write() as connection:
        link.revoke(connection, user.name, case_id, link_id)
    return _back(case_id, "links")


@router.post("/cases/{case_id}/facts")
def change(
    case_id: str,
    workspace: Space,
    user: CurrentUser,
    title: Annotated[str, Form(max_length=1000)],
    car: Annotated[str, Form(max_length=1000)] = "",
    engine: Annotated[str, Form(max_length=1000)] = "",
    year: Annotated[str, Form(max_length=10)] = "",
    tag_text: Annotated[str, Form(max_length=1000)] = "",
    remarks: Annotated[str, Form(max_length=10_000)] = "",
    purpose: Annotated[str, Form(max_length=20)] = "workshop",
    symptom: Annotated[list[str] | None, Form(max_length=20)] = None,
) -> Response:
    """Change what is known about the car."""
    changes = {
        "title": title, "car": car, "engine": engine, "year": year_of(year), "tag_text": tag_text,
        "remarks": remarks, "purpose": purpose, "symptoms": symptom or [],
    }  # fmt: skip
    with workspace.database.write() as connection:
        case.update(connection, user.name, case_id, changes)
    return _back(case_id, "identification")


@router.post("/cases/{case_id}/state")
def move(
    case_id: str, workspace: Space, user: CurrentUser, state: Annotated[str, Form(max_length=20)]
) -> Response:
    """Close a case or take it up again."""
    with workspace.database.write() as connection:
        case.update(connection, user.name, case_id, {"state": state})
    return _back(case_id, "")


@router.post("/cases/{case_id}/photos")
async def add_photos(
    request: Request,
    case_id: str,
    workspace: Space,
    user: CurrentUser,
    photos: Annotated[list[UploadFile], File()],
    view: Annotated[str, Form(max_length=20)] = "other",
    phase: Annotated[str, Form(max_length=8)] = "before",
) -> Response:
    """Add photos at the desk; those that cannot be taken are named, the others are kept."""
    problems: list[str] = []

    def keep(data: bytes) -> None:
        with workspace.database.read() as connection:
            case.get(connection, case_id)
        clean = clean_photo(data, workspace.settings)
        case_files.add_photo(
            workspace, user.name, case_id, clean, view=view, phase=phase, original=data
        )

    for number, upload in enumerate(photos, 1):
        data = await upload.read()
        try:
            async with request.app.state.decoding:
                await run_in_threadpool(keep, data)
        except CaseError as error:
            if len(photos) == 1:
                raise
            problems.append(f"{number}: {error}")
    if problems:
        raise InvalidError("; ".join(problems)[:1000])
    return _back(case_id, "photos")


@router.post("/cases/{case_id}/photos/{photo_id}/delete")
def delete_photo(case_id: str, photo_id: str, workspace: Space, user: CurrentUser) -> Response:
    """Delete a photo for good."""
    case_files.delete_photo(workspace, user.name, case_id, photo_id)
    return _back(case_id, "photos")


@router.post("/cases/{case_id}/analysis")
def analyse(case_id: str, workspace: Space, user: CurrentUser) -> Response:
    """Analyse the photos again."""
    case_files.analyse_again(workspace, user.name, case_id)
    return _back(case_id, "features")


@router.post("/cases/{case_id}/corrections")
def correct(
    case_id: str,
    workspace: Space,
    user: CurrentUser,
    position: Annotated[str, Form(max_length=8)],
    feature: Annotated[str, Form(max_length=40)],
    value: Annotated[str, Form(max_length=400)] = "",
    note: Annotated[str, Form(max_length=10_000)] = "",
) -> Response:
    """Correct a feature; the page then shows the identification worked out anew."""
    with workspace.database.write() as connection:
        correction.make(
            connection, user.name, case_id,
            position=position, feature=feature, value=form_value(feature, value), note=note,
        )  # fmt: skip
    return _back(case_id, "features")


@router.post("/cases/{case_id}/corrections/{correction_id}/withdraw")
def withdraw(case_id: str, correction_id: RowId, workspace: Space, user: CurrentUser) -> Response:
    """Take a correction back."""
    with workspace.database.write() as connection:
        case_files.withdraw_correction(workspace, connection, user.name, case_id, correction_id)
    return _back(case_id, "features")


@router.post("/cases/{case_id}/checklist")
def tick(
    case_id: str,
    workspace: Space,
    user: CurrentUser,
    item_id: Annotated[str, Form(max_length=120)],
    outcome: Annotated[str, Form(max_length=12)],
    note: Annotated[str, Form(max_length=10_000)] = "",
) -> Response:
    """Tick an item of the checklist."""
    with workspace.database.write() as connection:
        checklist.set_tick(connection, user.name, case_id, item_id, outcome, note)
    return _back(case_id, f"check-{item_id}")


@router.get("/cases/{case_id}/delete")
def confirm_delete(
    request: Request, case_id: str, workspace: Space, _user: CurrentUser
) -> Response:
    """Ask before deleting."""
    with workspace.database.read() as connection:
        found = case.get(connection, case_id)
        count = len(photo.of_case(connection, case_id))
    return pages_of(request).page(request, "delete_case.html", case=found, count=count)


@router.post("/cases/{case_id}/delete")
def delete(case_id: str, workspace: Space, user: CurrentUser) -> Response:
    """Delete a case with its photos for good."""
    case_files.delete_case(workspace, user.name, case_id)
    return RedirectResponse("/desk", 303)


def _case_page(request: Request, workspace: Any, case_id: str) -> Response:
    with workspace.database.read() as connection:
        result = case_result.load(connection, case_id, workspace.settings)
        links = link.of_case(connection, case_id)
        events = audit.history(connection, case_id)
    fitments = catalogue_in_force(workspace.settings).fitments
    return pages_of(request).page(
        request,
        "case.html",
        case=result.case,
        result=result,
        overlays=overlays_of(result),
        closer=small_parts(result.inspection or {}),
        links=links,
        events=events,
        cars=sorted({one.car for one in fitments}),
        engines=sorted({one.engine for one in fitments if one.engine}),
        symptoms=symptoms(),
        carb_values=correction.CARB_VALUES,
        pair_values=correction.PAIR_VALUES,
    )


def year_of(text: str) -> int | None:
    """Read a model year from a form; raises InvalidError."""
    text = text.strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit()):
        raise InvalidError("the model year must be a number such as 1965")
    return int(text)


def _back(case_id: str, anchor: str) -> Response:
    suffix = f"#{anchor}" if anchor.replace("-", "").replace("_", "").isalnum() else ""
    return RedirectResponse(f"/desk/cases/{case_id}{suffix}", 303)
