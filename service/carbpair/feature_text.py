"""One feature of an inspection's JSON in words: in full for a table, short for a line."""

from collections.abc import Mapping
from typing import Any

from carbpair.geometry.bearing import direction_words

Json = Mapping[str, Any]

ROWS = (
    ("flange_holes", "Flange bolt holes"),
    ("hole_layout", "Bolt holes lie"),
    ("bowl_side", "Float bowl"),
    ("mark_bearing_deg", "Mark on the cover"),
    ("mark_verdict", "Mark faces intake"),
    ("chamber", "Chamber"),
    ("filter_fitted", "Air filter"),
)

SHORT_NAMES = {
    "flange_holes": "bolt holes",
    "bowl_side": "bowl",
    "mark_bearing_deg": "mark",
    "chamber": "chamber",
    "filter_fitted": "filter",
}
"""The features of a short line, in its order; the mark's direction also tells its verdict."""

PLAIN = 0.99
"""From this probability on a short line leaves the percentage out."""

VALUE_WORDS: dict[tuple[str, object], str] = {
    ("bowl_side", "none"): "none at the side (integral)",
    ("mark_verdict", "faces_intake"): "yes",
    ("mark_verdict", "turned"): "no, turned",
    ("filter_fitted", True): "fitted",
    ("filter_fitted", False): "off",
    ("layout", "same_side"): "both on the same side",
    ("layout", "none"): "none at the side (integral)",
    ("layout", "mixed"): "different left and right",
    ("matched", True): "yes, the two look alike",
    ("matched", False): "NO: the two differ",
}

REASON_WORDS = {
    "filter_fitted": "hidden by the air filter",
    "out_of_frame": "outside the picture",
    "too_small": "too small in the picture",
    "blurred": "blurred",
    "occluded": "something is in front of it",
    "no_bowl_seen": "no bowl is seen at either side",
    "edge_on": "seen edge on",
    "facing_away": "it faces away",
    "mirrored": "the photo is a mirror image",
    "other_carb_not_seen": "the other carburettor is not seen",
    "low_confidence": "not clear enough",
    "holes_do_not_form_pattern": "the holes found form no bolt pattern",
    "holes_unconfirmed": "the holes found do not confirm it",
    "filter_unclear": "it is not clear whether a filter is fitted",
    "mark_not_in_view": "no mark is to be seen",
    "near_tolerance": "too close to the limit of 15°",
    "photos_disagree": "the photos disagree",
    "changed_between_photos": "it was changed between two photos",
    "carbs_differ": "left and right differ",
    "see_each_carb": "stated for each carburettor",
    "not_photographed": "no photo shows it",
    "nothing_to_compare": "there is nothing to compare",
    "not_all_features_seen": "not all that must agree was seen",
    "none_found": "no carburettor was found",
    "more_than_two_carbs": "more than two carburettors were found",
    "carbs_point_different_ways": "the two carburettors point different ways",
    "order_unclear": "which is left and which is right is not clear",
}


def feature_words(name: str, feature: Json) -> str:
    """One feature in words: its value and probability, or why it was not read."""
    status = feature["status"]
    if status == "seen":
        words = value_words(name, feature["value"])
        interval = feature.get("interval_deg")
        if interval:
            words += f" ({_degrees(interval[0])} to {_degrees(interval[1])})"
        return f"{words}, {_percent(feature['probability'])}"
    why = reason_words(feature["reason"])
    if status == "unsure":
        likeliest = _likeliest(name, feature["distribution"])
        return f"unsure{f' (perhaps {likeliest})' if likeliest else ''}, {why}"
    return f"not seen, {why}"


def value_words(name: str, value: object) -> str:
    """A feature's value in words."""
    if name == "mark_bearing_deg" and isinstance(value, int | float):
        return f"{_degrees(value)}, {direction_words(value)}"
    return VALUE_WORDS.get((name, value), str(value).replace("_", " "))


def reason_words(reason: str | None) -> str:
    """Why a feature has no value, in words."""
    if not reason:
        return "no reason given"
    return REASON_WORDS.get(reason, reason.replace("_", " "))


def carb_line(features: Json) -> str:
    """All features of one carb in one line; a percentage stands where it is below 99 %."""
    return ", ".join(_short(name, features[name]) for name in SHORT_NAMES)


def _short(name: str, feature: Json) -> str:
    label = SHORT_NAMES[name]
    if feature["status"] != "seen":
        why = reason_words(feature["reason"])
        if feature["status"] == "not_visible":
            return f"{label} not seen ({why})"
        likeliest = _likeliest(name, feature["distribution"])
        return f"{label} unsure ({f'perhaps {likeliest}; ' if likeliest else ''}{why})"
    value = feature["value"]
    if name == "flange_holes":
        words = f"{value} {label}"
    elif name == "mark_bearing_deg":
        words = f"{label} {_degrees(value)} {direction_words(value)}"
    elif name == "bowl_side" and value == "none":
        words = "bowl integral"
    elif name == "chamber":
        words = str(value)
    else:
        words = f"{label} {value_words(name, value)}"
    p = feature["probability"]
    return words if p is not None and p >= PLAIN else f"{words} ({_percent(p)})"


def _likeliest(name: str, distribution: Json | None) -> str:
    if not distribution or "mean_deg" in distribution:
        return ""
    value, probability = max(distribution.items(), key=lambda item: float(item[1]))
    typed: object = {"true": True, "false": False}.get(str(value).lower(), value)
    return f"{value_words(name, typed)}, {_percent(probability)}"


def _percent(probability: float | None) -> str:
    if probability is None:
        return "probability unknown"
    # Never "100 %": nothing read from a photo is certain.
    return "over 99 %" if probability >= 0.995 else f"{100 * probability:.0f} %"


def _degrees(angle: float) -> str:
    return f"{angle:+.0f}°" if round(angle) else "0°"
