"""The command line: `carbpair inspect` and, imported when asked for, the service's commands."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from carbpair import __version__
from carbpair.lazy_group import LazyGroup

if TYPE_CHECKING:
    from carbpair.identify import Identification
    from carbpair.inspection import Inspection
    from carbpair.settings import Settings

# Heavy imports stand inside the functions: `carbpair --help` must answer at once.

PROGRESS_FROM = 4
"""From this many photos on a progress bar is shown."""

LIST_SCHEMA = "carbpair/inspection-list/1"
"""What `--each --json` prints: `inspections`, one a photo."""

EXIT_PHOTO = 2
"""A photo could not be read, or nothing to read was given."""


class Commands(LazyGroup):
    """carbpair's commands; each entry's module has `register(app)`."""

    later = {  # noqa: RUF012 - a ClassVar in the base class
        "identify": ("carbpair.identify.cli", "Say which pattern a pair is, and what to confirm."),
        "verify": ("carbpair.identify.cli", "Check a pair after reassembly: pass, fail, not seen."),
        "catalogue": ("carbpair.identify.cli", "Check, describe or calibrate a catalogue."),
        "evaluate": ("carbpair.evaluate.cli", "Score the readers on photos whose truth is known."),
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
    each: Annotated[
        bool, typer.Option("--each", help="Each photo shows a pair of its own; fuse nothing.")
    ] = False,
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
    pairs = [[file] for file in files] if each else [files]
    written: list[Path] = []
    reports: list[dict[str, Any]] = []
    texts: list[str] = []
    for shown, inspection in zip(pairs, _inspect(pairs, settings), strict=True):
        report = inspection.to_json()
        identification = identifier.identify(report)
        report["identification"] = identification and identification.to_json()
        reports.append(report)
        if annotate:
            _annotate(shown, report, annotate, settings, written)
        if not as_json:
            texts.append(_text(report, identification, each))
    if as_json:
        listed = {"schema": LIST_SCHEMA, "inspections": reports}
        typer.echo(json.dumps(listed if each else reports[0], ensure_ascii=False, indent=2))
    else:
        from carbpair.report_text import caution_text

        typer.echo("\n\n".join([*texts, caution_text(_width())] if each else texts))
        for path in written:
            typer.echo(f"Drawn on: {path}")
    failed = [photo for report in reports for photo in report["photos"] if photo["error"]]
    for photo in failed if as_json else ():
        fault = photo["error"]
        typer.echo(f"{photo['file']}: {fault['message']} {fault['remedy']}", err=True)
    if failed:
        raise typer.Exit(EXIT_PHOTO)


def _text(report: dict[str, Any], identification: "Identification | None", each: bool) -> str:
    from carbpair.identify.text import identification_brief
    from carbpair.report_text import report_text

    title = [f"=== {report['photos'][0]['file']} ==="] if each else []
    brief = [] if identification is None else ["", identification_brief(identification)]
    return "\n".join([*title, report_text(report, _width(), caution=not each), *brief])


def _settings() -> "Settings":
    from pydantic import ValidationError

    from carbpair.settings import Settings

    try:
        return Settings()
    except ValidationError as error:
        names = ", ".join(f"CARBPAIR_{str(part['loc'][0]).upper()}" for part in error.errors())
        _stop(f"{names}: {error.errors()[0]['msg']}. Correct or unset the variable.")


def _inspect(pairs: list[list[Path]], settings: "Settings") -> "list[Inspection]":
    from carbpair.inspection import inspect_photos

    total = sum(len(files) for files in pairs)
    if total < PROGRESS_FROM or not sys.stderr.isatty():
        return [inspect_photos(files, settings) for files in pairs]
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as Remaining

    columns = (BarColumn(), MofNCompleteColumn(), Remaining(), TextColumn("{task.description}"))
    out: list[Inspection] = []
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=total)
        before = 0

        def advance(done: int, _total: int, file: str) -> None:
            bar.update(task, completed=before + done, description=file)

        for files in pairs:
            out.append(inspect_photos(files, settings, progress=advance))
            before += len(files)
    return out


def _annotate(
    files: list[Path],
    report: dict[str, Any],
    folder: Path,
    settings: "Settings",
    written: list[Path],
) -> None:
    from carbpair.annotate import annotate
    from carbpair.photo import clean_jpeg, load_photo

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        _stop(f"{folder}: the folder for the drawings cannot be made ({error.strerror}).")
    for file, photo in zip(files, report["photos"], strict=True):
        if photo["error"]:
            continue
        target = _free_name(folder, file.stem, written)
        pixels = load_photo(file, settings.photo_limits()).pixels
        target.write_bytes(clean_jpeg(annotate(pixels, photo)))
        written.append(target)


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
