"""Hand checks, as written in data/checks.toml."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from carbpair.identify.pattern import Pattern


@dataclass(frozen=True)
class Check:
    """One check.

    ``feature`` is the pattern feature that it settles, None for condition checks;
    ``chamber`` and ``compensator`` limit it to patterns that have them.
    """

    id: str
    kind: str
    title: str
    tools: tuple[str, ...]
    how: tuple[str, ...]
    good: str
    minutes: float
    caution: str
    feature: str | None = None
    chamber: str | None = None
    compensator: bool = False

    def applies_to(self, pattern: Pattern) -> bool:
        """Whether ``pattern`` has the part that is checked."""
        if self.chamber is not None and pattern.chamber != self.chamber:
            return False
        return not self.compensator or bool(pattern.temperature_compensator)


@cache
def checks() -> dict[str, Check]:
    """Every check by id, in file order."""
    held = _file()
    return {
        row["id"]: Check(
            row["id"],
            row["kind"],
            row["title"],
            tuple(row["tools"]),
            tuple(row["how"]),
            row["good"],
            float(row["minutes"]),
            row["caution"],
            row.get("feature"),
            row.get("chamber"),
            row.get("compensator", False),
        )
        for row in held["check"]
    }


@cache
def cautions() -> tuple[str, ...]:
    """Safety cautions, shown before any check."""
    return tuple(_file()["safety"]["lines"])


@cache
def safety_title() -> str:
    """Heading of the cautions."""
    return str(_file()["safety"]["title"])


@cache
def _file() -> dict[str, Any]:
    file = resources.files("carbpair.identify") / "data" / "checks.toml"
    return tomllib.loads(file.read_text(encoding="utf-8"))
