from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from carbpair.identify.many_values import ManyValues


@pytest.mark.parametrize(
    ("line", "before", "after"),
    [
        ("--before a b --after c d", ["a", "b"], ["c", "d"]),
        ("--after c d --before a --n 3", ["a"], ["c", "d"]),
        ("--before=a b --after=c", ["a", "b"], ["c"]),
        ("--n 3 --after c --after d -", [], ["c", "d", "-"]),
    ],
)
def test_words_go_to_the_option_before_them(line: str, before: list, after: list) -> None:
    app = typer.Typer()
    got: list = []

    @app.command(cls=ManyValues)
    def run(
        before: Annotated[list[str] | None, typer.Option()] = None,
        after: Annotated[list[str] | None, typer.Option()] = None,
        n: int = 0,
    ) -> None:
        got.append((before or [], after or []))

    result = CliRunner().invoke(app, line.split())
    assert result.exit_code == 0, result.output
    assert got == [(before, after)]
