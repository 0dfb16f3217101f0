"""An option that takes all the words up to the next option: ``--before A B --after C``."""

from typing import Any

import typer.core


class ManyValues(typer.core.TyperCommand):
    """Repeats an option in ``many`` before each further word that follows it."""

    many = ("--before", "--after")

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Spread the words over repeated options, then parse as usual."""
        spread: list[str] = []
        current: str | None = None
        taken = 0
        for word in args:
            name = word.split("=", 1)[0]
            if word.startswith("-") and word != "-":
                current = name if name in self.many else None
                taken = 1 if "=" in word else 0
                spread.append(word)
            elif current is not None and taken:
                spread += [current, word]
            else:
                # The word after any other option is that option's own value.
                taken = 1
                spread.append(word)
        return super().parse_args(ctx, spread)
