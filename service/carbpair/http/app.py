"""Puts the service together."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.responses import JSONResponse

from carbpair import __version__
from carbpair.cases.identification import warm_up
from carbpair.cases.workspace import Workspace
from carbpair.http import (
    case_api,
    desk_pages,
    inspect_api,
    intake_pages,
    login_pages,
    photo_api,
    report_pages,
    tus,
    uploads,
    view_drawings,
)
from carbpair.http.body_limit import SLACK, BodyLimit
from carbpair.http.headers import SecurityHeaders
from carbpair.http.openapi import openapi_of
from carbpair.http.pages import Pages
from carbpair.http.problem import add_handlers
from carbpair.http.rate_limit import RateLimits
from carbpair.http.same_origin import SameOrigin
from carbpair.http.web_files import web_folder

SWEEP_SECONDS = 600.0
# Threads that work off requests. Python runs one at a time, and each that is ready makes the
# others, the one that accepts requests too, wait longer for their turn; some wait for the disk.
THREADS = 12


def create_app(workspace: Workspace) -> FastAPI:
    """Return the application on an open workspace; analyses need a worker beside it."""
    settings = workspace.settings
    secure = settings.environment == "production"

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        to_thread.current_default_thread_limiter().total_tokens = THREADS
        await asyncio.to_thread(warm_up, settings)
        await asyncio.to_thread(app.state.pages.warm_up)
        sweeper = asyncio.create_task(_sweep(workspace))
        yield
        sweeper.cancel()

    app = FastAPI(
        title="carbpair",
        version=__version__,
        description="Reads photographs of a classic car's pair of side-draught "
        "constant-depression carburettors and identifies their pattern.",
        lifespan=lifespan,
        # The interactive pages load scripts from other hosts, which our policy forbids.
        docs_url=None,
        redoc_url=None,
    )
    app.state.workspace = workspace
    app.state.secret = settings.resolved_secret()
    app.state.secure = secure
    app.state.rate_limits = RateLimits(settings)
    app.state.pages = Pages()
    app.state.patches = tus.Patches()
    app.state.decoding = asyncio.Semaphore(1)
    app.openapi = lambda: openapi_of(app)  # type: ignore[method-assign]
    add_handlers(app, app.state.pages.error)
    for module in (
        inspect_api,
        case_api,
        photo_api,
        login_pages,
        desk_pages,
        report_pages,
        tus,
        intake_pages,
        view_drawings,
    ):
        app.include_router(module.router)

    @app.get("/health", include_in_schema=False)
    def health() -> JSONResponse:
        with workspace.database.read() as connection:
            depth = workspace.queue.depth(connection)
        return JSONResponse({"status": "ok", "waiting": depth})

    folder = web_folder()
    for name in ("css", "js", "vendor", "icons"):
        app.mount(f"/{name}", StaticFiles(directory=folder / name), name=name)

    photo_cap = settings.max_photo_bytes
    app.add_middleware(SameOrigin)
    app.add_middleware(
        BodyLimit,
        limits=[
            (r"/inspect", photo_cap * settings.max_photos_per_inspection + SLACK),
            (r"/api/cases/[^/]+/photos", photo_cap + SLACK),
            (r"/desk/cases/[^/]+/photos", photo_cap * settings.max_photos_per_inspection + SLACK),
            (r"/l/[^/]+/uploads/[^/]+", photo_cap),
        ],
    )
    app.add_middleware(SecurityHeaders, secure=secure)
    return app


async def _sweep(workspace: Workspace) -> None:
    while True:
        await asyncio.to_thread(uploads.drop_expired, workspace)
        await asyncio.sleep(SWEEP_SECONDS)
