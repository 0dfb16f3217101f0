"""The identification's own sentences in the reader's language.

They come as finished English text, since the command line and the API give them so. Whole texts
are looked up in the catalogue; composed ones are taken apart by the templates below, whose parts
are looked up in turn. What is in no catalogue stays English and is said to be.
"""

import re
from collections.abc import Callable, Mapping
from functools import lru_cache

from carbpair.http.words import n_

Lookup = Callable[[str], str]

# Placeholders by the start of their name: numbers and names stay as they are, lists of names too
# but for what joins them; "maybe" is translated where it can be, piece by piece; all others must
# be known or the template does not fit.
KINDS: Mapping[str, str] = {
    "number": r"[-+−]?\d[\d.,–]* ?[%°]?",
    "name": r".+?",
    "list": r".+?",
    "maybe": r".+?",
    "side": r"left|right",
    "place": r"front|rear",
    "feature": "flange holes|hole layout|bowl side|bowl layout|float bowl layout|chamber|"
    "mark bearing|mark verdict|choke linkage|return spring|heat shield|hole thread|filter fitted|"
    "tag|mark",
    "text": r".+",
}
AS_THEY_ARE = ("number", "name")
TEMPLATES: tuple[str, ...] = (
    # The answer
    n_("One of %(list)s (probability %(number)s together), which cannot be told apart so far. "
       "%(text)s"),
    n_("Probably none of the catalogue's patterns (probability %(number)s). %(text)s"),
    n_("Probably left and right of two different patterns (probability %(number)s). %(text)s"),
    n_("No answer: naming one would be wrong more often than %(number)s. Most likely so far: "
       "%(maybe)s (probability %(number_b)s)."),
    n_("No answer yet: a pair from elsewhere could by chance share all that was seen of %(name)s "
       "(probability %(number)s). The tags or a hand check tell."),
    n_("%(name)s (probability %(number)s). %(text)s"),
    # Contradictions
    n_("Tag %(name)s is listed for %(name_b)s, tag %(name_c)s for %(name_d)s. A tag was moved, or "
       "the two carburettors are of two patterns: compare needles, jets and castings."),
    n_("No pattern in the catalogue has all of: %(name)s. One may be wrong, or the pair is of "
       "another source: look again."),
    n_("Tag %(name)s is listed for %(name_b)s, whose %(feature)s is %(text)s; %(name_c)s was "
       "confirmed. The tag may have been moved, or one of them misread."),
    n_("Left and right differ in %(text)s: another photo shows whether they really do."),
    n_("The %(side)s carburettor's %(feature)s reads %(name)s in %(name_b)s and "
       "%(name_c)s in %(name_d)s: these photos seem to show more than one pair. Inspect "
       "one pair at a time, or confirm the feature by hand."),
    # What cannot be told apart
    n_("No photo can tell %(list)s apart. What does: %(maybe)s."),
    n_("These photos cannot tell %(list)s apart: not seen: %(text)s. By hand: %(maybe)s."),
    # Reasons
    n_("confirmed by hand: %(side)s.%(feature)s %(text)s"),
    n_("confirmed by hand: %(feature)s %(text)s"),
    n_("stated car: %(name)s"),
    n_("tag %(name)s is listed for %(name_b)s"),
    n_("tag %(name)s is not listed, but follows the format of %(name_b)s"),
    n_("tag %(name)s is not in the catalogue; listed numbers like it: %(name_b)s"),
    n_("tag %(name)s is not in the catalogue"),
    n_("%(side)s %(feature)s %(text)s, read from photos, probability %(number)s"),
    n_("%(side)s %(feature)s %(text)s, confirmed by hand"),
    n_("%(feature)s left %(text)s, right %(text_b)s"),
    n_("%(feature)s left %(text)s"),
    n_("%(feature)s right %(text)s"),
    n_("left %(text)s, right %(text_b)s"),
    n_("%(text)s (unsure)"),
    # Checks and photos
    n_("Tells the remaining candidates apart: %(number)s bits expected."),
    n_("It would show %(text)s: about %(number)s bits less doubt."),
    n_("One of: %(name)s."),
    # Deviations and the mark
    n_("Bowls are on the wrong side for %(text)s"),
    n_("Flange has another number of bolt holes than %(text)s should have"),
    n_("Bolt holes of the flange lie otherwise than %(text)s should have them"),
    n_("Tag belongs to another pattern than %(text)s should have"),
    n_("Probably a pair from another model, such as the %(list)s."),
    n_("%(text)s, within %(number)s"),
    n_("at %(number)s"),
    n_("%(number)s off: %(text)s"),
    n_("bearing %(text)s"),
    n_("the interval straddles the limit: %(text)s"),
    n_("%(number)s (90 % interval %(number_b)s to %(number_c)s)"),
    n_("the same %(feature)s on both"),
    n_("same %(feature)s on both"),
    n_("%(side)s %(feature)s: not seen (%(text)s)"),
    n_("%(side)s %(feature)s: not seen"),
    n_("%(side)s alignment mark: %(text)s"),
    n_("%(text)s; before the work %(number)s"),
    n_("pattern %(name)s"),
    n_("two of a %(place)s one: %(name)s"),
    n_("on this car the front carburettor is the %(side)s one, seen facing the air intakes"),
    n_("tag %(name)s of %(name_b)s"),
    n_("%(name)s of %(name_b)s"),
    n_("on the %(side)s carburettor"),
    n_("tag %(name)s (%(place)s) on the %(side)s carburettor"),
    # What was stated but cannot be used
    n_("The catalogue has no fitment for %(name)s."),
    n_("Listed: %(name)s."),
    n_("Did you mean %(name)s?"),
    n_("Known: %(name)s."),
    n_("Spindle play is excessive on the %(side)s carburettor only."),
    n_("The catalogue lists no %(name)s kit for this pattern."),
    n_("%(side)s %(text)s"),
)  # fmt: skip
# What joins pieces of a text, and what joins names.
JOINERS = ("; ", ": ", ", ", n_(" or "), n_(" and "))
NAME_JOINERS = (n_(" or the "), n_(" or "), n_(" and "))


