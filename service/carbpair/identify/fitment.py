"""A fitment: which pattern the maker put on which car."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass

from carbpair.identify.pattern import STRICT, Identifier, Text

Year = Annotated[int, Field(strict=True, ge=1885, le=2100)]


@dataclass(frozen=True, slots=True, config=STRICT)
class Fitment:
    """One row of the fitment list; ``years`` is first and last model year, both included.

    ``front_carb`` says which carburettor, left or right as seen facing the air intakes,
    sits nearer the front of the car; without it a front/rear swap cannot be told.
    """

    car: Text
    engine: Text
    pattern: Identifier
    years: Annotated[list[Year], Field(min_length=2, max_length=2)] | None = None
    market: Text | None = None
    front_carb: Literal["left", "right"] | None = None

    def covers(self, year: int) -> bool:
        """Whether ``year`` lies in the model years (a row without years covers all)."""
        return self.years is None or self.years[0] <= year <= self.years[1]

    @property
    def words(self) -> str:
        """The fitment in one line."""
        years = "" if self.years is None else f" {self.years[0]}–{self.years[1]}"
        market = "" if self.market is None else f" ({self.market})"
        return f"{self.car}, {self.engine}{years}{market}"
