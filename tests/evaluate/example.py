"""Literal readings and truth for the tests of the tables."""

from typing import Any

from carbpair.evaluate.scored import Scored, scored
from carbpair.evaluate.truth import FEATURES, CarbTruth, PhotoTruth
from carbpair.inspection import CarbInspection, PhotoInspection
from carbpair.pair import NAMES
from carbpair.vision.feature import Feature, Value, hidden

LEFT = (0.0, 0.0, 100.0, 100.0)
RIGHT = (200.0, 0.0, 300.0, 100.0)


def seen(value: Value, p: float = 0.95) -> Feature:
    rest = {"?": 1 - p}
    return Feature(value, p, "seen", None, {str(value).lower(): p, **rest})


def held(value: Value, p: float = 0.6) -> Feature:
    """Unsure, with a likeliest value."""
    return Feature(None, p, "unsure", "low_confidence", {str(value).lower(): p, "?": 1 - p})


def bearing(mean: float, p: float = 0.95, sd: float = 3.0, *, said: bool = True) -> Feature:
    spread = {"mean_deg": mean, "sd_deg": sd}
    if said:
        return Feature(mean, p, "seen", None, spread, (mean - 5, mean + 5))
    return Feature(None, p, "unsure", "low_confidence", spread)


def carb(box=LEFT, position: str | None = "left", **features: Feature) -> CarbInspection:
    given = {name: features.get(name, hidden("occluded")) for name in NAMES}
    return CarbInspection(position, box, 0.9, given, {})


def true(
    box=LEFT, position: str | None = "left", *, size: float | None = 0.1, present: bool = True,
    hidden: tuple[str, ...] = (), **values: Any,
) -> CarbTruth:  # fmt: skip
    shown = frozenset(values) - set(hidden)
    assert set(values) <= set(FEATURES)
    return CarbTruth(box, position, values, shown, frozenset(hidden), present, size)


def photo(truths: list, carbs: list, *, file: str = "a.jpg", pair: str | None = None) -> Scored:
    inspection = PhotoInspection(file, 400, 100, carbs=tuple(carbs), fingerprint=abs(hash(file)))
    return scored(PhotoTruth(file, tuple(truths), pair), inspection)
