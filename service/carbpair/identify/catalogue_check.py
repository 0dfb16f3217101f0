"""What can be wrong with a catalogue that parses, in words for the person who wrote it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic_core import ErrorDetails

from carbpair.geometry.hole_layout import COUNT_OF, LAYOUTS
from carbpair.identify.catalogue import CatalogueDocument, CatalogueHeader, OwnFeature
from carbpair.identify.catalogue_lines import LineFinder, Path
from carbpair.identify.error import CatalogueProblem
from carbpair.identify.feature import FEATURES
from carbpair.identify.fitment import Fitment
from carbpair.identify.pattern import Gasket, Kit, Mark, Pattern, TagNumber
from carbpair.identify.suggestion import did_you_mean
from carbpair.identify.tag import mask_problem, normalise_tag
from carbpair.identify.thread import THREADS

_TABLES: dict[str, Any] = {
    "": CatalogueDocument,
    "catalogue": CatalogueHeader,
    "pattern": Pattern,
    "fitment": Fitment,
    "feature": OwnFeature,
    "mark": Mark,
    "tag": TagNumber,
    "kit": Kit,
    "gasket": Gasket,
}


def type_problems(
    errors: Sequence[ErrorDetails], raw: Mapping[str, Any], lines: LineFinder
) -> tuple[CatalogueProblem, ...]:
    """Pydantic's findings as sentences, one per place, in file order."""
    found: dict[tuple[Path, str], CatalogueProblem] = {}
    for error in errors:
        path = _written_path(error["loc"], raw)
        if path[-1:] == ("mark",):
            # A table, or the word "none": only the branch that was meant is worth a finding.
            other_branch: dict[type, str] = {dict: "literal_error", str: "dataclass_type"}
            if error["type"] == other_branch.get(type(_held(raw, path))):
                continue
        message = _sentence(error, path)
        key = (path, message)
        found.setdefault(key, CatalogueProblem(lines.line(path), _where(path, raw), message))
    return tuple(sorted(found.values(), key=lambda problem: problem.line or 0))


def meaning_problems(
    document: CatalogueDocument, make_lines: Callable[[], LineFinder]
) -> tuple[CatalogueProblem, ...]:
    """Findings that types cannot see: ids, references, masks, years and values."""
    found: list[tuple[Path, str, str]] = []
    ids: dict[str, int] = {}
    numbers: dict[str, tuple[str, str]] = {}
    own = {feature.name: feature.values for feature in document.feature}
    for place, feature in enumerate(document.feature):
        if feature.name in FEATURES or feature.name in {"mark", "tag"}:
            found.append(
                (
                    ("feature", place, "name"),
                    feature.name,
                    "the name is already a built-in feature; choose another",
                )
            )
    for place, pattern in enumerate(document.pattern):
        base: Path = ("pattern", place)
        if pattern.id in ids:
            found.append(((*base, "id"), pattern.id, "this id is used by an earlier pattern too"))
        ids.setdefault(pattern.id, place)
        found.extend(_pattern_problems(pattern, base, own, numbers))
    for place, fitment in enumerate(document.fitment):
        if fitment.pattern not in ids:
            found.append(
                (
                    ("fitment", place, "pattern"),
                    fitment.car,
                    f"there is no pattern {fitment.pattern!r}. "
                    f"{did_you_mean(fitment.pattern, ids)}",
                )
            )
        if fitment.years is not None and fitment.years[0] > fitment.years[1]:
            found.append(
                (
                    ("fitment", place, "years"),
                    fitment.car,
                    f"the years run backwards ({fitment.years[0]} to {fitment.years[1]})",
                )
            )
    if not found:
        return ()
    lines = make_lines()
    problems = [
        CatalogueProblem(lines.line(path), f"{path[0]} {name!r}", message.strip())
        for path, name, message in found
    ]
    return tuple(sorted(problems, key=lambda problem: problem.line or 0))