def translated(text: str, lookup: Lookup) -> str | None:
    """Return `text` in the catalogue's language; None where it, or a part of it, is unknown."""
    if not any(character.isalpha() for character in text):
        return text
    whole = lookup(text)
    if whole != text or not any(character.isspace() for character in text):
        return whole  # a single unknown word is a name or a number
    for template, pattern in _patterns():
        fits = pattern.fullmatch(text)
        if fits is None or lookup(template) == template:
            continue
        parts: dict[str, str | None] = {
            name: _part(name, value, lookup) for name, value in fits.groupdict().items()
        }
        if None not in parts.values():
            return _filled(lookup(template), parts)
    for joiner in JOINERS:
        pieces = text.split(joiner)
        if len(pieces) > 1:
            known = [translated(piece, lookup) for piece in pieces]
            if None not in known:
                return lookup(joiner).join(str(piece) for piece in known)
    return None


def _part(name: str, value: str, lookup: Lookup) -> str | None:
    if name.startswith(AS_THEY_ARE):
        return value
    if name.startswith("list"):
        for joiner in NAME_JOINERS:
            value = value.replace(joiner, lookup(joiner))
        return value
    if name.startswith("maybe"):
        return ", ".join(translated(piece, lookup) or piece for piece in value.split(", "))
    return translated(value, lookup)


def _filled(template: str, parts: Mapping[str, str | None]) -> str:
    # Not the % operator: "90 % interval" holds a percent sign of its own.
    return re.sub(r"%\((\w+)\)s", lambda hit: str(parts[hit.group(1)]), template)


@lru_cache(maxsize=1)
def _patterns() -> list[tuple[str, re.Pattern[str]]]:
    found = []
    for template in TEMPLATES:
        pieces = re.split(r"%\((\w+)\)s", template)
        for index, piece in enumerate(pieces):
            if index % 2:
                kind = next(shape for start, shape in KINDS.items() if piece.startswith(start))
                pieces[index] = f"(?P<{piece}>{kind})"
            else:
                pieces[index] = re.escape(piece)
        found.append((template, re.compile("".join(pieces), re.DOTALL)))
    return found
