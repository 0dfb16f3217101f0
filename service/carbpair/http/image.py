"""Pictures as answers."""

from fastapi import Response

from carbpair.cases.photo import Photo
from carbpair.cases.workspace import Workspace


def photo_response(workspace: Workspace, photo: Photo) -> Response:
    """Return a stored picture under its neutral name; browsers may keep it, proxies may not."""
    return Response(
        workspace.store.get(photo.store_key),
        media_type="image/jpeg",
        headers={
            "Cache-Control": "private, max-age=3600",
            "Content-Disposition": f'inline; filename="{photo.file_name}"',
        },
    )
