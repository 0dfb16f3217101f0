"""Patterns that cannot be told apart, and what would tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.pattern import Mark, Pattern

PHOTO_FEATURES = ("chamber", "flange_holes", "hole_layout", "bowl_layout", "mark")
SMALLEST_SHARE = 0.01
"""Candidates below this are not worth a sentence."""


@dataclass(frozen=True)
class Inseparable:
    """A group of candidates that look alike.

    ``reason``: "no_photo_can" (they are equal in everything that a photo shows) or
    "not_with_these_photos" (they differ in ``needed``, which was not seen).
    ``separated_by``: what a hand check finds different.
    """

    ids: tuple[str, ...]
    reason: str
    needed: tuple[str, ...]
    separated_by: tuple[str, ...]
    text: str


def photo_signature(pattern: Pattern, features: Sequence[str]) -> tuple[object, ...]:
    """The pattern's values of those ``features`` that photos show."""
    values: list[object] = []
    for feature in features:
        if feature == "mark":
            mark = pattern.mark
            values.append(mark.bearing_deg if isinstance(mark, Mark) else mark)
        else:
            values.append(pattern.value(feature))
    return tuple(values)


def inseparable_groups(
    catalogue: Catalogue, shares: dict[str, float], seen: Sequence[str], settled: Sequence[str]
) -> tuple[Inseparable, ...]:
    """Groups among the candidates with a share worth naming.

    ``shares``: pattern id → probability. ``seen``: photo features that were read.
    ``settled``: features that were confirmed by hand, "tag" among them.
    """
    kept = [p for p in catalogue.patterns if shares.get(p.id, 0.0) >= SMALLEST_SHARE]
    found = []
    named: set[frozenset[str]] = set()
    for reason, features in (
        ("no_photo_can", PHOTO_FEATURES),
        ("not_with_these_photos", tuple(f for f in PHOTO_FEATURES if f in seen)),
    ):
        groups: dict[tuple[object, ...], list[Pattern]] = {}
        for pattern in kept:
            settled_values = tuple(
                _tag_key(pattern) if f == "tag" else pattern.value(f) for f in settled
            )
            key = (*photo_signature(pattern, features), *settled_values)
            groups.setdefault(key, []).append(pattern)
        for members in groups.values():
            ids = frozenset(pattern.id for pattern in members)
            if len(members) > 1 and ids not in named:
                named.add(ids)
                found.append(_group(catalogue, members, reason))
    return tuple(found)


def _tag_key(pattern: Pattern) -> object:
    """A tag that was read splits every group whose members list different numbers."""
    return tuple(tag.number for tag in pattern.tag) or None


def _group(catalogue: Catalogue, members: list[Pattern], reason: str) -> Inseparable:
    needed = _differing(members, PHOTO_FEATURES)
    hand = tuple(
        feature
        for feature in catalogue.features
        if feature not in PHOTO_FEATURES
        and len({pattern.value(feature) for pattern in members}) > 1
    )
    if any(
        {tag.number for tag in a.tag} != {tag.number for tag in b.tag}
        or a.tag_formats != b.tag_formats
        for a, b in combinations(members, 2)
    ):
        hand = (*hand, "tag")
    names = " and ".join(pattern.id for pattern in members)
    by = ", ".join(name.replace("_", " ") for name in hand) or "nothing that the catalogue holds"
    if reason == "no_photo_can":
        text = f"No photo can tell {names} apart. What does: {by}."
    else:
        views = ", ".join(name.replace("_", " ") for name in needed)
        text = f"These photos cannot tell {names} apart: not seen: {views}. By hand: {by}."
    ids = tuple(pattern.id for pattern in members)
    return Inseparable(ids, reason, needed, hand, text)


def _differing(members: list[Pattern], features: Sequence[str]) -> tuple[str, ...]:
    return tuple(f for f in features if len({photo_signature(p, (f,)) for p in members}) > 1)
