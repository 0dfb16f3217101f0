"""The station itself: readings and facts in, identification out."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from carbpair.identify.calibration import Calibration
from carbpair.identify.catalogue import Catalogue
from carbpair.identify.check import cautions
from carbpair.identify.checklist import checklist
from carbpair.identify.conformal import conformal_set
from carbpair.identify.confusion import Confusion
from carbpair.identify.consistency import (
    contradictions,
    disputes,
    set_aside,
    tags_of_two_patterns,
)
from carbpair.identify.deviation import compare_fit
from carbpair.identify.evidence import Evidence
from carbpair.identify.fact import CaseFacts, check_facts
from carbpair.identify.feature import CARB_POSITIONS
from carbpair.identify.fitment import Fitment
from carbpair.identify.identification import (
    Candidate,
    CatalogueStamp,
    Identification,
    Reason,
    Trust,
)
from carbpair.identify.inseparable import Inseparable, inseparable_groups
from carbpair.identify.kit import kit_advice
from carbpair.identify.pattern_table import table_of
from carbpair.identify.photo_evidence import photo_evidence
from carbpair.identify.posterior import (
    MIXED,
    OTHER,
    Posterior,
    log_odds_bits,
    log_posterior,
    posterior,
    weights_in_bits,
)
from carbpair.identify.prior import Prior, prior_for
from carbpair.identify.reading import PairReading
from carbpair.identify.stated_evidence import confirmed_evidence, tag_evidence
from carbpair.identify.tag import match_tag
from carbpair.identify.verdict import Verdict, decide
from carbpair.identify.view import next_photo

SHOWN_SHARE = 0.001
LEAST_SHOWN = 3
KIT_SHARE = 0.05
COMPARED_SHARE = 0.02
"""With nothing named, the pair is compared with every candidate above this; what none of
them has is a deviation whichever it is."""


@dataclasses.dataclass(frozen=True)
class Weighed:
    """Prior, evidence and posterior of one case."""

    prior: Prior
    items: list[Evidence]
    posterior: Posterior
    photos_only: bool


def weigh(
    reading: PairReading,
    facts: CaseFacts,
    fitments: Sequence[Fitment],
    catalogue: Catalogue,
    confusion: Confusion,
    temperature: float,
) -> Weighed:
    """Evidence and posterior for checked facts."""
    table = table_of(catalogue)
    prior = prior_for(table.index, fitments)
    stated = confirmed_evidence(facts, table, catalogue) + tag_evidence(facts, table, catalogue)
    items = [
        item.tempered(temperature)
        for item in photo_evidence(set_aside(reading, facts), table, confusion)
    ]
    photos_only = not stated
    items += stated
    return Weighed(prior, items, posterior(table.ids, prior, items, photos_only), photos_only)


def identify(
    reading: PairReading,
    facts: CaseFacts,
    catalogue: Catalogue,
    confusion: Confusion,
    calibration: Calibration,
) -> Identification:
    """Identify one pair; raises IdentifyError for facts that cannot be used."""
    confusion = confusion.for_photos(reading.photos)
    calibration = calibration.for_photos(reading.photos)
    facts = check_facts(facts, catalogue)
    fitments = (
        catalogue.fitments_of(facts.car, facts.engine, facts.year) if facts.car is not None else ()
    )
    weighed = weigh(reading, facts, fitments, catalogue, confusion, calibration.temperature)
    table, held = table_of(catalogue), weighed.posterior
    shares = {name: float(p) for name, p in zip(held.ids, held.probabilities, strict=True)}
    clashes = disputes(reading, facts) + contradictions(facts, catalogue)
    if held.ids[held.best] != MIXED:
        clashes += tags_of_two_patterns(facts, catalogue)
    settled = [name for name in catalogue.features if name in facts.settled]
    if any(match_tag(tag.text, catalogue).listed for tag in facts.tags):
        settled.append("tag")
    groups = inseparable_groups(catalogue, shares, _seen(reading, facts), settled)
    verdict = decide(
        held,
        groups,
        calibration.answer_threshold,
        clashes,
        weighed.photos_only,
        calibration.other_limit,
    )
    leading = _why_for(held, groups)
    single = np.append(held.probabilities[:-2], held.probabilities[-2])
    single = single / single.sum()
    expected_ids = tuple(dict.fromkeys(fitment.pattern for fitment in fitments))
    if not expected_ids:
        expected_ids = (verdict.answer,) if verdict.answer is not None else verdict.group
    front = {fitment.front_carb for fitment in fitments}
    fit = compare_fit(
        [catalogue.pattern(name) for name in expected_ids]
        or [p for p in catalogue.patterns if shares[p.id] >= COMPARED_SHARE],
        reading,
        facts,
        catalogue,
        front.pop() if len(front) == 1 else None,
        "this car" if fitments else "the likely pattern",
    )
    likely = [
        pattern
        for pattern in sorted(catalogue.patterns, key=lambda p: -shares[p.id])
        if shares[pattern.id] >= KIT_SHARE
    ]
    return Identification(
        catalogue=_stamp(catalogue),
        facts=dataclasses.asdict(facts),
        candidates=_candidates(held, catalogue),
        answer=verdict.answer,
        verdict=verdict.kind,
        summary=_summary(verdict, catalogue, held, calibration),
        why_for=leading,
        why=_why(weighed, leading, fitments, facts),
        inseparable=groups,
        conformal_set=conformal_set(held.ids, held.uncapped, calibration.conformal)
        if calibration.fitted and weighed.photos_only and _all_in_view(reading)
        else None,
        conformal_level=calibration.level,
        contradictions=clashes,
        expected=expected_ids,
        deviations=fit.deviations,
        not_checked=fit.not_checked,
        checklist=checklist(
            catalogue,
            table,
            single,
            facts,
            _unsure(reading),
            [deviation.kind for deviation in fit.deviations],
            float(held.probabilities[-1]),
        ),
        kits=kit_advice(likely[:3], facts) if verdict.kind in {"pattern", "group"} else (),
        next_photo=next_photo(reading, single, table, confusion, facts.settled),
        cautions=cautions(),
        notes=_notes(catalogue, confusion, calibration, reading),
        trust=Trust(
            calibration.stated_risk,
            calibration.answer_threshold,
            calibration.other_limit,
            calibration.fitted,
            confusion.provisional,
            confusion.source,
            weighed.photos_only,
        ),
    )


def _stamp(catalogue: Catalogue) -> CatalogueStamp:
    head = catalogue.header
    return CatalogueStamp(head.id, head.name, head.version, head.demo, catalogue.sha256)


def _candidates(held: Posterior, catalogue: Catalogue) -> tuple[Candidate, ...]:
    names = {OTHER: "None of these / other source", MIXED: "Left and right of two patterns"}
    rows = [
        Candidate(
            name,
            names.get(name) or catalogue.pattern(name).name,
            name if name in names else "pattern",
            float(share),
        )
        for name, share in zip(held.ids, held.probabilities, strict=True)
    ]
    rows.sort(key=lambda row: -row.probability)
    return tuple(
        row
        for number, row in enumerate(rows)
        if number < LEAST_SHOWN or row.probability >= SHOWN_SHARE or row.kind != "pattern"
    )


def _why_for(held: Posterior, groups: Sequence[Inseparable]) -> tuple[str, ...]:
    """The leading hypothesis with those that no photo tells from it."""
    name = held.ids[held.best]
    for group in groups:
        if group.reason == "no_photo_can" and name in group.ids:
            return group.ids
    return (name,)


def _why(
    weighed: Weighed, leading: Sequence[str], fitments: Sequence[Fitment], facts: CaseFacts
) -> tuple[Reason, ...]:
    """Weights of evidence for the leading hypotheses; a stated car counts by its prior."""
    held = weighed.posterior
    places = [held.ids.index(name) for name in leading]
    rows = []
    if fitments:
        even = prior_for({name: n for n, name in enumerate(held.ids[:-2])}, ())
        bits = log_odds_bits(log_posterior(weighed.prior, []), places) - log_odds_bits(
            log_posterior(even, []), places
        )
        rows.append(Reason("car", "stated", f"stated car: {facts.car}", bits))
    weights = weights_in_bits(weighed.prior, weighed.items, places)
    rows += [
        Reason(item.name, item.source, item.text, bits)
        for item, bits in zip(weighed.items, weights, strict=True)
    ]
    return tuple(rows)


def _seen(reading: PairReading, facts: CaseFacts) -> tuple[str, ...]:
    """Photo features that were read or confirmed on at least one carburettor."""
    found = []
    for feature, label in (
        ("chamber", "chamber"),
        ("flange_holes", "flange_holes"),
        ("hole_layout", "hole_layout"),
        ("bowl_layout", "bowl_side"),
    ):
        read = any(reading.carb(side).label(label).status == "seen" for side in CARB_POSITIONS)
        hand = any(fact.feature in {feature, label} for fact in facts.confirmed)
        if read or hand:
            found.append(feature)
    if any(reading.carb(side).bearing.status == "seen" for side in CARB_POSITIONS):
        found.append("mark")
    return tuple(found)


def _all_in_view(reading: PairReading) -> bool:
    """Whether the case is of the kind that conformal sets were calibrated on."""
    return all(
        reading.carb(side).bearing.informative
        and all(
            reading.carb(side).label(name).status != "not_visible"
            for name in ("chamber", "flange_holes", "bowl_side")
        )
        for side in CARB_POSITIONS
    )


def _unsure(reading: PairReading) -> tuple[str, ...]:
    names = {"chamber": "chamber", "flange_holes": "flange_holes", "bowl_side": "bowl_layout"}
    return tuple(
        feature
        for label, feature in names.items()
        if any(reading.carb(side).label(label).status != "seen" for side in CARB_POSITIONS)
    )


def _summary(
    verdict: Verdict,
    catalogue: Catalogue,
    held: Posterior,
    calibration: Calibration,
) -> str:
    share = f"probability {verdict.probability:.2f}"
    tail = "Confirm by hand before anything is ordered or driven."
    if verdict.kind == "pattern":
        return f"{catalogue.pattern(str(verdict.answer)).name} ({share}). {tail}"
    if verdict.kind == "group":
        return (
            f"One of {' or '.join(verdict.group)} ({share} together), which cannot be told "
            f"apart so far. {tail}"
        )
    if verdict.kind == OTHER:
        return f"Probably none of the catalogue's patterns ({share}). {tail}"
    if verdict.kind == MIXED:
        return f"Probably left and right of two different patterns ({share}). {tail}"
    if verdict.kind == "contradiction":
        return "No answer: what was stated or photographed contradicts itself. See below."
    risk = f"{calibration.stated_risk:.0%}"
    best = {OTHER: "none of the catalogue's", MIXED: "two different patterns"}.get(
        held.ids[held.best], held.ids[held.best]
    )
    other = float(held.uncapped[held.ids.index(OTHER)])
    if verdict.probability >= calibration.answer_threshold and other > calibration.other_limit:
        return (
            f"No answer yet: a pair from elsewhere could by chance share all that was seen of "
            f"{best} ({share}). The tags or a hand check tell."
        )
    return (
        f"No answer: naming one would be wrong more often than {risk}. "
        f"Most likely so far: {best} ({share})."
    )


def _notes(
    catalogue: Catalogue, confusion: Confusion, calibration: Calibration, reading: PairReading
) -> tuple[str, ...]:
    notes = []
    if catalogue.header.demo:
        notes.append(
            "This is the demonstration catalogue of an invented maker. Give your own with "
            "--catalogue FILE."
        )
    if confusion.provisional:
        notes.append("The readers' errors are assumed, not measured: probabilities are cautious.")
    if not calibration.fitted:
        notes.append(
            "Probabilities are not calibrated for this catalogue: a pattern is named only at "
            f"{calibration.answer_threshold:.2f} or more. To calibrate: carbpair catalogue "
            "calibrate FILE"
        )
    if reading.left is None and reading.right is None:
        notes.append("No carburettor was found in the photos; only what was stated counts.")
    return (*notes, *reading.advice)
