"""Commands ``serve``, ``work``, ``user`` and ``export``."""

import ipaddress
import logging
import os
import subprocess
import sys
import threading
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from carbpair.cases import account
from carbpair.cases.error import CaseError
from carbpair.cases.settings import ServiceSettings, check_secret
from carbpair.cases.worker import yield_to_pages
from carbpair.cases.workspace import Workspace, open_workspace

if TYPE_CHECKING:
    import uvicorn

RESTART_SECONDS = 1.0
# How long a thread keeps the interpreter when another wants it; Python's own 5 ms add up for the
# thread that accepts requests.
SWITCH_SECONDS = 0.001

users = typer.Typer(help="Logins for the workshop's desk.", no_args_is_help=True)


def register(app: typer.Typer) -> None:
    """Add this module's commands to the command line."""
    app.command("serve")(serve)
    app.command("work")(work)
    app.command("export")(export)
    app.add_typer(users, name="user")


def serve(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on.")] = 8000,
    workers: Annotated[
        int | None, typer.Option(min=0, help="Worker processes; default from settings.")
    ] = None,
) -> None:
    """Start the service with its workers: pages, API, analyses."""
    import uvicorn

    from carbpair.http.app import create_app
    from carbpair.http.setup_token import setup_token

    settings = _settings(workers=workers)
    if not _is_loopback(host):
        # Anyone on the network can reach it: then it needs what production needs.
        try:
            check_secret(settings.secret)
        except ValueError as error:
            _stop(f"listening on {host}: {error}")
    workspace = _open(settings)
    with workspace.database.read() as connection:
        first = not account.has_users(connection)
    shown = f"[{host}]" if ":" in host else host
    typer.echo(f"carbpair is at http://{shown}:{port}/desk (data in {settings.data_dir})")
    if first:
        token = setup_token(settings.resolved_secret())
        typer.echo(f"No login exists yet. Make one at http://{shown}:{port}/setup/{token}")
    stop = Event()
    config = uvicorn.Config(
        create_app(workspace),
        host=host,
        port=port,
        log_level="warning",
        # Addresses hold link tokens, so requests are not logged.
        access_log=False,
        server_header=False,
        h11_max_incomplete_event_size=16 * 1024,
        timeout_graceful_shutdown=5,
    )
    server = uvicorn.Server(config)
    watchers = [
        threading.Thread(target=_keep_worker, args=(server, stop), daemon=True)
        for _ in range(settings.workers)
    ]
    for watcher in watchers:
        watcher.start()
    sys.setswitchinterval(SWITCH_SECONDS)
    try:
        server.run()
    finally:
        stop.set()
        for watcher in watchers:
            watcher.join(timeout=15)
        workspace.close()


def work(
    parent: Annotated[
        int | None, typer.Option(hidden=True, help="Stop when this process is gone.")
    ] = None,
) -> None:
    """Add a worker: analyses photos from the queue until it is stopped."""
    from carbpair.cases.worker import run_worker, stop_on_signals

    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(name)s %(message)s")
    stop = Event()
    stop_on_signals(stop)
    workspace = _open(_settings())
    run_worker(workspace, stop, parent=parent)
    workspace.close()


def export(
    folder: Annotated[Path, typer.Argument(help="New folder for the photos and annotations.")],
) -> None:
    """Write corrections with their photos as COCO, from cases whose owners agreed."""
    from carbpair.cases.coco_export import export_corrections

    workspace = _open(_settings())
    try:
        photos, annotations = export_corrections(workspace, folder)
    except OSError as error:
        _stop(str(error))
    typer.echo(f"{photos} photos with {annotations} annotations are in {folder}")


@users.command("add")
def add_user(
    name: Annotated[str, typer.Argument(help="Name to log in with.")],
    password: Annotated[str, typer.Option(prompt=True, confirmation_prompt=True, hide_input=True)],
) -> None:
    """Make a login."""
    workspace = _open(_settings())
    try:
        with workspace.database.write() as connection:
            account.create_user(connection, "command line", name, password)
    except CaseError as error:
        _stop(str(error))
    typer.echo(f"{name} can log in now.")


@users.command("disable")
def disable_user(name: Annotated[str, typer.Argument(help="Whose access ends.")]) -> None:
    """End a person's access at once."""
    workspace = _open(_settings())
    try:
        with workspace.database.write() as connection:
            account.disable(connection, "command line", name)
    except CaseError as error:
        _stop(str(error))
    typer.echo(f"{name} can no longer log in.")


@users.command("token")
def make_token(
    name: Annotated[str, typer.Argument(help="Whose rights the token has.")],
    password: Annotated[str, typer.Option(prompt=True, hide_input=True)],
    days: Annotated[float, typer.Option(min=0.01, max=3650, help="Days that it lasts.")] = 90.0,
) -> None:
    """Make an API token, shown once; send it as "Authorization: Bearer TOKEN"."""
    workspace = _open(_settings())
    with workspace.database.write() as connection:
        user = account.check_password(connection, name, password)
        if user is None:
            _stop("name or password is wrong")
        typer.echo(account.open_session(connection, user, days * 86400, kind="bearer"))


def _settings(workers: int | None = None) -> ServiceSettings:
    try:
        return ServiceSettings() if workers is None else ServiceSettings(workers=workers)
    except ValueError as error:
        _stop(str(error))


def _open(settings: ServiceSettings) -> Workspace:
    try:
        return open_workspace(settings)
    except (RuntimeError, ImportError, OSError) as error:
        _stop(str(error))


def _stop(message: str) -> NoReturn:
    typer.echo(message, err=True)
    raise typer.Exit(2)


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _keep_worker(server: "uvicorn.Server", stop: Event) -> None:
    """Run one worker process, and another whenever it ends, until `stop`."""
    # After a crash people wait for pages first: a worker's start takes both cores for seconds.
    while not server.started and not stop.wait(0.05):
        pass
    command = [sys.executable, "-m", "carbpair.http", "work", "--parent", str(os.getpid())]
    while not stop.is_set():
        process = subprocess.Popen(command)  # noqa: S603 - our own program, fixed arguments
        yield_to_pages(process.pid)
        while process.poll() is None and not stop.wait(0.2):
            pass
        if stop.is_set():
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
        else:
            stop.wait(RESTART_SECONDS)
