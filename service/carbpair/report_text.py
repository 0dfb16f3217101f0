"""An inspection's JSON as text that a person reads at a glance."""

import io
from collections.abc import Iterator, Mapping
from typing import Any

from carbpair.geometry.bearing import direction_words

Json = Mapping[str, Any]

ROWS = (
    ("flange_holes", "Flange bolt holes"),
    ("bowl_side", "Float bowl"),
    ("mark_bearing_deg", "Mark on the cover"),
    ("mark_verdict", "Mark faces intake"),
    ("chamber", "Chamber"),
    ("filter_fitted", "Air filter"),
)

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
    "edge_on": "seen edge on",
    "mirrored": "the photo is a mirror image",
    "other_carb_not_seen": "the other carburettor is not seen",
    "low_confidence": "not clear enough",
}

PAIR_WORDS = {
    "complete": "Both carburettors found",
    "partial": "Only one carburettor found",
    "none": "No pair of carburettors found",
}

CAUTION = (
    "Before you touch anything: engine cold, battery off, no flames or sparks, fresh air (petrol "
    "vapour ignites), eyes protected, hands clear of linkages and hot exhaust. Follow local "
    "codes; leave to a qualified person what you are not qualified for. A person confirms every "
    "reading before anything is ordered or driven."
)


def report_text(inspection: Json, width: int = 100) -> str:
    """Plain text of an inspection (schema carbpair/inspection/1), `width` characters wide."""
    from rich.console import Console

    console = Console(
        file=io.StringIO(), width=width, color_system=None, highlight=False, markup=False
    )
    pair = inspection["pair"]
    console.print(_headline(pair, len(inspection["photos"])))
    if any(pair["carbs"].get(side) for side in ("left", "right")):
        console.print(_table(pair))
        for key, label in (("layout", "Float bowls of the pair"), ("matched", "Matched pair")):
            console.print(f"{label}: {feature_words(key, pair[key])}")
    if pair["advice"]:
        console.print("\nNext")
        for line in pair["advice"]:
            console.print(_hanging("  - ", line, width))
    console.print("\nPhotos")
    for photo in inspection["photos"]:
        for line in _photo_lines(photo):
            console.print(_hanging(line[0], line[1], width))
    console.print()
    console.print(_hanging("", CAUTION, width))
    text = console.file
    assert isinstance(text, io.StringIO)  # noqa: S101 - given above
    return "\n".join(line.rstrip() for line in text.getvalue().splitlines())


def feature_words(name: str, feature: Json) -> str:
    """One feature in words: its value and probability, or why it was not read."""
    status = feature["status"]
    if status == "seen":
        words = value_words(name, feature["value"])
        interval = feature.get("interval_deg")
        if interval:
            words += f" ({_degrees(interval[0])} to {_degrees(interval[1])})"
        return f"{words}, {_percent(feature['probability'])}"
    reason = feature["reason"]
    why = REASON_WORDS.get(reason, str(reason).replace("_", " ")) if reason else "no reason given"
    if status == "unsure":
        return f"unsure{_likeliest(name, feature['distribution'])}, {why}"
    return f"not seen, {why}"


def value_words(name: str, value: object) -> str:
    """A feature's value in words."""
    if name == "mark_bearing_deg" and isinstance(value, int | float):
        return f"{_degrees(value)}, {direction_words(value)}"
    return VALUE_WORDS.get((name, value), str(value).replace("_", " "))


def _headline(pair: Json, photos: int) -> str:
    used = pair["photos_used"]
    plural = "photo" if photos == 1 else "photos"
    return f"{PAIR_WORDS[pair['status']]} ({used} of {photos} {plural} used)."


def _table(pair: Json) -> Any:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, expand=False)
    table.add_column("As seen facing the intakes", no_wrap=True)
    for side in ("left", "right"):
        table.add_column(side.upper(), ratio=1)
    for name, label in ROWS:
        cells = []
        for side in ("left", "right"):
            carb = pair["carbs"].get(side)
            cells.append(feature_words(name, carb["features"][name]) if carb else "not found")
        table.add_row(label, *cells)
    return table


def _photo_lines(photo: Json) -> Iterator[tuple[str, str]]:
    name = f"  {photo['file']}: "
    if photo["error"]:
        yield name, f"NOT READ. {photo['error']['message']} {photo['error']['remedy']}"
        return
    places = [carb["position"] or "carburettor (side unknown)" for carb in photo["carbs"]]
    seen = " and ".join(places) if places else "no carburettor seen"
    yield name, f"{seen}; picture {photo['quality']['status']}"
    for finding in photo["quality"]["findings"]:
        yield "    - ", finding["advice"]
    if "mirrored_exif" in photo["notes"]:
        yield "    - ", "The file says it is a mirror image; left and right need a second look."


def _likeliest(name: str, distribution: Json | None) -> str:
    if not distribution or "mean_deg" in distribution:
        return ""
    value, probability = max(distribution.items(), key=lambda item: float(item[1]))
    typed: object = {"true": True, "false": False}.get(str(value).lower(), value)
    return f" (perhaps {value_words(name, typed)}, {_percent(probability)})"


def _percent(probability: float | None) -> str:
    if probability is None:
        return "probability unknown"
    # Never "100 %": nothing read from a photo is certain.
    return "over 99 %" if probability >= 0.995 else f"{100 * probability:.0f} %"


def _degrees(angle: float) -> str:
    return f"{angle:+.0f}°" if round(angle) else "0°"


def _hanging(lead: str, text: str, width: int) -> str:
    import textwrap

    return textwrap.fill(
        text, width, initial_indent=lead, subsequent_indent=" " * min(len(lead), 6)
    )
