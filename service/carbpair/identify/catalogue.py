"""A workshop's catalogue: patterns, fitments and the look-ups between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass as plain_dataclass
from functools import cached_property
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, StrictBool
from pydantic.dataclasses import dataclass

from carbpair.identify.error import UnknownNameError
from carbpair.identify.feature import FEATURES, PATTERN_FEATURES, Feature
from carbpair.identify.fitment import Fitment
from carbpair.identify.pattern import STRICT, Identifier, Pattern, Text
from carbpair.identify.suggestion import did_you_mean

SCHEMA = "carbpair/catalogue/1"


@dataclass(frozen=True, slots=True, config=STRICT)
class CatalogueHeader:
    """Who wrote the catalogue and which issue of it this is."""

    id: Identifier
    name: Text
    version: Text
    demo: StrictBool = False
    notes: Annotated[str, Field(max_length=2000)] = ""


@dataclass(frozen=True, slots=True, config=STRICT)
class OwnFeature:
    """A feature of the workshop's own, learnt by hand: its question and allowed values."""

    name: Identifier
    values: Annotated[list[Text], Field(min_length=2, max_length=12)]
    question: Text
    minutes: Annotated[float, Field(strict=True, gt=0, le=240)] = 5.0


@dataclass(
    frozen=True,
    slots=True,
    config=ConfigDict(extra="forbid", title="carbpair catalogue, version 1"),
)
class CatalogueDocument:
    """The file as written; field names are the file's keys."""

    schema: Literal["carbpair/catalogue/1"]
    catalogue: CatalogueHeader
    pattern: Annotated[list[Pattern], Field(min_length=1)]
    fitment: list[Fitment] = Field(default_factory=list)
    feature: Annotated[list[OwnFeature], Field(max_length=60)] = Field(default_factory=list)


@plain_dataclass(frozen=True)
class Catalogue:
    """A checked catalogue; ``sha256`` is of the file's bytes, ``source`` its name."""

    header: CatalogueHeader
    patterns: tuple[Pattern, ...]
    fitments: tuple[Fitment, ...]
    own_features: tuple[OwnFeature, ...]
    sha256: str
    source: str

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Pattern id → its place in ``patterns``."""
        return {pattern.id: place for place, pattern in enumerate(self.patterns)}

    @cached_property
    def features(self) -> Mapping[str, Feature]:
        """Every feature that tells this catalogue's patterns apart, by name."""
        own = {
            feature.name: Feature(feature.name, tuple(feature.values), None, False, feature.name)
            for feature in self.own_features
        }
        return {name: FEATURES[name] for name in PATTERN_FEATURES} | own

    @cached_property
    def cars(self) -> Mapping[str, tuple[Fitment, ...]]:
        """Car name → its fitments, in file order."""
        rows: dict[str, list[Fitment]] = {}
        for fitment in self.fitments:
            rows.setdefault(fitment.car, []).append(fitment)
        return {car: tuple(found) for car, found in rows.items()}

    def pattern(self, identifier: str) -> Pattern:
        """The pattern called ``identifier``; raises UnknownNameError with near names."""
        place = self.index.get(identifier)
        if place is None:
            raise UnknownNameError(
                f"The catalogue has no pattern {identifier!r}.",
                did_you_mean(identifier, self.index),
            )
        return self.patterns[place]

    def fitments_of(self, car: str, engine: str | None, year: int | None) -> tuple[Fitment, ...]:
        """The rows for a stated car; nothing is guessed when a name or year is not listed."""
        rows = _same_name(car, self.cars)
        if rows is None:
            raise UnknownNameError(
                f"The catalogue has no car {car!r}.",
                did_you_mean(car, self.cars)
                or "List its cars with: carbpair catalogue check FILE --list",
            )
        if engine is not None:
            by_engine: dict[str, list[Fitment]] = {}
            for row in rows:
                by_engine.setdefault(row.engine, []).append(row)
            found = _same_name(engine, by_engine)
            if found is None:
                raise UnknownNameError(
                    f"The catalogue has no engine {engine!r} for {rows[0].car}.",
                    did_you_mean(engine, by_engine),
                )
            rows = tuple(found)
        if year is not None:
            dated = tuple(row for row in rows if row.covers(year))
            if not dated:
                listed = "; ".join(row.words for row in rows)
                raise UnknownNameError(
                    f"The catalogue has no fitment for {rows[0].car} in {year}.",
                    f"Listed: {listed}.",
                )
            rows = dated
        return tuple(rows)


def _same_name(name: str, held: Mapping[str, Sequence[Fitment]]) -> tuple[Fitment, ...] | None:
    """The rows of every spelling of ``name`` that differs only in case or spaces."""
    wanted = " ".join(name.split()).casefold()
    rows = [
        row
        for key, found in held.items()
        if " ".join(key.split()).casefold() == wanted
        for row in found
    ]
    return tuple(rows) or None
