"""The report's content, in the order in which it is read; page and PDF show the same."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from carbpair import __version__
from carbpair.cases.case_result import CaseResult
from carbpair.identify.check import cautions

FEATURES = (
    "chamber",
    "flange_holes",
    "hole_layout",
    "bowl_side",
    "mark_bearing_deg",
    "mark_verdict",
    "filter_fitted",
)
ADVICE_BEFORE_BUYING = (
    "This is what photographs show, from afar. It is no inspection of the car.",
    "Ask the seller for the tag numbers of both carburettors and for the photo named below.",
    "Have a qualified person check spindle play, fuel leaks and the throttle's return in person "
    "before you pay or drive.",
)
CONFIRM_FIRST = (
    "A person must confirm the pattern by hand, by the tags above all, before anything is ordered "
    "or the car is driven."
)


@dataclass(frozen=True)
class FeatureRow:
    """One feature with the inspection schema's FEATURE objects; None where no carb was found."""

    feature: str
    left: Mapping[str, Any] | None
    right: Mapping[str, Any] | None


@dataclass(frozen=True)
class CheckRow:
    """One item of the checklist with what was found."""

    item: Mapping[str, Any]
    outcome: str
    note: str
    made_by: str


@dataclass(frozen=True)
class Report:
    """Everything on the report; lists are empty where nothing is known yet."""

    purchase: bool
    summary: str
    features: Sequence[FeatureRow]
    candidates: Sequence[Mapping[str, Any]]
    inseparable: Sequence[str]
    why: Sequence[Mapping[str, Any]]
    deviations: Sequence[Mapping[str, Any]]
    not_checked: Sequence[str]
    problems: Sequence[Mapping[str, Any]]
    checks: Sequence[CheckRow]
    next_photo: Mapping[str, Any] | None
    notes: Sequence[str]
    cautions: Sequence[str]
    advice: Sequence[str]
    verification: Mapping[str, Any] | None
    versions: Sequence[tuple[str, str]]


def feature_rows(result: CaseResult) -> list[FeatureRow]:
    """Return the readings of both carburettors side by side."""
    pair = (result.inspection or {}).get("pair") or {}
    carbs = pair.get("carbs") or {}

    def features(position: str) -> Mapping[str, Any]:
        held: Mapping[str, Any] = (carbs.get(position) or {}).get("features") or {}
        return held

    left, right = features("left"), features("right")
    return [FeatureRow(name, left.get(name), right.get(name)) for name in FEATURES]


def check_rows(result: CaseResult) -> list[CheckRow]:
    """Return the checklist with its ticks; ticks of items no longer asked for come last."""
    identification = (result.inspection or {}).get("identification") or {}
    rows = []
    asked = set()
    for item in identification.get("checklist") or ():
        if item["id"] == "safety":
            continue
        asked.add(item["id"])
        tick = result.ticks.get(item["id"])
        rows.append(
            CheckRow(item, "open", "", "")
            if tick is None
            else CheckRow(item, tick.outcome, tick.note, tick.made_by)
        )
    for item_id, tick in result.ticks.items():
        if item_id not in asked:
            item = {"id": item_id, "title": item_id.replace("_", " "), "how": [], "good": ""}
            rows.append(CheckRow(item, tick.outcome, tick.note, tick.made_by))
    return rows


def report_of(result: CaseResult) -> Report:
    """Gather the report; works before the first analysis too, and then says so."""
    inspection = result.inspection or {}
    identification = inspection.get("identification") or {}
    purchase = result.case.purpose == "purchase"
    return Report(
        purchase=purchase,
        summary=identification.get("summary", "No analysis has been done yet."),
        features=feature_rows(result),
        candidates=identification.get("candidates") or (),
        inseparable=[one["text"] for one in identification.get("inseparable") or ()],
        why=identification.get("why") or (),
        deviations=identification.get("deviations") or (),
        not_checked=identification.get("not_checked") or (),
        problems=identification.get("problems") or (),
        checks=check_rows(result),
        next_photo=identification.get("next_photo"),
        notes=identification.get("notes") or (),
        cautions=cautions(),
        advice=ADVICE_BEFORE_BUYING if purchase else (CONFIRM_FIRST,),
        verification=result.verification,
        versions=_versions(inspection, identification),
    )


def _versions(
    inspection: Mapping[str, Any], identification: Mapping[str, Any]
) -> list[tuple[str, str]]:
    rows = [("carbpair", __version__)]
    for model in inspection.get("models") or ():
        rows.append((f"model {model['name']}", str(model.get("sha256", ""))[:16]))
    catalogue = identification.get("catalogue")
    if catalogue:
        demo = " (demonstration, invented data)" if catalogue.get("demo") else ""
        rows.append(("catalogue", f"{catalogue['name']}, version {catalogue['version']}{demo}"))
    return rows
