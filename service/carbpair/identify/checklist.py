"""What to confirm by hand: safety first, then what settles most for the least effort."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.check import Check, cautions, checks, safety_title
from carbpair.identify.fact import CaseFacts
from carbpair.identify.information import expected_gain_bits
from carbpair.identify.pattern_table import PatternTable, over_patterns
from carbpair.identify.stated_evidence import (
    FORMAT_OWN,
    HAND_ERROR,
    LISTED_OTHERS,
    LISTED_OWN,
    NOTHING_KNOWN,
    OTHER_SOURCE,
)
from carbpair.identify.symptom import triage
from carbpair.identify.thread import gauge_text

WORTH_BITS = 0.01

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class ChecklistItem:
    """One item. ``bits``: expected gain about the pattern, 0 for condition checks.

    ``reason``: safety, separates (tells the candidates apart), unsure (a reader was),
    symptom, or never_in_photos.
    """

    id: str
    reason: str
    title: str
    why: str
    tools: tuple[str, ...]
    how: tuple[str, ...]
    good: str
    minutes: float
    caution: str
    bits: float


def checklist(
    catalogue: Catalogue,
    table: PatternTable,
    shares: Vector,
    facts: CaseFacts,
    unsure: Sequence[str],
    deviations: Sequence[str] = (),
    mixed: float = 0.0,
) -> tuple[ChecklistItem, ...]:
    """The checklist for one case.

    ``shares``: shape (patterns + 1,), posterior of each pattern and of "other source".
    ``unsure``: features whose reader could not say. ``deviations``: kinds found, whose
    checks must be repeated by hand before anything is done about them. ``mixed``: probability
    that left and right are of two patterns, which a check on both can tell.
    """
    settled = facts.settled
    pattern_shares = [float(share) for share in shares[:-1]]
    rows: dict[str, ChecklistItem] = {}
    for check, bits in _by_value(catalogue, table, shares, settled, mixed):
        doubted = check.feature in unsure or _questioned(check, deviations)
        if bits >= WORTH_BITS:
            why = f"Tells the remaining candidates apart: {bits:.2f} bits expected."
            rows[check.id] = _item(check, "separates", why, bits, catalogue, shares)
        elif doubted:
            why = "The photos left this open or show something unexpected: look by hand."
            rows[check.id] = _item(check, "unsure", why, bits, catalogue, shares)
    for point in triage(facts.symptoms, catalogue.patterns, pattern_shares):
        if point.check not in rows:
            check = checks()[point.check]
            rows[check.id] = _item(check, "symptom", point.why, 0.0, catalogue, shares)
    for check in _never_in_photos(catalogue, pattern_shares):
        if check.id not in rows and not {check.feature, check.id} & settled:
            why = "No photo shows this."
            rows[check.id] = _item(check, "never_in_photos", why, 0.0, catalogue, shares)
    return (_safety(), *rows.values())


def _by_value(
    catalogue: Catalogue,
    table: PatternTable,
    shares: Vector,
    settled: frozenset[str],
    mixed: float,
) -> list[tuple[Check, float]]:
    """Open feature checks with their expected gain, best gain per minute first."""
    total = shares / shares.sum()
    open_checks = [c for c in checks().values() if c.feature and c.feature not in settled]
    open_checks += [
        Check(
            feature.name,
            "feature",
            feature.question,
            (),
            (feature.question,),
            f"One of: {', '.join(feature.values)}.",
            feature.minutes,
            "",
            feature.name,
        )
        for feature in catalogue.own_features
        if feature.name not in settled
    ]
    valued = [
        (check, check_gain_bits(str(check.feature), table, catalogue, total, mixed))
        for check in open_checks
    ]
    return sorted(valued, key=lambda pair: -pair[1] / pair[0].minutes)


def check_gain_bits(
    feature: str,
    table: PatternTable,
    catalogue: Catalogue,
    shares: Vector,
    mixed: float = 0.0,
) -> float:
    """Expected gain of one hand check of both carburettors about the pattern, in bits."""
    rows = _tag_outcomes(catalogue) if feature == "tag" else _hand_outcomes(feature, table)
    if mixed <= 0.0:
        return expected_gain_bits(shares, rows)
    # One outcome more: the two differ. Those of a matched pair do by a wrong check only; of a
    # mixed one either may be any of the catalogue's, and they differ unless by chance.
    both = (shares @ rows) * rows.mean(axis=0)
    matched = np.column_stack([rows * (1.0 - HAND_ERROR), np.full(len(rows), HAND_ERROR)])
    outcomes = np.vstack([matched, np.append(both, 1.0 - both.sum())])
    return expected_gain_bits(np.append(shares * (1.0 - mixed), mixed), outcomes)


def _hand_outcomes(feature: str, table: PatternTable) -> Matrix:
    """P(value found | hypothesis), shape (patterns + 1, values), rows sum to 1."""
    count = len(table.values[feature])
    hand = np.full((count, count), HAND_ERROR / (count - 1))
    np.fill_diagonal(hand, 1.0 - HAND_ERROR)
    codes = table.codes[feature]
    return np.stack([over_patterns(codes, column) for column in hand.T], axis=1)


def _tag_outcomes(catalogue: Catalogue) -> Matrix:
    """Tag outcomes: each pattern's own numbers, each set of formats, nothing known."""
    listed = {p.id: n for n, p in enumerate([p for p in catalogue.patterns if p.tag])}
    formats = {
        key: len(listed) + n
        for n, key in enumerate(
            dict.fromkeys(tuple(p.tag_formats) for p in catalogue.patterns if p.tag_formats)
        )
    }
    width = len(listed) + len(formats) + 1
    rows = np.full((len(catalogue.patterns) + 1, width), LISTED_OTHERS / width)
    for number, pattern in enumerate(catalogue.patterns):
        rows[number, -1] = NOTHING_KNOWN
        if pattern.id in listed:
            rows[number, listed[pattern.id]] = LISTED_OWN
        if pattern.tag_formats:
            rows[number, formats[tuple(pattern.tag_formats)]] = FORMAT_OWN
    rows[-1] = OTHER_SOURCE["listed"] / width
    rows[-1, -1] = OTHER_SOURCE["nothing"]
    return np.asarray(rows / rows.sum(axis=1, keepdims=True))


