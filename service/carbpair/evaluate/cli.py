"""Command: evaluate."""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

if TYPE_CHECKING:
    from carbpair.evaluate.photo_reading import Progress
    from carbpair.settings import Settings

EXIT_INPUT = 2


def register(app: typer.Typer) -> None:
    """Add the command to ``app``."""
    app.command()(evaluate)


def evaluate(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Photos with truth beside them.")],
    models: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Score these networks, not the shipped.")
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write all tables as JSON.")
    ] = None,
    report: Annotated[
        Path | None, typer.Option(metavar="FILE.md", help="Write a page with plots beside it.")
    ] = None,
    workers: Annotated[int, typer.Option(min=1, help="Processes that read photos.")] = 1,
    only_with_truth: Annotated[
        bool, typer.Option("--only-with-truth", help="Leave out photos without truth.")
    ] = False,
    draft: Annotated[
        bool, typer.Option("--draft", help="Write DIR/truth.json to fill in, and score nothing.")
    ] = False,
    name: Annotated[str, typer.Option(help="What the set is called in the result.")] = "",
    force: Annotated[bool, typer.Option("--force", help="Overwrite the named files.")] = False,
) -> None:
    """Score the readers on photos whose truth is known: a workshop's own, or renders.

    The shipped evidence is never written to. docs/evaluate.md shows the truth file.
    Exit code 0: all photos were read. 2: something is wrong with folder, truth, output or a photo.
    """
    from carbpair.evaluate.draft import draft_truth
    from carbpair.evaluate.error import OutputError, TruthError
    from carbpair.evaluate.evaluation import evaluate_folder
    from carbpair.evaluate.outputs import check_outputs
    from carbpair.evaluate.report import plot_folder, write_report
    from carbpair.vision.network import ModelError

    settings = _settings()
    chosen = models or settings.model_dir
    try:
        if draft:
            with _bar() as progress:
                made = draft_truth(folder, chosen, settings.photo_limits(), workers, progress)
            typer.echo(f"Fill in: {made} (docs/evaluate.md), then run this without --draft.")
            return
        outputs = [p for p in (json_file, report) if p is not None]
        check_outputs(outputs, chosen, force)
        if report is not None and plot_folder(report).exists() and not force:
            _stop(f"{plot_folder(report)}: exists already. Choose another name or add --force.")
        with _bar() as progress:
            result = evaluate_folder(
                folder, chosen, settings.photo_limits(), workers=workers,
                only_with_truth=only_with_truth, source=name, progress=progress,
            )  # fmt: skip
    except (TruthError, OutputError, ModelError, FileNotFoundError) as error:
        _stop(str(error))
    written: list[Path] = []
    if json_file is not None:
        json_file.write_text(json.dumps(result, indent=1, ensure_ascii=False) + "\n", "utf-8")
        written.append(json_file)
    if report is not None:
        written.append(write_report(result, report)[0])
    _print(result)
    for path in written:
        typer.echo(f"Written: {path}")
    if result["not_read"]:
        for fault in result["not_read"]:
            words = f"{fault.get('message', '')} {fault.get('remedy', '')}"
            typer.echo(f"{fault['file']}: {words}", err=True)
        raise typer.Exit(EXIT_INPUT)


def _print(result: dict[str, Any]) -> None:
    from carbpair.evaluate.summary import share_words, summary

    typer.echo(f"{result['source']}: {result['pictures']} photos, {result['carbs']} carbs in view")
    rows = summary(result["tables"])
    wide = max((len(words) for words, _ in rows), default=0)
    for words, value in rows:
        typer.echo(f"{words:{wide}s}  {value}")
    for count, row in result["pairs"].items():
        photos = "photo" if count == "1" else "photos"
        typer.echo(f"pairs solved with {count} {photos}: {share_words(row['solved'])}")
    typer.echo("Shares with their 95 % interval (Wilson); errors with theirs (bootstrap).")


@contextmanager
def _bar() -> "Iterator[Progress | None]":
    """A progress bar on a terminal, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns = (
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.description}"),
    )
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=None)
        yield lambda done, total, file: bar.update(
            task, completed=done, total=total, description=file
        )


def _settings() -> "Settings":
    from pydantic import ValidationError

    from carbpair.settings import Settings

    try:
        return Settings()
    except ValidationError as error:
        names = ", ".join(f"CARBPAIR_{str(part['loc'][0]).upper()}" for part in error.errors())
        _stop(f"{names}: {error.errors()[0]['msg']}. Correct or unset the variable.")


def _stop(message: str) -> NoReturn:
    typer.echo(message, err=True)
    raise typer.Exit(EXIT_INPUT)
