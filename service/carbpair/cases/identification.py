"""The case store's one door to the identification: what was said and corrected goes in too."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from carbpair.cases.correction import Correction
from carbpair.cases.settings import ServiceSettings
from carbpair.identify import (
    Catalogue,
    IdentifyError,
    demo_catalogue,
    identify_inspection,
    load_catalogue,
)

# Corrections that the identification takes as hand-confirmed facts, with their names there.
CONFIRMED = {
    "flange_holes": "flange_holes",
    "hole_layout": "hole_layout",
    "bowl_side": "bowl_side",
    "chamber": "chamber",
    "mark_bearing_deg": "mark_verdict",
    "heat_shield": "heat_shield",
    "return_spring": "return_spring",
    "choke_linkage": "choke_linkage",
}
# A mark within this many degrees of the intake direction faces it.
FACING_TOLERANCE_DEG = 15.0


@dataclass(frozen=True)
class Said:
    """What the sender says about the car; all of it optional."""

    car: str | None = None
    engine: str | None = None
    year: int | None = None
    tag_text: str | None = None
    symptoms: Sequence[str] = ()

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Said":
        """Read the fields that are known, ignore others."""
        return cls(**{name: data[name] for name in cls.__dataclass_fields__ if name in data})

    def as_json(self) -> dict[str, Any]:
        """Return the fields as JSON values."""
        return asdict(self)


def catalogue_in_force(settings: ServiceSettings) -> Catalogue:
    """Return the workshop's catalogue, or the demonstration one when none is set."""
    if settings.catalogue is None:
        return _demo()
    return _load(settings.catalogue, settings.catalogue.stat().st_mtime_ns)


def warm_up(settings: ServiceSettings) -> None:
    """Load the catalogue and its calibration now: the first reader should not wait a second."""
    nothing = {"schema": "carbpair/inspection/1", "photos": [], "pair": {"carbs": {}}}
    identify(nothing, Said(), [], settings)


@lru_cache(maxsize=1)
def _demo() -> Catalogue:
    return demo_catalogue()


@lru_cache(maxsize=4)
def _load(path: Path, _modified: int) -> Catalogue:
    return load_catalogue(path)


def identify(
    inspection: Mapping[str, Any],
    said: Said,
    corrections: Sequence[Correction],
    settings: ServiceSettings,
) -> dict[str, Any]:
    """Return the identification of schema ``carbpair/identification/1``.

    What was said but cannot be used, such as a car that the catalogue does not hold, is left out
    and stands in the extra list ``problems`` (kind, message, remedy), so that the rest still
    counts and nothing is guessed.
    """
    catalogue = catalogue_in_force(settings)
    wanted = _facts(said, corrections)
    try:
        return identify_inspection(inspection, catalogue, wanted).to_json() | {"problems": []}
    except IdentifyError:
        pass
    usable: dict[str, Any] = {}
    problems: list[dict[str, str]] = []
    found = identify_inspection(inspection, catalogue, usable)
    for name, value in wanted.items():
        try:
            found = identify_inspection(inspection, catalogue, {**usable, name: value})
            usable[name] = value
        except IdentifyError as error:
            problems.append({"kind": error.kind, "message": error.message, "remedy": error.remedy})
    return found.to_json() | {"problems": problems}


def _facts(said: Said, corrections: Sequence[Correction]) -> dict[str, Any]:
    confirmed: dict[str, Any] = {}
    tags = [said.tag_text] if said.tag_text else []
    for one in corrections:
        if one.value is None:
            continue
        if one.feature == "tag":
            if one.position == "pair":
                # Read at the desk: counts instead of what the customer typed.
                tags = [one.value]
            else:
                tags.append(f"{one.position}:{one.value}")
            continue
        name = CONFIRMED.get(one.feature)
        if name is None:
            continue
        value = one.value
        if one.feature == "mark_bearing_deg":
            value = "faces_intake" if abs(value) <= FACING_TOLERANCE_DEG else "turned"
        confirmed[name if one.position == "pair" else f"{one.position}.{name}"] = value
    facts = {
        "confirmed": confirmed,
        "car": said.car,
        "engine": said.engine,
        "year": said.year,
        "tags": tags,
        "symptoms": list(said.symptoms),
    }
    return {name: value for name, value in facts.items() if value}
