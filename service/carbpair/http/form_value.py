"""Values of features as forms send them: text."""

from carbpair.cases.error import InvalidError

NUMBERS = frozenset({"flange_holes"})
DECIMALS = frozenset({"mark_bearing_deg"})
TRUTHS = frozenset({"filter_fitted", "heat_shield"})


def form_value(feature: str, text: str) -> bool | int | float | str | None:
    """Return the value in the type of its feature; empty text means "cannot be seen"."""
    text = text.strip()
    if not text:
        return None
    try:
        if feature in NUMBERS:
            return int(text)
        if feature in DECIMALS:
            return float(text.replace(",", ".").replace("−", "-").rstrip("°"))
    except ValueError:
        raise InvalidError(f"{text[:40]!r} is not a number") from None
    if feature in TRUTHS:
        return {"True": True, "False": False}.get(text, text)
    return text
