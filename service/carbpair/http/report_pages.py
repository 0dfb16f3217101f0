"""The report of a case: printable page and PDF."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from carbpair.cases import audit, case_result
from carbpair.cases.case_result import CaseResult
from carbpair.cases.workspace import Workspace
from carbpair.http.access import CurrentUser, Space
from carbpair.http.openapi import BINARY
from carbpair.http.overlay import overlays_of
from carbpair.http.pages import pages_of
from carbpair.http.report import report_of
from carbpair.http.report_pdf import report_pdf

router = APIRouter(tags=["report"])


@router.get("/desk/cases/{case_id}/report", include_in_schema=False)
def report_page(request: Request, case_id: str, workspace: Space, _user: CurrentUser) -> Response:
    """Show the report for printing."""
    result = _load(workspace, case_id)
    return pages_of(request).page(
        request,
        "report.html",
        case=result.case,
        result=result,
        report=report_of(result),
        overlays=overlays_of(result),
    )


@router.get(
    "/api/cases/{case_id}/report.pdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {"schema": BINARY}}}},
)
def report_file(request: Request, case_id: str, workspace: Space, user: CurrentUser) -> Response:
    """Return the report as PDF, in the language of the cookie or Accept-Language."""
    result = _load(workspace, case_id)
    images = {one.id: workspace.store.get(one.store_key) for one in result.photos}
    wording = pages_of(request).wording(request)
    data = report_pdf(report_of(result), result, overlays_of(result), images, wording)
    with workspace.database.write() as connection:
        audit.record(connection, user.name, "report_made", case_id)
    name = f"report-{result.case.number}.pdf"
    headers = {
        "Content-Language": wording.language,
        "Content-Disposition": f'attachment; filename="{name}"',
    }
    return Response(data, media_type="application/pdf", headers=headers)


def _load(workspace: Workspace, case_id: str) -> CaseResult:
    with workspace.database.read() as connection:
        return case_result.load(connection, case_id, workspace.settings)
