"""What is known about a case now: readings, corrections over them, identification."""

import copy
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from typing import Any

import sqlalchemy as sa

from carbpair.cases import analysis, case, checklist, correction, photo
from carbpair.cases.analysis import Analysis
from carbpair.cases.case import Case
from carbpair.cases.checklist import Tick
from carbpair.cases.correction import Correction
from carbpair.cases.identification import FACING_TOLERANCE_DEG, Said, identify
from carbpair.cases.photo import Photo
from carbpair.cases.settings import ServiceSettings
from carbpair.geometry.hole_layout import COUNT_OF
from carbpair.identify import read_inspection, verify

# How the holes lie was read of another number of holes than there are.
UNCOUNTED = {
    "value": None, "probability": None, "status": "not_visible", "reason": "holes_unconfirmed",
    "distribution": None,
}  # fmt: skip
# Two carburettors of one pattern show the same here, as pair.matched has it.
SAME_PATTERN = ("flange_holes", "chamber")


@dataclass(frozen=True)
class CaseResult:
    """A case with everything that hangs on it.

    `inspection` follows schema ``carbpair/inspection/1``, with the corrections applied and the
    identification worked out from them; None until a first analysis is done. It is shared between
    readers: do not change it. `photo_ids` are the
    photos that its ``photos`` stand for, in order. `verification` compares the photos taken
    after reassembly with it.
    """

    case: Case
    photos: Sequence[Photo]
    newest: Analysis | None
    inspection: dict[str, Any] | None
    photo_ids: Sequence[str]
    verification: dict[str, Any] | None
    corrections: Sequence[Correction]
    ticks: dict[str, Tick]


def load(connection: sa.Connection, case_id: str, settings: ServiceSettings) -> CaseResult:
    """Read a case and work out its present result; raises NotFoundError."""
    found = case.get(connection, case_id)
    corrections = correction.in_force(connection, case_id)
    newest = analysis.latest(connection, case_id)
    done = newest
    if newest is not None and newest.state != "done":
        done = analysis.latest(connection, case_id, done=True)
    photos = photo.of_case(connection, case_id)
    inspection = verification = None
    if done is not None and done.inspection is not None:
        path = settings.catalogue
        worked_out = _work_out(
            _Basis(
                done.id,
                tuple(one.id for one in corrections),
                said_by(found),
                None if path is None else path.stat().st_mtime_ns,
                done,
                corrections,
                settings,
            )
        )
        inspection, verification = worked_out
    return CaseResult(
        case=found,
        photos=photos,
        newest=newest,
        inspection=inspection,
        photo_ids=list(done.photo_ids) if done is not None else [],
        verification=verification,
        corrections=corrections,
        ticks=checklist.of_case(connection, case_id),
    )


@dataclass(frozen=True)
class _Basis:
    """All that a result depends on; the first fields tell two of them apart."""

    analysis_id: str
    correction_ids: tuple[int, ...]
    said: Said
    catalogue_time: int | None
    done: Analysis = field(compare=False)
    corrections: Sequence[Correction] = field(compare=False)
    settings: ServiceSettings = field(compare=False)


# Pages are read far more often than anything changes; the rows behind a key never do.
@lru_cache(maxsize=256)
def _work_out(basis: _Basis) -> tuple[dict[str, Any], dict[str, Any] | None]:
    inspection = corrected(dict(basis.done.inspection or {}), basis.corrections)
    verification = _verify(inspection, basis.done.inspection_after)
    inspection["identification"] = identify(
        inspection, basis.said, basis.corrections, basis.settings
    )
    return inspection, verification


