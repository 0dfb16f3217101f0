"""Features as the readers give them, made by hand."""

from dataclasses import replace

from carbpair.vision.feature import Feature, Value, hidden


def choice(value: Value | None, **odds: float) -> Feature:
    """A reading over named values (a leading `n` stands before numbers: n3=0.97)."""
    chances = {k.removeprefix("n") if k[1:].isdigit() else k: v for k, v in odds.items()}
    top = max(chances.values())
    if value is None:
        return Feature(None, top, "unsure", "low_confidence", chances)
    return Feature(value, top, "seen", None, chances)


def unsure_of(reason: str, **odds: float) -> Feature:
    """A reading held back for a reason of its own."""
    return replace(choice(None, **odds), reason=reason)


def holes(value: int | None, p: float = 0.97) -> Feature:
    likely = value or 3
    rest = (1 - p) / 2
    odds = {f"n{n}": p if n == likely else rest for n in (2, 3, 4)}
    return choice(value, **odds)


def bearing(mean: float, sd: float = 2.0, p: float = 0.95) -> Feature:
    spread = {"mean_deg": mean, "sd_deg": sd}
    return Feature(mean, p, "seen", None, spread, (mean - 1.645 * sd, mean + 1.645 * sd))


def hand(value: str | None, p: float = 0.98) -> Feature:
    likely = value or "left"
    rest = (1 - p) / 2
    return choice(value, **{n: p if n == likely else rest for n in ("left", "none", "right")})


def side(value: str | None, p: float = 0.98) -> Feature:
    likely = value or "inboard"
    rest = (1 - p) / 2
    return choice(value, **{n: p if n == likely else rest for n in ("inboard", "none", "outboard")})


def carb(**changed: Feature) -> dict[str, Feature]:
    plain = {
        "flange_holes": holes(3),
        "hole_layout": choice("one_above", one_above=0.98, one_below=0.01, one_aside=0.01),
        "bowl_side": side("inboard"),
        "mark_bearing_deg": bearing(2.0),
        "mark_verdict": choice("faces_intake", faces_intake=0.97, turned=0.03),
        "chamber": choice("piston", piston=0.99, diaphragm=0.01),
        "filter_fitted": choice(False, true=0.01, false=0.99),
    }
    return {**plain, **changed}


__all__ = ["bearing", "carb", "choice", "hand", "hidden", "holes", "side", "unsure_of"]
