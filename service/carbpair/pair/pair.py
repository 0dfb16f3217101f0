"""The pair: both carbs over all photographs, layout, and whether left and right match."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from carbpair.pair.bowl import layout
from carbpair.pair.contradiction import SEVERAL_PAIRS, Contradiction
from carbpair.pair.fusion import CHANGES, fuse
from carbpair.vision.feature import Feature, hidden

NAMES = (
    "flange_holes", "hole_layout", "bowl_side", "mark_bearing_deg", "mark_verdict", "chamber",
    "filter_fitted",
)  # fmt: skip

SAME_PATTERN = ("flange_holes", "chamber")
"""Features that two carbs of one pattern share and that both must show to match; bowls mirror and
marks may be turned."""

COMPARED = (*SAME_PATTERN, "hole_layout")
"""These are compared wherever both are read."""

Readings = Mapping[str, Feature]


@dataclass(frozen=True, slots=True)
class PairReading:
    """Fused features of the left and the right carb, and what they say together."""

    status: str
    photos_used: int
    carbs: Mapping[str, Readings | None]
    layout: Feature
    matched: Feature
    features: Readings
    advice: tuple[str, ...]
    contradictions: tuple[Contradiction, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The pair as the inspection's JSON has it."""
        return {
            "status": self.status,
            "photos_used": self.photos_used,
            "carbs": {
                side: None if carb is None else {"features": {k: carb[k].as_json() for k in NAMES}}
                for side, carb in self.carbs.items()
            },
            "layout": self.layout.as_json(),
            "matched": self.matched.as_json(),
            "features": {k: self.features[k].as_json() for k in NAMES},
            "contradictions": [c.as_json() for c in self.contradictions],
            "advice": list(self.advice),
        }


def assemble(
    left: Sequence[Readings], right: Sequence[Readings], thresholds: Mapping[str, float],
    photos_used: int, loose: int, advice: Sequence[str] = (),
    contradictions: Sequence[Contradiction] = (),
) -> PairReading:  # fmt: skip
    """Fuse the readings of each carb (one per independent photograph) and compare the two.

    `loose` counts carbs that could not be told left from right. With `contradictions` the photos
    are not of one pair: the advice then begins with that.
    """
    sides: dict[str, Readings | None] = {}
    for name, readings in (("left", left), ("right", right)):
        sides[name] = (
            {k: fuse([r[k] for r in readings], thresholds.get(k, 0.9), k in CHANGES) for k in NAMES}
            if readings
            else None
        )
    a, b = sides["left"], sides["right"]

    def of(carb: Readings | None, name: str) -> Feature | None:
        return None if carb is None else carb[name]

    status = "complete" if a and b else "partial" if a or b or loose else "none"
    return PairReading(
        status, photos_used, sides,
        layout(of(a, "bowl_side"), of(b, "bowl_side")),
        matched(a, b),
        {k: both(of(a, k), of(b, k)) for k in NAMES},
        (SEVERAL_PAIRS, *advice) if contradictions else tuple(advice),
        tuple(contradictions),
    )  # fmt: skip


def matched(left: Readings | None, right: Readings | None) -> Feature:
    """Whether both carbs are of one pattern, as far as photographs show it."""
    if left is None or right is None:
        return hidden("other_carb_not_seen")
    differ, compared = 0.0, 0
    certain = False
    for name in COMPARED:
        a, b = left[name], right[name]
        if not a.distribution or not b.distribution:  # also where one is not visible
            continue
        compared += 1
        agree = sum(float(p) * float(b.distribution.get(k, 0.0)) for k, p in a.distribution.items())
        differ = max(differ, 1.0 - agree)
        certain |= a.value is not None and b.value is not None and a.value != b.value
    if not compared:
        return hidden("nothing_to_compare")
    chances = {"true": 1 - differ, "false": differ}
    if certain:
        return Feature(False, differ, "seen", None, chances)
    whole = all(left[k].value is not None and right[k].value is not None for k in SAME_PATTERN)
    if whole and differ < 0.1:
        return Feature(True, 1 - differ, "seen", None, chances)
    return Feature(None, max(chances.values()), "unsure", "not_all_features_seen", chances)


def both(left: Feature | None, right: Feature | None) -> Feature:
    """The pair's view of a feature: a value only where both carbs give the same one."""
    known = [f for f in (left, right) if f is not None]
    if not known:
        return hidden("not_photographed")
    if len(known) == 1:
        return hidden("other_carb_not_seen")
    a, b = known
    if a.value is not None and b.value is not None:
        if a.distribution and "sd_deg" in a.distribution:
            return hidden("see_each_carb")
        p = min(a.probability or 0.0, b.probability or 0.0)
        if a.value == b.value:
            return Feature(a.value, p, "seen", None, None)
        return Feature(None, p, "unsure", "carbs_differ", None)
    for f in known:
        if f.status == "not_visible":
            return hidden(f.reason or "occluded")
    return Feature(None, None, "unsure", next(f.reason for f in known if f.value is None), None)
