"""What a customer is told: plain facts with plain doubt, and the photo that would help most."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from carbpair.cases.case_result import CaseResult
from carbpair.part_width import SmallPart, small_parts

# Features that mean something to an owner, in the order in which they are told.
TOLD = ("chamber", "flange_holes", "bowl_side", "mark_verdict", "filter_fitted")


@dataclass(frozen=True)
class Finding:
    """One feature; `left` and `right` are values or None where it could not be seen."""

    feature: str
    left: Any
    right: Any

    @property
    def seen(self) -> bool:
        """Say whether anything was seen."""
        return self.left is not None or self.right is not None


@dataclass(frozen=True)
class Findings:
    """The customer's view of a result.

    `carbs` counts carburettors found; `closer` names parts that every photo shows too small;
    `next_photo` has title, why, how and a drawing's view id. `several_pairs`: the photos cannot
    all be of one pair.
    """

    ready: bool
    carbs: int
    findings: Sequence[Finding]
    closer: Sequence[SmallPart]
    next_photo: Mapping[str, Any] | None
    advice: Sequence[str]
    several_pairs: bool = False


def findings_of(result: CaseResult) -> Findings:
    """Reduce a result to what its sender should see; no probabilities, names or internals."""
    if result.inspection is None:
        return Findings(False, 0, [], [], None, [])
    pair = result.inspection.get("pair") or {}
    carbs = pair.get("carbs") or {}
    findings = []
    for feature in TOLD:
        values = []
        for position in ("left", "right"):
            features = (carbs.get(position) or {}).get("features") or {}
            values.append((features.get(feature) or {}).get("value"))
        findings.append(Finding(feature, values[0], values[1]))
    identification = result.inspection.get("identification") or {}
    return Findings(
        ready=True,
        carbs=sum(1 for held in carbs.values() if held),
        findings=findings,
        closer=small_parts(result.inspection),
        next_photo=identification.get("next_photo"),
        advice=list(pair.get("advice") or ()),
        several_pairs=bool(pair.get("contradictions")),
    )
