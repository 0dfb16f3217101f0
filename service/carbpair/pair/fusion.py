"""One reading out of several of the same carb, from several photographs."""

import math
from collections.abc import Sequence

from carbpair.geometry.angles import wrap_deg
from carbpair.vision.feature import Feature, Value, hidden

CORRELATION = 0.5
"""Two photographs of one pair share light, dirt and shape: a second counts only this much. A
judgement, no source; near-duplicates are taken out before and do not count at all."""

UNSURE_TOGETHER = 0.95
"""What no single photograph could answer must reach this over all of them."""

UNCERTAIN = ("low_confidence", "no_bowl_seen")
"""Reasons that are a want of certainty and nothing else."""

CHANGES = ("filter_fitted",)
"""What the owner changes between two photographs: filters come off so that flanges show."""

FLOOR = 1e-3
CAP = 0.995
AGREE_SD = 3.0


def fuse(readings: Sequence[Feature], threshold: float, changes: bool = False) -> Feature:
    """The reading that several readings of one feature of one carb support together.

    Distributions multiply, further ones weakened by CORRELATION. Readings that were each too
    little for an answer can make one together, if nothing but their certainty held them back
    (UNSURE_TOGETHER); unsure bearings cannot, since a scratch that is taken for the mark is the
    same scratch in every photograph. Without any reading that sees it, the reason of the first
    stands. Bearings are averaged by their spreads. With `changes` two values do not disagree:
    each was true in its own photograph.
    """
    shown = [r for r in readings if r.status != "not_visible"]
    if not shown:
        return readings[0] if readings else hidden("not_photographed")
    if len(shown) == 1:
        return shown[0]
    spread = [r for r in shown if r.distribution and "sd_deg" in r.distribution]
    if spread:
        return _bearing(spread)
    return _choice(shown, threshold, changes)


def _choice(shown: Sequence[Feature], threshold: float, changes: bool) -> Feature:
    ranked = sorted(shown, key=lambda r: -(r.probability or 0.0))
    names = sorted({k for r in ranked for k in (r.distribution or {})})
    if not names:
        return ranked[0]
    total = dict.fromkeys(names, 0.0)
    for i, r in enumerate(ranked):
        weight = 1.0 if i == 0 else CORRELATION
        for k in names:
            total[k] += weight * math.log(max((r.distribution or {}).get(k, FLOOR), FLOOR))
    top = max(total.values())
    raw = {k: math.exp(v - top) for k, v in total.items()}
    scale = sum(raw.values())
    chances = {k: v / scale for k, v in raw.items()}
    best = max(chances, key=lambda k: chances[k])
    p = min(chances[best], CAP)
    values = {str(r.value).lower(): r.value for r in ranked if r.value is not None}
    if len(values) > 1:
        reason = "changed_between_photos" if changes else "photos_disagree"
        return Feature(None, p, "unsure", reason, chances)
    if best in values and p >= threshold:
        return Feature(values[best], p, "seen", None, chances)
    if not values and p >= max(threshold, UNSURE_TOGETHER) and _lean(ranked, best):
        return Feature(_as_value(best), p, "seen", None, chances)
    return Feature(None, p, "unsure", "low_confidence", chances)


def _lean(ranked: Sequence[Feature], best: str) -> bool:
    """Whether at least two readings lean to `best`, and none was held back for another reason."""
    leaning = sum(
        max(r.distribution, key=lambda k: (r.distribution or {})[k]) == best
        for r in ranked
        if r.distribution
    )
    return leaning >= 2 and all(r.reason in UNCERTAIN for r in ranked)


def _as_value(name: str) -> Value:
    """A distribution's key as the reader would have answered."""
    if name in ("true", "false"):
        return name == "true"
    return int(name) if name.isdigit() else name


def _bearing(shown: Sequence[Feature]) -> Feature:
    answered = [r for r in shown if r.status == "seen"]
    if not answered:
        return max(shown, key=lambda r: r.probability or 0.0)
    best = max(answered, key=lambda r: r.probability or 0.0)
    if len(answered) == 1:
        return best
    centre = _spread(best)[0]
    total = shift = 0.0
    for r in answered:
        mean, sd = _spread(r)
        off = wrap_deg(mean - centre)
        joint = math.hypot(sd, _spread(best)[1])
        if abs(off) > max(10.0, AGREE_SD * joint):
            return Feature(None, best.probability, "unsure", "photos_disagree", best.distribution)
        weight = (1.0 if r is best else CORRELATION) / sd**2
        total += weight
        shift += weight * off
    mean = wrap_deg(centre + shift / total)
    sd = math.sqrt(1.0 / total)
    half = 1.645 * sd
    return Feature(
        round(mean, 1), best.probability, "seen", None, {"mean_deg": mean, "sd_deg": sd},
        (wrap_deg(mean - half), wrap_deg(mean + half)),
    )  # fmt: skip


def _spread(bearing: Feature) -> tuple[float, float]:
    """Mean and standard deviation of a bearing that has a distribution, degrees."""
    held = bearing.distribution or {}
    return float(held["mean_deg"]), float(held["sd_deg"])
