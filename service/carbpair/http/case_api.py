"""API: cases, their links, corrections, checklist, result and history."""

from typing import Annotated, Any

import sqlalchemy as sa
from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi.responses import JSONResponse
from fastapi.sse import EventSourceResponse

from carbpair.cases import (
    analysis,
    audit,
    case,
    case_files,
    case_result,
    checklist,
    correction,
    link,
)
from carbpair.cases.error import InvalidError, NotFoundError
from carbpair.http.access import CurrentUser, RowId, Space
from carbpair.http.address import link_url
from carbpair.http.api_models import (
    AnalysisOut,
    CaseChanges,
    CaseOut,
    CasePage,
    CorrectionOut,
    EventOut,
    LinkOut,
    NewCase,
    NewCorrection,
    NewLink,
    NewTick,
    State,
    TickOut,
)
from carbpair.http.events import progress_events
from carbpair.http.idempotency import once

MAX_PAGE = 200

router = APIRouter(prefix="/api/cases", tags=["cases"])


@router.get("")
def list_cases(
    workspace: Space,
    _user: CurrentUser,
    state: State | None = None,
    before: Annotated[int | None, Query(ge=1, le=2**31, description="Case number")] = None,
    limit: Annotated[int, Query(ge=1, le=MAX_PAGE)] = 50,
) -> CasePage:
    """List cases, newest first."""
    with workspace.database.read() as connection:
        rows = case.page(connection, state=state, before=before, limit=limit + 1)
    shown = rows[:limit]
    following = None
    if len(rows) > limit:
        following = f"/api/cases?before={shown[-1].number}&limit={limit}"
        following += f"&state={state}" if state else ""
    return CasePage(cases=[CaseOut.of(row) for row in shown], next=following)


@router.post("", status_code=201, response_model=CaseOut)
def create_case(request: Request, user: CurrentUser, body: NewCase) -> JSONResponse:
    """Open a case; an Idempotency-Key makes repeating safe."""
    facts = body.model_dump()
    title = facts.pop("title")

    def act(connection: sa.Connection) -> Any:
        made = case.create(connection, user.name, title, **facts)
        return CaseOut.of(made).model_dump(mode="json")

    return once(request, user.id, body.model_dump(), act)


@router.get("/{case_id}")
def get_case(case_id: str, workspace: Space, _user: CurrentUser) -> CaseOut:
    """Return one case."""
    with workspace.database.read() as connection:
        return CaseOut.of(case.get(connection, case_id))


@router.patch("/{case_id}")
def change_case(case_id: str, workspace: Space, user: CurrentUser, body: CaseChanges) -> CaseOut:
    """Change what is known about a case; null empties a field."""
    changes = body.model_dump(exclude_unset=True)
    for field in ("title", "state", "purpose", "consent_learning", "symptoms", "remarks"):
        if field in changes and changes[field] is None:
            raise InvalidError(f"{field} cannot be null")
    with workspace.database.write() as connection:
        return CaseOut.of(case.update(connection, user.name, case_id, changes))


@router.delete("/{case_id}", status_code=204)
def delete_case(case_id: str, workspace: Space, user: CurrentUser) -> Response:
    """Delete a case and its photos for good."""
    case_files.delete_case(workspace, user.name, case_id)
    return Response(status_code=204)


@router.get("/{case_id}/result")
def get_result(case_id: str, workspace: Space, _user: CurrentUser) -> dict[str, Any]:
    """Return the inspection (schema carbpair/inspection/1) with corrections and identification."""
    with workspace.database.read() as connection:
        found = case_result.load(connection, case_id, workspace.settings)
    if found.inspection is None:
        raise NotFoundError("this case has no result yet", "wait for the analysis to end")
    return found.inspection


@router.get("/{case_id}/analysis")
def get_analysis(case_id: str, workspace: Space, _user: CurrentUser) -> AnalysisOut:
    """Tell how far the newest analysis is."""
    with workspace.database.read() as connection:
        case.get(connection, case_id)
        newest = analysis.latest(connection, case_id)
    if newest is None:
        raise NotFoundError("this case has no photos yet")
    return AnalysisOut.of(newest)


def known_case(case_id: str, workspace: Space, _user: CurrentUser) -> str:
    """Require a case that exists: once a stream has begun, no 404 can be told any more."""
    with workspace.database.read() as connection:
        return case.get(connection, case_id).id


