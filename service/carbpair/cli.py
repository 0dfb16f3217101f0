"""The command line: `carbpair inspect` and, imported when asked for, the service's commands."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from carbpair import __version__
from carbpair.lazy_group import LazyGroup

if TYPE_CHECKING:
    from carbpair.inspection import Inspection
    from carbpair.settings import Settings

# Heavy imports stand inside the functions: `carbpair --help` must answer at once.

PROGRESS_FROM = 4
"""From this many photos on a progress bar is shown."""

EXIT_PHOTO = 2
"""A photo could not be read, or nothing to read was given."""


class Commands(LazyGroup):
    """carbpair's commands; each entry's module has `register(app)`."""

    later = {  # noqa: RUF012 - a ClassVar in the base class
        "identify": ("carbpair.identify.cli", "Say which pattern a pair is, and what to confirm."),
        "verify": ("carbpair.identify.cli", "Check a pair after reassembly: pass, fail, not seen."),
        "catalogue": ("carbpair.identify.cli", "Check, describe or calibrate a catalogue."),
        "serve": ("carbpair.http.cli", "Start the service with its workers: pages, API, analyses."),
        "work": ("carbpair.http.cli", "Add a worker: analyses photos from the queue."),
        "user": ("carbpair.http.cli", "Logins for the workshop's desk."),
        "export": ("carbpair.http.cli", "Write corrections with their photos as COCO."),
    }


app = typer.Typer(
    cls=Commands,
    no_args_is_help=True,
    add_completion=False,
    help="Reads photographs of a pair of side-draught constant-depression carburettors.",
)


def main() -> None:
    """Run the command line."""
    app()


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"carbpair {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Read photographs of a pair of side-draught constant-depression carburettors."""


@app.command()
def inspect(
    photos: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO...", help="Photos (JPEG, PNG, WebP, HEIC) or folders."),
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
    annotate: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write each photo with the evidence drawn on it."),
    ] = None,
    catalogue: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Identify with this catalogue, not the demonstration."),
    ] = None,
    car: Annotated[str | None, typer.Option(help="The car, as the catalogue names it.")] = None,
    engine: Annotated[str | None, typer.Option(help="Its engine.")] = None,
) -> None:
    """Read the features of one pair from photos of it, and say which pattern it may be.

    Exit code 0: all photos were read. 2: at least one was not; the others were.
    """
    from carbpair.identify import IdentifyError
    from carbpair.identify.inspected import Identifier
    from carbpair.photo_files import expand_photos

    try:
        files = expand_photos(photos)
        # A wrong catalogue or car is said before the photos are read.
        identifier = Identifier(catalogue, car, engine)
    except (FileNotFoundError, IdentifyError) as error:
        _stop(str(error).rstrip())
    settings = _settings()
    report = _inspect(files, settings).to_json()
    identification = identifier.identify(report)
    report["identification"] = identification and identification.to_json()
    written = _annotate(files, report, annotate, settings) if annotate else []
    failed = [photo for photo in report["photos"] if photo["error"]]
    if as_json:
        typer.echo(json.dumps(report, ensure_ascii=False, indent=2))
        for photo in failed:
            fault = photo["error"]
            typer.echo(f"{photo['file']}: {fault['message']} {fault['remedy']}", err=True)
    else:
        from carbpair.report_text import report_text

        typer.echo(report_text(report, _width()))
        if identification is not None:
            from carbpair.identify.text import identification_brief

            typer.echo("\n" + identification_brief(identification))
        for path in written:
            typer.echo(f"Drawn on: {path}")
    if failed:
        raise typer.Exit(EXIT_PHOTO)


def _settings() -> "Settings":
    from pydantic import ValidationError

    from carbpair.settings import Settings

    try:
        return Settings()
    except ValidationError as error:
        names = ", ".join(f"CARBPAIR_{str(part['loc'][0]).upper()}" for part in error.errors())
        _stop(f"{names}: {error.errors()[0]['msg']}. Correct or unset the variable.")


def _inspect(files: list[Path], settings: "Settings") -> "Inspection":
    from carbpair.inspection import inspect_photos

    if len(files) < PROGRESS_FROM or not sys.stderr.isatty():
        return inspect_photos(files, settings)
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as Remaining

    columns = (BarColumn(), MofNCompleteColumn(), Remaining(), TextColumn("{task.description}"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=len(files))

        def advance(done: int, total: int, file: str) -> None:
            bar.update(task, completed=done, total=total, description=file)

        return inspect_photos(files, settings, progress=advance)


def _annotate(
    files: list[Path], report: dict[str, Any], folder: Path, settings: "Settings"
) -> list[Path]:
    from carbpair.annotate import annotate
    from carbpair.photo import clean_jpeg, load_photo

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        _stop(f"{folder}: the folder for the drawings cannot be made ({error.strerror}).")
    written: list[Path] = []
    for file, photo in zip(files, report["photos"], strict=True):
        if photo["error"]:
            continue
        target = _free_name(folder, file.stem, written)
        pixels = load_photo(file, settings.photo_limits()).pixels
        target.write_bytes(clean_jpeg(annotate(pixels, photo)))
        written.append(target)
    return written


def _free_name(folder: Path, stem: str, taken: list[Path]) -> Path:
    target, number = folder / f"{stem}-annotated.jpg", 2
    while target in taken:  # photos of the same name from two folders
        target, number = folder / f"{stem}-annotated-{number}.jpg", number + 1
    return target


def _width() -> int:
    import shutil

    return max(60, min(110, shutil.get_terminal_size((100, 24)).columns))


def _stop(message: str) -> NoReturn:
    typer.echo(message, err=True)
    raise typer.Exit(EXIT_PHOTO)
