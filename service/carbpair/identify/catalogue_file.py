"""Reading a catalogue file: TOML in, a checked Catalogue or line-numbered findings out.

TOML was chosen over YAML by measurement (10,000 fitments, see benchmarks/identify.py): it
parses faster and has one meaning for ``no`` and for ``1.10``. The check of types and names
is pydantic's, compiled from the same dataclasses that the JSON Schema is published from.
"""

from __future__ import annotations

import hashlib
import tomllib
from importlib import resources
from pathlib import Path

import rtoml
from pydantic import TypeAdapter, ValidationError

from carbpair.identify.catalogue import SCHEMA, Catalogue, CatalogueDocument
from carbpair.identify.catalogue_check import meaning_problems, type_problems
from carbpair.identify.catalogue_lines import LineFinder
from carbpair.identify.error import BadInputError, CatalogueError, CatalogueProblem

MAX_BYTES = 32 * 1024 * 1024
DEMO_FILE = "demo_catalogue.toml"

_ADAPTER: TypeAdapter[CatalogueDocument] = TypeAdapter(CatalogueDocument)


def load_catalogue(path: str | Path) -> Catalogue:
    """Read and check the catalogue at ``path``.

    Raises CatalogueError with every finding, or BadInputError when there is no such file.
    """
    file = Path(path)
    try:
        size = file.stat().st_size
        if size > MAX_BYTES:
            raise BadInputError(
                f"{file.name}: {size / 1e6:.0f} MB is more than a catalogue may have "
                f"({MAX_BYTES / 1e6:.0f} MB).",
                "Split it, or name the right file.",
            )
        data = file.read_bytes()
    except OSError as error:
        raise BadInputError(
            f"{file.name}: cannot be read ({error.strerror}).", "Check the path and its rights."
        ) from None
    return parse_catalogue(data, file.name)


def parse_catalogue(data: bytes, name: str) -> Catalogue:
    """The catalogue written in ``data`` (UTF-8 TOML); ``name`` is used in messages."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise _refusal(name, line, "not UTF-8 text; save the file as UTF-8") from None
    try:
        raw = rtoml.loads(text)
    except rtoml.TomlParsingError as error:
        raise _syntax_refusal(name, text, str(error)) from None
    if raw.get("schema") != SCHEMA:
        said = f"it says {raw['schema']!r}" if "schema" in raw else "the key is missing"
        raise _refusal(name, 1, f'the first line must be schema = "{SCHEMA}"; {said}')
    try:
        document = _ADAPTER.validate_python(raw)
    except ValidationError as error:
        raise CatalogueError(name, type_problems(error.errors(), raw, LineFinder(text))) from None
    problems = meaning_problems(document, lambda: LineFinder(text))
    if problems:
        raise CatalogueError(name, problems)
    return Catalogue(
        header=document.catalogue,
        patterns=tuple(document.pattern),
        fitments=tuple(document.fitment),
        own_features=tuple(document.feature),
        sha256=hashlib.sha256(data).hexdigest(),
        source=name,
    )


def demo_catalogue() -> Catalogue:
    """The catalogue of an invented maker that comes with the package."""
    file = resources.files("carbpair.identify") / "data" / DEMO_FILE
    return parse_catalogue(file.read_bytes(), DEMO_FILE)


def _refusal(name: str, line: int, message: str) -> CatalogueError:
    return CatalogueError(name, (CatalogueProblem(line, "", message),))


def _syntax_refusal(name: str, text: str, first_words: str) -> CatalogueError:
    """The standard library's parser words a syntax error better, so it is asked again."""
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        words = str(error)
        line = None
        if "(at line " in words:
            words, _, place = words.partition(" (at line ")
            line = int(place.split(",")[0].rstrip(")"))
        elif "(at end of document)" in words:
            words = words.replace(" (at end of document)", "")
            line = text.count("\n") + 1
        return CatalogueError(name, (CatalogueProblem(line, "", f"not valid TOML: {words}"),))
    return CatalogueError(name, (CatalogueProblem(None, "", f"not valid TOML: {first_words}"),))
