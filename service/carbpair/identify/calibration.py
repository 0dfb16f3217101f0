"""Calibration: whether a stated 0.9 is right nine times in ten.

Fitting and measuring (temperature, reliability table, expected calibration error and the
error that even a perfect model would show), and the fitted figures as they are kept.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.confusion import Confusion
from carbpair.identify.confusion_file import shipped_file
from carbpair.identify.error import BadInputError

SCHEMA = "carbpair/calibration/1"
BINS = 10
STATED_RISK = 0.02
"""Largest accepted share of wrong names among the named."""
UNCALIBRATED_THRESHOLD = 0.98
"""Where no calibration fits the catalogue, each single answer must carry the stated risk."""
NO_LIMIT = 1.0

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Calibration:
    """Figures fitted by simulation for one catalogue and one confusion file.

    ``temperature`` divides the log likelihoods of photo evidence. A pattern is named when
    its probability reaches ``answer_threshold`` and that of another source, before the ceiling
    for photos alone, is ``other_limit`` at most: two promises, two limits. ``conformal``:
    hypothesis → threshold. ``photos``, ``several``: as in Confusion.
    """

    temperature: float = 1.0
    answer_threshold: float = UNCALIBRATED_THRESHOLD
    other_limit: float = NO_LIMIT
    stated_risk: float = STATED_RISK
    level: float = 0.9
    conformal: Mapping[str, float] = field(default_factory=dict)
    cases: int = 0
    photos: int = 1
    several: Calibration | None = None

    def for_photos(self, count: int) -> Calibration:
        """The figures that hold for a reading from ``count`` photos, as Confusion.for_photos."""
        if self.several is not None and count >= self.several.photos:
            return self.several.for_photos(count)
        return self

    @property
    def fitted(self) -> bool:
        """Whether any case stands behind these figures."""
        return self.cases > 0


@dataclass(frozen=True)
class ReliabilityBin:
    """One row of the reliability table: stated probability against how often it was right."""

    low: float
    high: float
    n: int
    stated: float
    observed: float


def reliability_table(stated: Vector, right: Vector, bins: int = BINS) -> list[ReliabilityBin]:
    """Equal-width bins over [0, 1]; empty bins are left out. Shapes (n,), (n,)."""
    edges = np.linspace(0.0, 1.0, bins + 1)
    place = np.clip(np.searchsorted(edges, stated, side="left") - 1, 0, bins - 1)
    rows = []
    for number in range(bins):
        chosen = place == number
        if chosen.any():
            rows.append(
                ReliabilityBin(
                    float(edges[number]),
                    float(edges[number + 1]),
                    int(chosen.sum()),
                    float(stated[chosen].mean()),
                    float(right[chosen].mean()),
                )
            )
    return rows


def expected_calibration_error(stated: Vector, right: Vector, bins: int = BINS) -> float:
    """Σ (n_bin / n) |observed − stated| over equal-width bins (Naeini et al., AAAI 2015)."""
    table = reliability_table(stated, right, bins)
    return float(sum(row.n * abs(row.observed - row.stated) for row in table) / stated.size)


def noise_floor(
    stated: Vector, quantile: float = 0.95, draws: int = 1000, seed: int = 0, bins: int = BINS
) -> float:
    """The calibration error that a perfectly calibrated model stays below with ``quantile``.

    Outcomes are drawn from the stated probabilities themselves, so what remains is chance.
    """
    generator = np.random.default_rng(seed)
    edges = np.linspace(0.0, 1.0, bins + 1)
    place = np.clip(np.searchsorted(edges, stated, side="left") - 1, 0, bins - 1)
    total = np.bincount(place, weights=stated, minlength=bins)
    errors = np.empty(draws)
    for draw in range(draws):
        right = generator.random(stated.size) < stated
        observed = np.bincount(place, weights=right, minlength=bins)
        errors[draw] = np.abs(observed - total).sum() / stated.size
    return float(np.quantile(errors, quantile))


def load_calibration(
    catalogue: Catalogue, confusion: Confusion, path: str | Path | None = None
) -> Calibration:
    """The kept calibration if it was fitted for this catalogue and confusion, else none.

    ``path`` None means the one that ships with the weights. A calibration for other data
    promises nothing here, so it is set aside.
    """
    file = Path(path) if path is not None else shipped_file("identification.json")
    if not file.exists():
        return Calibration()
    try:
        held = json.loads(file.read_bytes())
        if held.get("schema") != SCHEMA:
            raise ValueError(f"schema {held.get('schema')!r}")
        same = (
            held["catalogue_sha256"] == catalogue.sha256
            and held["confusion_sha256"] == confusion.sha256
        )
        if not same:
            return Calibration()
        return chained([_figures(held), *map(_figures, held.get("several_photos") or ())])
    except (ValueError, KeyError, TypeError, AttributeError, OSError) as error:
        raise BadInputError(
            f"{file.name}: not a calibration file ({error}).",
            "Remake it with: carbpair catalogue calibrate FILE",
        ) from None


def chained(tiers: Sequence[Calibration]) -> Calibration:
    """One calibration of those for growing numbers of photos; ``tiers`` must not be empty."""
    *fewer, held = tiers
    for tier in reversed(fewer):
        held = replace(tier, several=held)
    return held


def _figures(held: Mapping[str, Any]) -> Calibration:
    return Calibration(
        temperature=float(held["temperature"]),
        answer_threshold=float(held["answer_threshold"]),
        other_limit=float(held["other_limit"]),
        stated_risk=float(held["stated_risk"]),
        level=float(held["conformal"]["level"]),
        conformal={key: float(x) for key, x in held["conformal"]["thresholds"].items()},
        cases=int(held["cases"]),
        photos=int(held["photos"]),
    )


def dump_calibration(
    calibration: Calibration, catalogue: Catalogue, confusion: Confusion
) -> dict[str, object]:
    """The calibration as it is written to a file."""
    tiers = []
    further = calibration.several
    while further is not None:
        tiers.append(_dumped(further))
        further = further.several
    kept: dict[str, object] = {
        "schema": SCHEMA,
        "catalogue": catalogue.header.id,
        "catalogue_sha256": catalogue.sha256,
        "confusion_sha256": confusion.sha256,
        **_dumped(calibration),
    }
    if tiers:
        kept["several_photos"] = tiers
    return kept


def _dumped(calibration: Calibration) -> dict[str, object]:
    return {
        "photos": calibration.photos,
        "cases": calibration.cases,
        "temperature": calibration.temperature,
        "stated_risk": calibration.stated_risk,
        "answer_threshold": calibration.answer_threshold,
        "other_limit": calibration.other_limit,
        "conformal": {"level": calibration.level, "thresholds": dict(calibration.conformal)},
    }


def calibration_file(catalogue_file: str | Path) -> Path:
    """Where a catalogue's own calibration is kept: beside it."""
    file = Path(catalogue_file)
    return file.with_name(f"{file.stem}.calibration.json")
