"""The answer about one pair, as data: what ``identify`` returns and everyone shows."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

from carbpair.identify.checklist import ChecklistItem
from carbpair.identify.deviation import Deviation
from carbpair.identify.inseparable import Inseparable
from carbpair.identify.kit import KitAdvice
from carbpair.identify.view import NextPhoto

SCHEMA = "carbpair/identification/1"


@dataclass(frozen=True)
class Candidate:
    """One hypothesis. ``kind``: pattern, other_source or mixed_pair."""

    id: str
    name: str
    kind: str
    probability: float


@dataclass(frozen=True)
class Reason:
    """One piece of evidence for the leading candidate, in bits (negative speaks against)."""

    evidence: str
    source: str
    text: str
    bits: float


@dataclass(frozen=True)
class CatalogueStamp:
    """Which catalogue was asked."""

    id: str
    name: str
    version: str
    demo: bool
    sha256: str


@dataclass(frozen=True)
class Trust:
    """What stands behind the probabilities.

    ``other_limit``: the most that another source may have where a pattern is named.
    ``calibrated``: a simulation was fitted for this catalogue and these readers.
    ``provisional_readers``: the readers' errors are assumed, not measured.
    """

    stated_risk: float
    answer_threshold: float
    other_limit: float
    calibrated: bool
    provisional_readers: bool
    readers: str
    photos_only: bool


@dataclass(frozen=True)
class Identification:
    """Everything about one pair.

    ``answer``: the named pattern, None when naming one would risk more than
    ``trust.stated_risk``. ``verdict``: pattern, group (only inseparable ones are left),
    other_source, mixed_pair, contradiction or undecided. ``why`` weighs the evidence for
    ``why_for`` (the leading hypothesis and its look-alikes). ``conformal_set``: hypotheses that
    cannot be ruled out at ``conformal_level``; None where no calibration fits.
    """

    catalogue: CatalogueStamp
    facts: dict[str, Any]
    candidates: tuple[Candidate, ...]
    answer: str | None
    verdict: str
    summary: str
    why_for: tuple[str, ...]
    why: tuple[Reason, ...]
    inseparable: tuple[Inseparable, ...]
    conformal_set: tuple[str, ...] | None
    conformal_level: float
    contradictions: tuple[str, ...]
    expected: tuple[str, ...]
    deviations: tuple[Deviation, ...]
    not_checked: tuple[str, ...]
    checklist: tuple[ChecklistItem, ...]
    kits: tuple[KitAdvice, ...]
    next_photo: NextPhoto | None
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    trust: Trust

    def to_json(self) -> dict[str, Any]:
        """Plain JSON; keys in reading order, numbers rounded to what they can bear."""
        held: dict[str, Any] = {"schema": SCHEMA}
        for field in dataclasses.fields(self):
            held[field.name] = _plain(getattr(self, field.name))
        return held


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        if isinstance(value, NextPhoto):
            return _plain_photo(value)
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, float):
        return round(value, 6)
    return value


def _plain_photo(photo: NextPhoto) -> dict[str, Any]:
    return {
        "view": photo.view.id,
        "title": photo.view.title,
        "shows": list(photo.view.shows),
        "how": [*photo.advice, *photo.view.how],
        "bits": round(photo.bits, 6),
        "why": photo.why,
        "svg": photo.view.drawing,
    }
