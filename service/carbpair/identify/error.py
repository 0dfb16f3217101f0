"""Errors that a person can act on: what is wrong and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass


class IdentifyError(ValueError):
    """Base of every refusal made by this package.

    ``message`` says what is wrong, ``remedy`` what to do; ``str()`` joins them.
    """

    kind = "identify_error"

    def __init__(self, message: str, remedy: str = "") -> None:
        self.message = message
        self.remedy = remedy
        super().__init__(f"{message} {remedy}".strip())


class UnknownNameError(IdentifyError):
    """A car, engine, feature, value, symptom or pattern that the catalogue does not hold."""

    kind = "unknown_name"


class ContradictionError(IdentifyError):
    """The same fact was stated twice with different values."""

    kind = "contradiction"


class BadInputError(IdentifyError):
    """A features file, confusion file or fact that cannot be read."""

    kind = "bad_input"


@dataclass(frozen=True)
class CatalogueProblem:
    """One finding in a catalogue file; ``line`` is 1-based, None when it has no place."""

    line: int | None
    where: str
    message: str

    def __str__(self) -> str:
        place = f"line {self.line}: " if self.line is not None else ""
        subject = f"{self.where}: " if self.where else ""
        return f"{place}{subject}{self.message}"


class CatalogueError(IdentifyError):
    """A catalogue that cannot be used; ``problems`` lists every finding in file order."""

    kind = "bad_catalogue"

    def __init__(self, name: str, problems: tuple[CatalogueProblem, ...]) -> None:
        self.name = name
        self.problems = problems
        count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
        lines = "\n".join(f"  {problem}" for problem in problems)
        super().__init__(
            f"{name}: {count} in the catalogue:\n{lines}\n",
            "Correct the lines named above and check again with: carbpair catalogue check FILE",
        )
