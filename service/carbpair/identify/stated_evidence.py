"""Evidence from what a person checked by hand: confirmed facts and tag text."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.evidence import Evidence, log
from carbpair.identify.fact import CaseFacts, Confirmation
from carbpair.identify.feature import BOWL_LAYOUTS, SIDES_OF_LAYOUT
from carbpair.identify.pattern_table import PatternTable, log_over_patterns
from carbpair.identify.tag import TagMatch, match_tag

HAND_ERROR = 0.02
"""Share of hand checks that are wrong. A judgement, no source."""

# What a tag shows, given the pattern it was fixed to. Judgements, no source: tags are moved
# between carburettors, worn, and copied wrongly.
LISTED_OWN = 0.80
FORMAT_OWN = 0.17
LISTED_OTHERS = 0.01
FORMAT_OTHERS = 0.01
NOTHING_KNOWN = 0.01
OTHER_SOURCE = {"listed": 0.01, "format": 0.05, "nothing": 0.94}

Vector = npt.NDArray[np.float64]


def confirmed_evidence(
    facts: CaseFacts, table: PatternTable, catalogue: Catalogue
) -> list[Evidence]:
    """One item per confirmed fact that patterns differ in."""
    found = []
    for fact in facts.confirmed:
        if fact.feature == "bowl_side":
            found.append(_bowl_side(fact, table))
        elif fact.feature in catalogue.features:
            values = table.values[fact.feature]
            hand = _hand(values, fact.value)
            whole = log_over_patterns(table.codes[fact.feature], hand)
            found.append(_item(fact, whole))
    return found


def tag_evidence(facts: CaseFacts, table: PatternTable, catalogue: Catalogue) -> list[Evidence]:
    """One item per tag text. The first tag without a position is taken as the left's."""
    found = []
    free = [side for side in ("left", "right") if all(t.position != side for t in facts.tags)]
    for tag in facts.tags:
        match = match_tag(tag.text, catalogue)
        vector = log(_tag_likelihood(match, table))
        side = tag.position or (free.pop(0) if free else "left")
        zero = np.zeros_like(vector)
        found.append(
            Evidence(
                "tag",
                "tag",
                f"tag {tag.text!r} {_tag_words(match)}",
                vector,
                vector if side == "left" else zero,
                vector if side == "right" else zero,
            )
        )
    return found


def _hand(values: tuple[str, ...], value: str) -> Vector:
    likelihood = np.full(len(values), HAND_ERROR / max(len(values) - 1, 1))
    likelihood[values.index(value)] = 1.0 - HAND_ERROR
    return likelihood


def _item(fact: Confirmation, vector: Vector) -> Evidence:
    zero = np.zeros_like(vector)
    return Evidence(
        fact.feature,
        "confirmed",
        f"confirmed by hand: {fact.key.replace('_', ' ')} {fact.value}",
        vector,
        vector if fact.position in {None, "left"} else zero,
        vector if fact.position in {None, "right"} else zero,
    )


def _bowl_side(fact: Confirmation, table: PatternTable) -> Evidence:
    """A confirmed bowl side, of one carburettor or of both."""

    def chance(side: str) -> float:
        return 1.0 - HAND_ERROR if side == fact.value else HAND_ERROR / 2.0

    sides = {
        carb: np.array(
            [np.mean([chance(pair[carb]) for pair in SIDES_OF_LAYOUT[x]]) for x in BOWL_LAYOUTS]
        )
        for carb in (0, 1)
    }
    both = np.array(
        [
            np.mean([chance(a) * chance(b) for a, b in SIDES_OF_LAYOUT[layout]])
            for layout in BOWL_LAYOUTS
        ]
    )
    codes = table.codes["bowl_layout"]
    left, right, pair = (
        log_over_patterns(codes, likelihood) for likelihood in (sides[0], sides[1], both)
    )
    whole = {"left": left, "right": right, None: pair}[fact.position]
    zero = np.zeros_like(left)
    return Evidence(
        fact.feature,
        "confirmed",
        f"confirmed by hand: {fact.key.replace('_', ' ')} {fact.value}",
        whole,
        left if fact.position in {None, "left"} else zero,
        right if fact.position in {None, "right"} else zero,
    )


def _tag_likelihood(match: TagMatch, table: PatternTable) -> Vector:
    """P(tag text | pattern), patterns then "other"."""
    kind = "listed" if match.listed else "format" if match.formatted else "nothing"
    others = {"listed": LISTED_OTHERS, "format": FORMAT_OTHERS, "nothing": NOTHING_KNOWN}[kind]
    likelihood = np.full(len(table.ids) + 1, others)
    own = match.listed or match.formatted
    for identifier in own:
        likelihood[table.index[identifier]] = LISTED_OWN if match.listed else FORMAT_OWN
    likelihood[-1] = OTHER_SOURCE[kind]
    return likelihood


def _tag_words(match: TagMatch) -> str:
    if match.listed:
        return f"is listed for {', '.join(match.listed)}"
    if match.formatted:
        return f"is not listed, but follows the format of {', '.join(match.formatted)}"
    hint = f"; listed numbers like it: {', '.join(match.near)}" if match.near else ""
    return f"is not in the catalogue{hint}"