def _never_in_photos(catalogue: Catalogue, shares: Sequence[float]) -> list[Check]:
    """Tags and threads, then every condition check whose part some candidate has."""
    kept = [checks()["tag_numbers"], checks()["hole_thread"]]
    for check in checks().values():
        having = sum(
            share
            for pattern, share in zip(catalogue.patterns, shares, strict=True)
            if check.applies_to(pattern)
        )
        if check.kind == "always" and having > 0.01 * max(sum(shares), 1e-9):
            kept.append(check)
    return kept


def _questioned(check: Check, deviations: Sequence[str]) -> bool:
    return check.id in {name for kind in deviations for name in _CHECKS_OF_DEVIATION.get(kind, ())}


_CHECKS_OF_DEVIATION = {
    "bowls_wrong_side": ("bowl_layout", "tag_numbers"),
    "not_same_pattern": ("tag_numbers", "flange_hole_count", "bowl_layout", "chamber_kind"),
    "flange_holes_differ": ("flange_hole_count", "tag_numbers"),
    "hole_layout_differs": ("flange_hole_layout", "tag_numbers"),
    "diaphragm_for_piston": ("chamber_kind", "tag_numbers"),
    "piston_for_diaphragm": ("chamber_kind", "tag_numbers"),
}


def _item(
    check: Check, reason: str, why: str, bits: float, catalogue: Catalogue, shares: Vector
) -> ChecklistItem:
    good = check.good
    if "{thread}" in good:
        named = dict.fromkeys(
            pattern.hole_thread
            for pattern, share in zip(catalogue.patterns, shares[:-1], strict=True)
            if pattern.hole_thread and share >= 0.05
        )
        good = " Or ".join(gauge_text(thread) for thread in named) or (
            "Write down the thread that was found."
        )
    return ChecklistItem(
        check.id,
        reason,
        check.title,
        why,
        check.tools,
        check.how,
        good,
        check.minutes,
        check.caution,
        bits,
    )


def _safety() -> ChecklistItem:
    return ChecklistItem(
        "safety",
        "safety",
        safety_title(),
        "Before any other item.",
        (),
        cautions(),
        "",
        2.0,
        "",
        0.0,
    )