def _verify(before: dict[str, Any], after: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if after is None:
        return None
    found = verify(read_inspection(after), before=read_inspection(before))
    return asdict(found) | {"result": found.result}


def said_by(found: Case) -> Said:
    """Return what the case's sender said about the car."""
    return Said(
        car=found.car,
        engine=found.engine,
        year=found.year,
        tag_text=found.tag_text,
        symptoms=tuple(found.symptoms),
    )


def corrected(inspection: dict[str, Any], corrections: Sequence[Correction]) -> dict[str, Any]:
    """Return a copy in which hand corrections stand in place of the readers' values."""
    result: dict[str, Any] = copy.deepcopy(inspection)
    pair = result.setdefault("pair", {})
    carbs = pair.setdefault("carbs", {})
    for one in corrections:
        if one.position not in ("left", "right") or one.feature == correction.DRAWN_CARB:
            continue
        if carbs.get(one.position) is None:
            carbs[one.position] = {"features": {}}
        features = carbs[one.position].setdefault("features", {})
        features[one.feature] = by_hand(one.value)
        if one.feature == "mark_bearing_deg":
            features["mark_verdict"] = by_hand(verdict_of(one.value))
        lies = str((features.get("hole_layout") or {}).get("value"))
        if one.feature == "flange_holes" and COUNT_OF.get(lies) != one.value:
            features["hole_layout"] = UNCOUNTED
    touched = {one.feature for one in corrections if one.position in ("left", "right")}
    settled = {(one.position, one.feature) for one in corrections}
    if pair.get("contradictions"):
        pair["contradictions"] = [
            one
            for one in pair["contradictions"]
            if (one["position"], one["feature"]) not in settled
        ]
    touched.discard(correction.DRAWN_CARB)
    if "mark_bearing_deg" in touched:
        touched.add("mark_verdict")
    if "flange_holes" in touched:
        touched.add("hole_layout")
    for feature in touched:
        _agree(pair, carbs, feature)
    if "bowl_side" in touched:
        pair["layout"] = _layout(carbs)
    if touched & set(SAME_PATTERN):
        pair["matched"] = _matched(carbs)
    return result


def verdict_of(bearing_deg: float | None) -> str | None:
    """Return the verdict on a mark's bearing in degrees, or None when it was not seen."""
    if bearing_deg is None:
        return None
    return "faces_intake" if abs(bearing_deg) <= FACING_TOLERANCE_DEG else "turned"


def by_hand(value: Any) -> dict[str, Any]:
    """Return a feature as the inspection schema has it, for a value that a person gave."""
    seen = value is not None
    return {
        "value": value,
        "probability": 1.0 if seen else None,
        "status": "seen" if seen else "not_visible",
        "reason": "corrected_by_hand",
        "distribution": None,
    }


def _agree(pair: dict[str, Any], carbs: dict[str, Any], feature: str) -> None:
    """Set the pair's view of a feature: a value only if both carburettors agree."""
    readings = [((carbs.get(side) or {}).get("features") or {}).get(feature) for side in
                ("left", "right")]  # fmt: skip
    seen = [one for one in readings if one is not None and one.get("value") is not None]
    view = pair.setdefault("features", {})
    if len(seen) == 2 and seen[0]["value"] == seen[1]["value"]:
        probability = min(one.get("probability") or 0.0 for one in seen)
        view[feature] = by_hand(seen[0]["value"]) | {"probability": probability}
    else:
        reason = "carbs_differ" if len(seen) == 2 else "other_carb_not_seen"
        view[feature] = by_hand(None) | {"status": "unsure", "reason": reason}


def _layout(carbs: dict[str, Any]) -> dict[str, Any]:
    sides = []
    for position in ("left", "right"):
        features = (carbs.get(position) or {}).get("features") or {}
        sides.append((features.get("bowl_side") or {}).get("value"))
    if None in sides:
        return by_hand(None) | {"reason": "other_carb_not_seen"}
    if sides[0] == sides[1]:
        return by_hand(sides[0])
    mixed = "none" in sides
    return by_hand("mixed" if mixed else "same_side")


def _matched(carbs: dict[str, Any]) -> dict[str, Any]:
    """Say whether both are of one pattern: they differ in one feature, or agree in all."""
    verdicts: list[bool | None] = []
    for feature in SAME_PATTERN:
        values = [
            (((carbs.get(position) or {}).get("features") or {}).get(feature) or {}).get("value")
            for position in ("left", "right")
        ]
        verdicts.append(None if None in values else values[0] == values[1])
    if False in verdicts:
        return by_hand(False)
    if None in verdicts:
        return by_hand(None) | {"status": "unsure", "reason": "not_all_features_seen"}
    return by_hand(True)