@router.get("/{case_id}/events", response_class=EventSourceResponse)
async def events(workspace: Space, case_id: Annotated[str, Depends(known_case)]) -> Any:
    """Stream the analysis's progress as server-sent events.

    ``progress`` comes at once and at each change with state, revision, analysis, done_photos and
    photos; ``gone`` when the case is deleted. The stream ends after ten minutes: connect again.
    """
    async for event in progress_events(workspace, case_id):
        yield event


@router.post("/{case_id}/analysis", status_code=202)
def analyse_again(case_id: str, workspace: Space, user: CurrentUser) -> dict[str, str]:
    """Analyse the photos again, for example after a failure."""
    case_files.analyse_again(workspace, user.name, case_id)
    return {"state": "queued"}


@router.get("/{case_id}/links")
def list_links(case_id: str, workspace: Space, _user: CurrentUser) -> list[LinkOut]:
    """List the customer links of a case, newest first."""
    with workspace.database.read() as connection:
        case.get(connection, case_id)
        return [LinkOut.of(row) for row in link.of_case(connection, case_id)]


@router.post("/{case_id}/links", status_code=201, response_model=LinkOut)
def create_link(
    request: Request, case_id: str, workspace: Space, user: CurrentUser, body: NewLink
) -> Response:
    """Make a customer link; its address is told in this answer only."""
    seconds = (body.days or workspace.settings.link_days) * 86400
    with workspace.database.write() as connection:
        token, made = link.create(connection, user.name, case_id, seconds)
    shown = LinkOut.of(made, link_url(request, token)).model_dump(mode="json")
    return JSONResponse(shown, 201)


@router.delete("/{case_id}/links/{link_id}", status_code=204)
def revoke_link(case_id: str, link_id: str, workspace: Space, user: CurrentUser) -> Response:
    """End a customer link at once."""
    with workspace.database.write() as connection:
        link.revoke(connection, user.name, case_id, link_id)
    return Response(status_code=204)


@router.get("/{case_id}/corrections")
def list_corrections(case_id: str, workspace: Space, _user: CurrentUser) -> list[CorrectionOut]:
    """List the corrections in force."""
    with workspace.database.read() as connection:
        case.get(connection, case_id)
        return [CorrectionOut.of(row) for row in correction.in_force(connection, case_id)]


@router.post("/{case_id}/corrections", status_code=201, response_model=CorrectionOut)
def correct(
    request: Request, case_id: str, workspace: Space, user: CurrentUser, body: NewCorrection
) -> JSONResponse:
    """Correct a feature; the result is worked out anew from then on.

    Feature ``carb``, value true, with a box: a carburettor that was missed; its features are read
    there in a new analysis.
    """
    values = body.model_dump()

    def act(connection: sa.Connection) -> Any:
        made = case_files.correct(workspace, connection, user.name, case_id, **values)
        return CorrectionOut.of(made).model_dump(mode="json")

    return once(request, user.id, values, act)


@router.delete("/{case_id}/corrections/{correction_id}", status_code=204)
def withdraw(case_id: str, correction_id: RowId, workspace: Space, user: CurrentUser) -> Response:
    """Take a correction back."""
    with workspace.database.write() as connection:
        case_files.withdraw_correction(workspace, connection, user.name, case_id, correction_id)
    return Response(status_code=204)


@router.get("/{case_id}/checklist")
def list_ticks(case_id: str, workspace: Space, _user: CurrentUser) -> list[TickOut]:
    """List what was found by hand so far; the items stand in the result."""
    with workspace.database.read() as connection:
        case.get(connection, case_id)
        return [TickOut.of(tick) for tick in checklist.of_case(connection, case_id).values()]


@router.put("/{case_id}/checklist/{item_id}")
def tick(case_id: str, item_id: str, workspace: Space, user: CurrentUser, body: NewTick) -> TickOut:
    """Set what was found for one item."""
    with workspace.database.write() as connection:
        made = checklist.set_tick(connection, user.name, case_id, item_id, body.outcome, body.note)
    return TickOut.of(made)


@router.get("/{case_id}/history")
def history(
    case_id: str,
    workspace: Space,
    _user: CurrentUser,
    after: Annotated[int, Query(ge=0, le=2**62)] = 0,
    limit: Annotated[int, Query(ge=1, le=MAX_PAGE)] = 50,
) -> list[EventOut]:
    """Return who changed what, oldest first, from the line after `after`."""
    with workspace.database.read() as connection:
        case.get(connection, case_id)
        rows = audit.history(connection, case_id, after=after, limit=limit)
    return [EventOut.of(row) for row in rows]
