"""Commands: identify, verify and catalogue."""

import json
import sys
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from carbpair.identify.many_values import ManyValues

# Heavy imports stand inside the functions: `carbpair --help` must answer at once.

EXIT_FAILED = 1
EXIT_INPUT = 2
EXIT_NOT_SEEN = 3

Inputs = Annotated[
    list[str],
    typer.Argument(
        metavar="FEATURES.json|PHOTO...",
        help="What `carbpair inspect --json` printed (- reads it from standard input), or photos.",
    ),
]
CatalogueFile = Annotated[
    Path | None,
    typer.Option("--catalogue", metavar="FILE", help="Your catalogue; default: demonstration."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    app.command()(identify)
    app.command(cls=ManyValues)(verify)
    catalogue = typer.Typer(no_args_is_help=True, help="Check, describe or calibrate a catalogue.")
    catalogue.command()(check)
    catalogue.command()(calibrate)
    catalogue.command()(schema)
    app.add_typer(catalogue, name="catalogue")


def identify(
    inputs: Inputs,
    catalogue: CatalogueFile = None,
    car: Annotated[str | None, typer.Option(help="The car, as the catalogue names it.")] = None,
    engine: Annotated[str | None, typer.Option(help="Its engine.")] = None,
    year: Annotated[int | None, typer.Option(help="Its model year.")] = None,
    tag: Annotated[
        list[str] | None,
        typer.Option(metavar="[left:|right:]TEXT", help="Text on a tag; once per carburettor."),
    ] = None,
    confirmed: Annotated[
        list[str] | None,
        typer.Option(metavar="FEATURE=VALUE", help="A fact checked by hand, left.FEATURE for one."),
    ] = None,
    symptom: Annotated[
        list[str] | None, typer.Option(help="power_fades, rich_smell, will_not_idle, …")
    ] = None,
    as_json: AsJson = False,
    brief: Annotated[
        bool, typer.Option("--brief", help="Leave out the steps of what no photo ever shows.")
    ] = False,
) -> None:
    """Say which pattern a pair is, what differs, and what to confirm by hand.

    Exit code 0: identified, or said why not. 2: the input cannot be used.
    """
    from carbpair.identify import IdentifyError, identify_inspection
    from carbpair.identify.inspected import load_tools
    from carbpair.identify.text import identification_text

    try:
        held, confusion, calibration = load_tools(catalogue)
        found = identify_inspection(
            _inspection(inputs),
            held,
            {
                "car": car,
                "engine": engine,
                "year": year,
                "tags": tag or [],
                "confirmed": confirmed or [],
                "symptoms": symptom or [],
            },
            confusion=confusion,
            calibration=calibration,
        )
    except IdentifyError as error:
        _stop(error)
    if as_json:
        typer.echo(json.dumps(found.to_json(), ensure_ascii=False, indent=2))
    else:
        typer.echo(identification_text(found, full_checklist=not brief))


def verify(
    after: Annotated[
        list[str],
        typer.Option(metavar="FEATURES.json|PHOTO", help="After the work; one or more."),
    ],
    pattern: Annotated[str | None, typer.Option(help="The pattern it must be.")] = None,
    before: Annotated[
        list[str] | None,
        typer.Option(metavar="FEATURES.json|PHOTO", help="Before the work; one or more."),
    ] = None,
    catalogue: CatalogueFile = None,
    as_json: AsJson = False,
) -> None:
    """Check a pair after reassembly: pass, fail or cannot see, item by item.

    Exit code 0: all passed. 1: something failed. 3: nothing failed, but not everything was
    seen. 2: the input cannot be used.
    """
    from dataclasses import asdict

    from carbpair.identify import BadInputError, IdentifyError, read_inspection
    from carbpair.identify import verify as hold_against
    from carbpair.identify.inspected import load_tools
    from carbpair.identify.text import verification_text

    try:
        if pattern is None and not before:
            raise BadInputError(
                "There is nothing to verify against.", "Give --pattern ID or --before PHOTO."
            )
        wanted = load_tools(catalogue)[0].pattern(pattern) if pattern is not None else None
        earlier = read_inspection(_inspection(before)) if before else None
        found = hold_against(read_inspection(_inspection(after)), wanted, earlier)
    except IdentifyError as error:
        _stop(error)
    if as_json:
        held = {"schema": "carbpair/verification/1", "result": found.result, **asdict(found)}
        typer.echo(json.dumps(held, ensure_ascii=False, indent=2))
    else:
        typer.echo(verification_text(found))
    if found.result != "pass":
        raise typer.Exit(EXIT_FAILED if found.result == "fail" else EXIT_NOT_SEEN)


def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A catalogue (TOML).")],
    listed: Annotated[
        bool, typer.Option("--list", help="List patterns, cars and engines.")
    ] = False,
) -> None:
    """Check a catalogue; every finding is named with its line."""
    from carbpair.identify import IdentifyError, load_catalogue
    from carbpair.identify.catalogue_text import catalogue_text

    try:
        held = load_catalogue(file)
    except IdentifyError as error:
        _stop(error)
    typer.echo(catalogue_text(held, listed))


def calibrate(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A catalogue (TOML).")],
    cases: Annotated[int, typer.Option(min=500, help="Simulated cases.")] = 4000,
    per_pattern: Annotated[int, typer.Option(min=50, help="Cases of each pattern.")] = 300,
) -> None:
    """Fit the probabilities to a catalogue by simulation; kept beside it and used from then on."""
    from carbpair.identify import IdentifyError, load_catalogue, load_confusion
    from carbpair.identify.calibration import calibration_file, dump_calibration
    from carbpair.identify.simulation import calibrate as fit

    try:
        held, confusion = load_catalogue(file), load_confusion()
    except IdentifyError as error:
        _stop(error)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("simulating", total=None)

        def advance(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        fitted = fit(held, confusion, cases=cases, per_class=per_pattern, progress=advance)
    target = calibration_file(file)
    target.write_text(json.dumps(dump_calibration(fitted, held, confusion), indent=1) + "\n")
    typer.echo(
        f"Written: {target}\nTemperature {fitted.temperature}, a pattern is named from "
        f"{fitted.answer_threshold}, with another source at {fitted.other_limit} or less "
        f"({cases} simulated cases, risk {fitted.stated_risk:.0%})."
    )


def schema() -> None:
    """Print the JSON Schema of the catalogue format."""
    from carbpair.identify.catalogue_schema import published_schema

    typer.echo(published_schema())


def _inspection(inputs: list[str]) -> dict[str, Any]:
    """The inspection in a features file, from standard input, or made from photos."""
    from carbpair.identify import BadInputError

    if len(inputs) == 1 and (inputs[0] == "-" or inputs[0].lower().endswith(".json")):
        name = "standard input" if inputs[0] == "-" else inputs[0]
        try:
            text = sys.stdin.read() if inputs[0] == "-" else Path(inputs[0]).read_text("utf-8")
            held = json.loads(text)
        except OSError as error:
            raise BadInputError(
                f"{name}: cannot be read ({error.strerror}).", "Check the path."
            ) from None
        except ValueError as error:
            raise BadInputError(
                f"{name}: not JSON ({error}).",
                "Make it with: carbpair inspect PHOTO... --json > features.json",
            ) from None
        if not isinstance(held, dict):
            raise BadInputError(f"{name}: not a features file.", "It must hold one JSON object.")
        return held
    if any(name == "-" or name.lower().endswith(".json") for name in inputs):
        raise BadInputError(
            "A features file and photos cannot be mixed.", "Give one features file, or photos."
        )
    return _inspect_photos(inputs)


def _inspect_photos(names: list[str]) -> dict[str, Any]:
    from carbpair.identify import BadInputError
    from carbpair.inspection import inspect_photos
    from carbpair.photo_files import expand_photos
    from carbpair.settings import Settings

    try:
        files = expand_photos([Path(name) for name in names])
    except FileNotFoundError as error:
        raise BadInputError(str(error)) from None
    report: dict[str, Any] = inspect_photos(files, Settings()).to_json()
    faults = [photo["error"] for photo in report["photos"] if photo["error"]]
    if len(faults) == len(report["photos"]):
        raise BadInputError(
            "No photo could be read: " + " ".join(fault["message"] for fault in faults),
            faults[0]["remedy"] if faults else "",
        )
    for fault in faults:
        typer.echo(f"{fault['message']} {fault['remedy']}", err=True)
    return report


def _stop(error: Exception) -> NoReturn:
    typer.echo(str(error).rstrip(), err=True)
    raise typer.Exit(EXIT_INPUT)
