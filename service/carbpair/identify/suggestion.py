"""Nearest valid name for a mistyped one, so that a refusal carries its own remedy."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

CUTOFF = 0.55
"""Similarity (difflib ratio) below which no name is offered: a far guess misleads."""


def nearest(word: str, names: Iterable[str], count: int = 3) -> tuple[str, ...]:
    """Up to ``count`` of ``names`` that resemble ``word``, best first, ignoring case."""
    by_folded: dict[str, str] = {}
    for name in names:
        by_folded.setdefault(name.casefold(), name)
    found = get_close_matches(word.casefold(), by_folded, n=count, cutoff=CUTOFF)
    return tuple(by_folded[folded] for folded in found)


def did_you_mean(word: str, names: Iterable[str], count: int = 3) -> str:
    """A sentence that offers the nearest names, or lists all of a short set."""
    known = list(dict.fromkeys(names))
    close = nearest(word, known, count)
    if close:
        return f"Did you mean {' or '.join(repr(name) for name in close)}?"
    if 0 < len(known) <= 12:
        return f"Known: {', '.join(known)}."
    return ""
