"""An inspection's JSON as text that a person reads at a glance."""

import io
from collections.abc import Iterator, Mapping
from typing import Any

from carbpair.feature_text import PLAIN, ROWS, carb_line, feature_words, value_words
from carbpair.part_width import small_parts

Json = Mapping[str, Any]

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


def report_text(inspection: Json, width: int = 100, caution: bool = True) -> str:
    """Plain text of an inspection (schema carbpair/inspection/1), `width` characters wide.

    With several photos each carb of each photo has a line of its own.
    """
    from rich.console import Console

    console = Console(
        file=io.StringIO(), width=width, color_system=None, highlight=False, markup=False
    )
    pair, photos = inspection["pair"], inspection["photos"]
    console.print(_headline(pair, len(photos)))
    warning = more_than_one_pair(inspection)
    if warning:
        console.print(_hanging("", warning, width))
    if any(pair["carbs"].get(side) for side in ("left", "right")):
        console.print(_table(pair))
        for key, label in (("layout", "Float bowls of the pair"), ("matched", "Matched pair")):
            console.print(f"{label}: {feature_words(key, pair[key])}")
    advice = [*(one.sentence() for one in small_parts(inspection)), *pair["advice"]]
    if advice:
        console.print("\nNext")
        for line in advice:
            console.print(_hanging("  - ", line, width))
    several = sum(bool(photo["carbs"]) for photo in photos) > 1
    only = f" (a percentage is given where it is below {100 * PLAIN:.0f} %)" if several else ""
    console.print(f"\nPhotos{only}")
    for photo in photos:
        for lead, line in _photo_lines(photo, several):
            console.print(_hanging(lead, line, width))
    if caution:
        console.print(f"\n{caution_text(width)}")
    text = console.file
    assert isinstance(text, io.StringIO)  # noqa: S101 - given above
    return "\n".join(line.rstrip() for line in text.getvalue().splitlines())


def caution_text(width: int = 100) -> str:
    """The caution, `width` characters wide."""
    return _hanging("", CAUTION, width)


def more_than_one_pair(inspection: Json) -> str | None:
    """Says that the photos seem to show several pairs, with the plainest example; None if not."""
    found = inspection["pair"].get("contradictions")
    if not found:
        return None
    plainest = found[0]
    name = plainest["feature"]
    first, second = (
        f"{value_words(name, value)} in {file}"
        for value, file in zip(plainest["values"], plainest["files"], strict=True)
    )
    return (
        "THESE PHOTOS SEEM TO SHOW MORE THAN ONE PAIR. "
        f"The {plainest['position']} carburettor's {dict(ROWS)[name].lower()}: {first}, but "
        f"{second}. "
        "Inspect one pair at a time; with --each every photo counts as a pair of its own."
    )


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
        if not any(carb and name in carb["features"] for carb in pair["carbs"].values()):
            continue  # inspections of earlier versions lack some
        cells = []
        for side in ("left", "right"):
            carb = pair["carbs"].get(side)
            cells.append(feature_words(name, carb["features"][name]) if carb else "not found")
        table.add_row(label, *cells)
    return table


def _photo_lines(photo: Json, with_carbs: bool) -> Iterator[tuple[str, str]]:
    name = f"  {photo['file']}: "
    if photo["error"]:
        yield name, f"NOT READ. {photo['error']['message']} {photo['error']['remedy']}"
        return
    carbs = sorted(photo["carbs"], key=lambda carb: (carb["position"] or "~", carb["box"][0]))
    places = [carb["position"] or "carburettor (side unknown)" for carb in carbs]
    seen = " and ".join(places) if places else "no carburettor seen"
    yield name, f"{seen}; picture {photo['quality']['status']}"
    if with_carbs:
        for place, carb in zip(places, carbs, strict=True):
            yield f"    {place}: ", carb_line(carb["features"])
    for finding in photo["quality"]["findings"]:
        yield "    - ", finding["advice"]
    if "mirrored_exif" in photo["notes"]:
        yield "    - ", "The file says it is a mirror image; left and right need a second look."


def _hanging(lead: str, text: str, width: int) -> str:
    import textwrap

    indent = " " * min(len(lead), 6)
    # file names keep their hyphens
    return textwrap.fill(
        text, width, initial_indent=lead, subsequent_indent=indent, break_on_hyphens=False
    )
