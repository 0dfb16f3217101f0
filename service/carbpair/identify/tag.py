"""Text on a float-bowl tag: how it is compared and what a match is worth."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.suggestion import nearest

_MASK_CHARACTERS = {"#": r"\d", "@": "[A-Z]", "?": "[A-Z0-9]", "*": "[A-Z0-9]*"}


def normalise_tag(text: str) -> str:
    """Upper case, letters and digits only: spaces and dashes are worn or added at will."""
    return re.sub(r"[^A-Z0-9]", "", text.upper())


def mask_problem(mask: str) -> str | None:
    """What is wrong with a tag format, or None. # digit, @ letter, ? either, * any number."""
    stray = sorted(set(re.sub(r"[A-Za-z0-9 #@?*./-]", "", mask)))
    if stray:
        return f"tag format {mask!r} holds {' '.join(stray)}; use letters, digits and # @ ? *"
    if not re.search(r"[#@?A-Za-z0-9]", mask):
        return f"tag format {mask!r} would match anything; give it letters or digits"
    return None


@cache
def _expression(mask: str) -> re.Pattern[str]:
    parts = []
    for character in mask.upper():
        if character in _MASK_CHARACTERS:
            parts.append(_MASK_CHARACTERS[character])
        elif character.isalnum():
            parts.append(character)
    return re.compile("".join(parts))


@dataclass(frozen=True)
class TagMatch:
    """What one tag text says.

    ``listed`` and ``formatted`` hold pattern ids: those that list the number and those
    whose format it follows. ``place`` is the listed number's end of the car.
    ``near`` offers listed numbers that look like it when it is not listed.
    """

    text: str
    listed: tuple[str, ...]
    formatted: tuple[str, ...]
    place: str | None
    near: tuple[str, ...]


def match_tag(text: str, catalogue: Catalogue) -> TagMatch:
    """Compare ``text`` with every number and format in the catalogue."""
    wanted = normalise_tag(text)
    listed: list[str] = []
    formatted: list[str] = []
    numbers: list[str] = []
    place: str | None = None
    for pattern in catalogue.patterns:
        for tag in pattern.tag:
            numbers.append(tag.number)
            if normalise_tag(tag.number) == wanted:
                listed.append(pattern.id)
                place = tag.place
        if any(_expression(mask).fullmatch(wanted) for mask in pattern.tag_formats):
            formatted.append(pattern.id)
    near = () if listed else nearest(text, numbers)
    return TagMatch(text, tuple(dict.fromkeys(listed)), tuple(formatted), place, near)
