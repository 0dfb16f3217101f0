"""Facts that do not go together, and photo readings that a hand check overrules."""

from __future__ import annotations

from itertools import combinations

from carbpair.geometry.hole_layout import COUNT_OF
from carbpair.identify.catalogue import Catalogue
from carbpair.identify.fact import CaseFacts
from carbpair.identify.feature import SIDES_OF_LAYOUT
from carbpair.identify.pattern import Pattern
from carbpair.identify.reading import UNSEEN, CarbReading, PairReading
from carbpair.identify.tag import match_tag


def disputes(reading: PairReading, facts: CaseFacts) -> tuple[str, ...]:
    """Sentences for photos that cannot be of one pair; a hand check settles a feature."""
    return tuple(
        dispute.words()
        for dispute in reading.disputes
        if facts.finding(dispute.feature, dispute.position) is None
        and not (dispute.feature == "bowl_side" and facts.finding("bowl_layout") is not None)
    )


def tags_of_two_patterns(facts: CaseFacts, catalogue: Catalogue) -> tuple[str, ...]:
    """A sentence for two tags whose numbers no one pattern has."""
    listed = [(tag.text, match_tag(tag.text, catalogue).listed) for tag in facts.tags]
    known = [(text, names) for text, names in listed if names]
    for (one, names), (two, others) in combinations(known, 2):
        if not set(names) & set(others):
            return (
                f"Tag {one!r} is listed for {', '.join(names)}, tag {two!r} for "
                f"{', '.join(others)}. A tag was moved, or the two carburettors are of two "
                "patterns: compare needles, jets and castings.",
            )
    return ()


def contradictions(facts: CaseFacts, catalogue: Catalogue) -> tuple[str, ...]:
    """Sentences for confirmed facts that no pattern has together, or that a tag denies."""
    stated = [
        fact for fact in facts.confirmed if fact.feature in {*catalogue.features, "bowl_side"}
    ]
    found = []
    matched = all(fact.position is None for fact in stated)
    if stated and matched and not any(_has_all(p, facts, catalogue) for p in catalogue.patterns):
        together = ", ".join(f"{fact.key}={fact.value}" for fact in stated)
        found.append(
            f"No pattern in the catalogue has all of: {together}. One may be wrong, or the pair "
            "is of another source: look again."
        )
    for tag in facts.tags:
        for identifier in match_tag(tag.text, catalogue).listed:
            pattern = catalogue.pattern(identifier)
            for fact in stated:
                value = pattern.value(
                    "bowl_layout" if fact.feature == "bowl_side" else fact.feature
                )
                if value is None or _agrees(fact.feature, fact.value, value):
                    continue
                if fact.position is not None and fact.position != tag.position:
                    continue
                found.append(
                    f"Tag {tag.text!r} is listed for {identifier}, whose "
                    f"{fact.feature.replace('_', ' ')} is {value}; {fact.key}={fact.value} was "
                    "confirmed. The tag may have been moved, or one of them misread."
                )
    return tuple(found)


def set_aside(reading: PairReading, facts: CaseFacts) -> PairReading:
    """The reading without what a person confirmed: the hand check counts, once."""
    return PairReading(
        _without(reading.left, facts, "left"),
        _without(reading.right, facts, "right"),
        reading.photos,
        reading.advice,
        reading.disputes,
    )


def _without(carb: CarbReading | None, facts: CaseFacts, position: str) -> CarbReading | None:
    if carb is None:
        return None
    labels = dict(carb.labels)
    for name in ("chamber", "flange_holes", "hole_layout", "bowl_side"):
        if facts.finding(name, position) is not None:
            labels[name] = UNSEEN
    holes, lies = facts.finding("flange_holes", position), carb.label("hole_layout").value
    if holes is not None and lies is not None and str(COUNT_OF.get(lies)) != holes:
        labels["hole_layout"] = UNSEEN  # it is that of the wrong count
    if facts.finding("bowl_layout") is not None:
        labels["bowl_side"] = UNSEEN
    return CarbReading(labels, carb.bearing)


def _has_all(pattern: Pattern, facts: CaseFacts, catalogue: Catalogue) -> bool:
    for fact in facts.confirmed:
        if fact.feature not in {*catalogue.features, "bowl_side"}:
            continue
        value = pattern.value("bowl_layout" if fact.feature == "bowl_side" else fact.feature)
        if value is not None and not _agrees(fact.feature, fact.value, value):
            return False
    return True


def _agrees(feature: str, stated: str, held: str) -> bool:
    if feature == "bowl_side":
        return any(stated in pair for pair in SIDES_OF_LAYOUT[held])
    if feature == "return_spring" and stated == "none_seen":
        # A spring that is missing says nothing about where it belongs.
        return True
    return stated == held
