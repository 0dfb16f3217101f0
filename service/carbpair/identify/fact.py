"""What a person states about the case: car, engine, tags, facts confirmed by hand, symptoms."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.error import BadInputError, ContradictionError, UnknownNameError
from carbpair.identify.feature import BOWL_SIDES, CARB_POSITIONS
from carbpair.identify.suggestion import did_you_mean

FINDINGS: dict[str, tuple[str, ...]] = {
    "bowl_side": BOWL_SIDES,
    "mark_verdict": ("faces_intake", "turned"),
    "heat_shield": ("true", "false"),
    "spindle_play": ("within", "excess"),
}
"""Hand findings beside the pattern's own features, and their values."""

PER_CARB = {
    "chamber", "flange_holes", "hole_layout", "bowl_side", "mark_verdict", "spindle_play",
}  # fmt: skip
_YES = {"yes": "true", "no": "false", "fitted": "true", "missing": "false"}


@dataclass(frozen=True)
class TagText:
    """Text read off a tag; ``position`` left or right as seen facing the intakes, or None."""

    text: str
    position: str | None = None


@dataclass(frozen=True)
class Confirmation:
    """A fact checked by hand; ``position`` None means both carburettors."""

    feature: str
    value: str
    position: str | None = None

    @property
    def key(self) -> str:
        """The feature's name with its carburettor, as typed."""
        return self.feature if self.position is None else f"{self.position}.{self.feature}"


@dataclass(frozen=True)
class CaseFacts:
    """Everything that the sender and the workshop stated."""

    car: str | None = None
    engine: str | None = None
    year: int | None = None
    tags: tuple[TagText, ...] = ()
    confirmed: tuple[Confirmation, ...] = ()
    symptoms: tuple[str, ...] = ()

    @classmethod
    def from_dict(cls, held: Mapping[str, Any]) -> CaseFacts:
        """From plain JSON: car, engine, year, tags, confirmed, symptoms; all may be absent.

        ``tags``: texts, "left:TEXT", or {"text", "position"}. ``confirmed``: a table
        feature → value, or a list of "feature=value"; "left.feature" for one carburettor.
        """
        unknown = set(held) - {"car", "engine", "year", "tags", "confirmed", "symptoms"}
        if unknown:
            name = sorted(unknown)[0]
            raise BadInputError(
                f"Unknown fact {name!r}.",
                did_you_mean(name, ["car", "engine", "year", "tags", "confirmed", "symptoms"]),
            )
        stated = held.get("confirmed") or ()
        pairs = (
            [f"{key}={_plain(value)}" for key, value in stated.items()]
            if isinstance(stated, Mapping)
            else [str(item) for item in stated]
        )
        year = held.get("year")
        if year is not None and (isinstance(year, bool) or not isinstance(year, int)):
            raise BadInputError(
                f"The year {year!r} is not a whole number.", "Say for example 1968."
            )
        return cls(
            car=_text(held.get("car")),
            engine=_text(held.get("engine")),
            year=year,
            tags=tuple(parse_tag(tag) for tag in held.get("tags") or ()),
            confirmed=tuple(parse_confirmation(pair) for pair in pairs),
            symptoms=tuple(str(symptom) for symptom in held.get("symptoms") or ()),
        )

    @property
    def settled(self) -> frozenset[str]:
        """Features that were confirmed for both carburettors; "tag" with two tag texts.

        Named as the catalogue names them: a bowl side on both settles the layout, a mark
        verdict on both the mark.
        """
        alias = {"bowl_side": "bowl_layout", "mark_verdict": "mark"}
        places: dict[str, set[str | None]] = {}
        for fact in self.confirmed:
            places.setdefault(fact.feature, set()).add(fact.position)
        both = {
            name for name, held in places.items() if None in held or held >= set(CARB_POSITIONS)
        }
        tag = {"tag"} if len(self.tags) >= len(CARB_POSITIONS) else set()
        return frozenset({alias.get(name, name) for name in both} | tag)

    def finding(self, feature: str, position: str | None = None) -> str | None:
        """The confirmed value of ``feature``, for one carburettor or for the pair."""
        for fact in self.confirmed:
            if fact.feature == feature and fact.position in {None, position}:
                return fact.value
        return None


