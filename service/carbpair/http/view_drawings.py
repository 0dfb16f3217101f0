"""Drawings of the views that the identification asks for, as images."""

from fastapi import APIRouter
from fastapi.responses import Response

from carbpair.cases.error import NotFoundError
from carbpair.identify.view import views

router = APIRouter(include_in_schema=False)
# An SVG used as an image takes no colour from the page around it.
INK = "#5a6b7b"


@router.get("/views/{view_id}.svg")
def drawing(view_id: str) -> Response:
    """Return one view's drawing."""
    for view in views():
        if view.id == view_id:
            svg = view.drawing.replace("currentColor", INK)
            headers = {"Cache-Control": "public, max-age=3600"}
            return Response(svg, media_type="image/svg+xml", headers=headers)
    raise NotFoundError("there is no drawing of this view")