def _pattern_problems(
    pattern: Pattern,
    base: Path,
    own: Mapping[str, Sequence[str]],
    numbers: dict[str, tuple[str, str]],
) -> list[tuple[Path, str, str]]:
    found: list[tuple[Path, str, str]] = []
    if pattern.hole_thread is not None and pattern.hole_thread not in THREADS:
        found.append(
            (
                (*base, "hole_thread"),
                pattern.id,
                f"unknown thread {pattern.hole_thread!r}. "
                f"{did_you_mean(pattern.hole_thread, THREADS)}",
            )
        )
    lies, holes = pattern.hole_layout, pattern.flange_holes
    if lies is not None and holes is not None and COUNT_OF[lies] != holes:
        found.append(
            (
                (*base, "hole_layout"),
                pattern.id,
                f"{COUNT_OF[lies]} holes lie {lies!r}, flange_holes is {holes}. "
                f"{holes} holes lie {', '.join(LAYOUTS[holes])}",
            )
        )
    for place, mask in enumerate(pattern.tag_formats):
        problem = mask_problem(mask)
        if problem:
            found.append(((*base, "tag_formats", place), pattern.id, problem))
    for place, tag in enumerate(pattern.tag):
        spelling = normalise_tag(tag.number)
        earlier = numbers.setdefault(spelling, (pattern.id, tag.place))
        if earlier[0] == pattern.id and earlier[1] == tag.place:
            continue
        found.append(
            (
                (*base, "tag", place),
                pattern.id,
                f"tag number {tag.number!r} is listed for {earlier[0]} ({earlier[1]}) too; "
                "a number may stand once",
            )
        )
    for name, value in pattern.features.items():
        if name not in own:
            found.append(
                (
                    (*base, "features", name),
                    pattern.id,
                    f"feature {name!r} is not declared by a [[feature]] table. "
                    f"{did_you_mean(name, own)}",
                )
            )
        elif value not in own[name]:
            found.append(
                (
                    (*base, "features", name),
                    pattern.id,
                    f"{value!r} is not a value of {name}. {did_you_mean(value, own[name])}",
                )
            )
    return found


def _sentence(error: ErrorDetails, path: Path) -> str:
    kind, given, context = error["type"], error.get("input"), error.get("ctx", {})
    key = str(path[-1]) if path else ""
    if len(path) > 1 and isinstance(path[-1], int):
        key = f"item {path[-1] + 1} of {path[-2]}"
    shown = str(given).lower() if isinstance(given, bool) else repr(given)[:80]
    if kind in {"unexpected_keyword_argument", "extra_forbidden"}:
        return f"unknown field {key!r}. {did_you_mean(key, _fields_at(path[:-1]))}".strip()
    if kind in {"missing", "missing_argument"}:
        return f"the field {key!r} is missing"
    if kind == "literal_error":
        allowed = [
            word.strip("'") for word in str(context["expected"]).replace(" or ", ", ").split(", ")
        ]
        return f"{key} = {shown} is not allowed. {did_you_mean(str(given), allowed)}".strip()
    if kind == "string_pattern_mismatch":
        return f"{key} = {shown} may hold letters, digits, '.', '_' and '-' only, up to 64"
    if kind in {"dataclass_type", "dict_type"}:
        return (
            f"{key} must be a table, such as {{ bearing_deg = 0, tolerance_deg = 15 }}"
            if key == "mark"
            else f"{key} must be a table"
        )
    words = error["msg"].removeprefix("Input should be ").replace("Input should ", "")
    return f"{key} = {shown} should be {words}" if "Input" in error["msg"] else f"{key}: {words}"


def _fields_at(path: Path) -> list[str]:
    names = [part for part in path if isinstance(part, str)]
    table = _TABLES.get(names[-1] if names else "")
    return [field.name for field in dataclasses.fields(table)] if table is not None else []


def _written_path(location: tuple[int | str, ...], raw: Mapping[str, Any]) -> Path:
    """Pydantic names the branch of a union in the path; the file does not have it."""
    path: list[str | int] = []
    held: Any = raw
    for place, part in enumerate(location):
        last = place == len(location) - 1
        inside = (isinstance(held, dict) and part in held) or (
            isinstance(held, list) and isinstance(part, int) and part < len(held)
        )
        if inside:
            held = held[part]
        elif not (last and isinstance(held, dict)) or str(part) in {"Mark", "literal['none']"}:
            continue
        path.append(part)
    return tuple(path)


def _held(raw: Mapping[str, Any], path: Path) -> Any:
    held: Any = raw
    for part in path:
        held = held[part]
    return held


def _where(path: Path, raw: Mapping[str, Any]) -> str:
    if len(path) < 2 or not isinstance(path[1], int):
        return f"[{path[0]}]" if len(path) > 1 else ""
    row = raw[str(path[0])][path[1]]
    name = row.get("id") or row.get("car") or row.get("name") if isinstance(row, dict) else None
    return f"{path[0]} {name!r}" if name else f"{path[0]} number {path[1] + 1}"
