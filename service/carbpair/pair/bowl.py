"""Bowl sides: from "on its left or right" of a carb to inboard or outboard of the pair."""

from carbpair.vision.feature import Feature, Value, hidden, unsure

SIDES = {
    ("left", "left"): "outboard", ("left", "right"): "inboard",
    ("right", "left"): "inboard", ("right", "right"): "outboard",
}  # fmt: skip
"""(position of the carb, hand of its bowl) to side; both as seen facing the intakes."""


def bowl_side(hand: Feature, position: str | None, why_not: str | None, mirrored: bool) -> Feature:
    """The side of one carb's bowl. A bowl that is integral needs no neighbour to say so."""
    if hand.status == "not_visible":
        return hidden(hand.reason or "occluded")
    if position is None:
        if hand.value == "none":
            return _side_unknown(hand)
        return hidden(why_not or "other_carb_not_seen")

    def turned(name: str) -> str:
        return "none" if name == "none" else SIDES[position, name]

    distribution = {turned(k): v for k, v in (hand.distribution or {}).items()}
    value: Value | None = None if hand.value is None else turned(str(hand.value))
    out = Feature(value, hand.probability, hand.status, hand.reason, distribution)
    # A mirrored orientation flag may be wrong; then left and right would be swapped unnoticed.
    return unsure(out, "mirrored") if mirrored and value != "none" else out


def layout(left: Feature | None, right: Feature | None) -> Feature:
    """The pair's layout from the sides of its two carbs."""
    if left is None or right is None:
        return hidden("other_carb_not_seen")
    for side in (left, right):
        if side.status == "not_visible":
            return hidden(side.reason or "occluded")
    chances: dict[str, float] = {}
    for a, p in (left.distribution or {}).items():
        for b, q in (right.distribution or {}).items():
            name = combine(a, b)
            chances[name] = chances.get(name, 0.0) + float(p) * float(q)
    best = max(chances, key=lambda k: chances[k])
    if left.value is None or right.value is None:
        reason = left.reason if left.value is None else right.reason
        return Feature(None, chances[best], "unsure", reason or "low_confidence", chances)
    name = combine(str(left.value), str(right.value))
    return Feature(name, chances[name], "seen", None, chances)


def combine(left: str, right: str) -> str:
    """Layout of two sides: inboard with outboard stand on the same side of their carbs."""
    if left == right:
        return left
    return "same_side" if {left, right} == {"inboard", "outboard"} else "mixed"


def _side_unknown(hand: Feature) -> Feature:
    """An integral bowl of a carb without position: what little is left may be either side."""
    none = float((hand.distribution or {}).get("none", hand.probability or 0.0))
    chances = {"none": none, "inboard": (1 - none) / 2, "outboard": (1 - none) / 2}
    return Feature("none", hand.probability, "seen", None, chances)