def parse_tag(held: str | Mapping[str, Any]) -> TagText:
    """A tag from "TEXT", "left:TEXT" or {"text": …, "position": …}."""
    if isinstance(held, Mapping):
        text, position = str(held.get("text") or ""), held.get("position")
    else:
        before, colon, after = held.partition(":")
        placed = bool(colon) and before.strip().lower() in CARB_POSITIONS
        text, position = (after, before.strip().lower()) if placed else (held, None)
    text = text.strip()
    if not any(character.isalnum() for character in text):
        raise BadInputError(
            "A tag text is empty.", "Give the characters on the tag, or leave the tag out."
        )
    if position not in {None, *CARB_POSITIONS}:
        raise BadInputError(f"Tag position {position!r} is not left or right.", "")
    return TagText(text[:80], position)


def parse_confirmation(text: str) -> Confirmation:
    """A confirmation from "feature=value" or "left.feature=value"."""
    name, equals, value = text.partition("=")
    name, value = name.strip(), value.strip()
    if not equals or not name or not value:
        raise BadInputError(
            f"{text!r} is not a confirmed fact.", "Write feature=value, such as flange_holes=3."
        )
    position: str | None = None
    before, dot, after = name.partition(".")
    if dot and before in CARB_POSITIONS:
        position, name = before, after
    return Confirmation(name, value, position)


def check_facts(facts: CaseFacts, catalogue: Catalogue) -> CaseFacts:
    """The facts with every name and value as the catalogue spells it.

    Raises UnknownNameError for a name or value it does not hold, ContradictionError where
    one fact is stated twice with different values.
    """
    checked = tuple(_check(fact, catalogue) for fact in facts.confirmed)
    _refuse_contradictions(checked)
    _refuse_tag_contradictions(facts.tags)
    if facts.engine is not None and facts.car is None:
        raise BadInputError("An engine was stated without a car.", "State the car as well.")
    return CaseFacts(
        facts.car,
        facts.engine,
        facts.year,
        facts.tags,
        tuple(dict.fromkeys(checked)),
        facts.symptoms,
    )


def _check(fact: Confirmation, catalogue: Catalogue) -> Confirmation:
    known = {name: feature.values for name, feature in catalogue.features.items()} | FINDINGS
    if fact.feature not in known:
        raise UnknownNameError(
            f"{fact.feature!r} is not a feature that can be confirmed.",
            did_you_mean(fact.feature, known),
        )
    if fact.position is not None and fact.feature not in PER_CARB:
        raise BadInputError(
            f"{fact.feature} belongs to the pair, not to one carburettor.",
            f"Write {fact.feature}={fact.value}.",
        )
    values = {value.casefold(): value for value in known[fact.feature]}
    given = fact.value.casefold()
    value = values.get(given, values.get(_YES.get(given, "")))
    if value is None:
        raise UnknownNameError(
            f"{fact.value!r} is not a value of {fact.feature}.",
            did_you_mean(fact.value, known[fact.feature]),
        )
    return Confirmation(fact.feature, value, fact.position)


def _refuse_contradictions(facts: Iterable[Confirmation]) -> None:
    stated: dict[tuple[str, str | None], str] = {}
    for fact in facts:
        places = [fact.position] if fact.position else [None, *CARB_POSITIONS]
        for place in places:
            earlier = stated.get((fact.feature, place))
            if earlier is not None and earlier != fact.value:
                raise ContradictionError(
                    f"{fact.key} is stated twice: {earlier} and {fact.value}.",
                    "Look again and state it once. Where the two carburettors differ, write "
                    f"left.{fact.feature}=… and right.{fact.feature}=…."
                    if fact.feature in PER_CARB
                    else "Look again and state it once.",
                )
            stated[(fact.feature, place)] = fact.value
    layout = stated.get(("bowl_layout", None))
    sides = (stated.get(("bowl_side", "left")), stated.get(("bowl_side", "right")))
    if layout in {"inboard", "outboard", "none"} and any(
        side not in {None, layout} for side in sides
    ):
        raise ContradictionError(
            f"bowl_layout is stated as {layout}, but a bowl_side differs.",
            "Look again and state only one of them.",
        )


def _refuse_tag_contradictions(tags: Iterable[TagText]) -> None:
    placed: dict[str, str] = {}
    for tag in tags:
        if tag.position is None:
            continue
        if placed.setdefault(tag.position, tag.text) != tag.text:
            raise ContradictionError(
                f"Two tag texts are stated for the {tag.position} carburettor: "
                f"{placed[tag.position]!r} and {tag.text!r}.",
                "State one for each carburettor.",
            )


def _plain(value: Any) -> str:
    return ("true" if value else "false") if isinstance(value, bool) else str(value)


def _text(value: Any) -> str | None:
    text = "" if value is None else " ".join(str(value).split())
    return text or None
