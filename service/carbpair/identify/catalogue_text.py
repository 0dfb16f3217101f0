"""A catalogue in words, for the command line."""

from __future__ import annotations

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.inseparable import PHOTO_FEATURES, photo_signature
from carbpair.identify.pattern import Pattern


def catalogue_text(catalogue: Catalogue, listed: bool) -> str:
    """What a checked catalogue holds; ``listed`` adds every pattern and car."""
    head = catalogue.header
    lines = [
        f"{catalogue.source}: no problems found.",
        f"{head.name}, version {head.version}: {len(catalogue.patterns)} patterns, "
        f"{len(catalogue.fitments)} fitments, {len(catalogue.cars)} cars.",
    ]
    alike: dict[tuple[object, ...], list[Pattern]] = {}
    for pattern in catalogue.patterns:
        alike.setdefault(photo_signature(pattern, PHOTO_FEATURES), []).append(pattern)
    for group in alike.values():
        if len(group) > 1:
            names = ", ".join(pattern.id for pattern in group)
            lines.append(f"No photo can tell apart: {names}. The tag or a hand check must.")
    unused = {p.id for p in catalogue.patterns} - {f.pattern for f in catalogue.fitments}
    if unused:
        lines.append(f"Patterns that no car is listed with: {', '.join(sorted(unused))}.")
    if listed:
        lines.append("Patterns:")
        lines += [f"  {pattern.id}: {pattern.name}" for pattern in catalogue.patterns]
        lines.append("Cars:")
        lines += [f"  {fitment.words}: {fitment.pattern}" for fitment in catalogue.fitments]
    return "\n".join(lines)
