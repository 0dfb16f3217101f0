"""The readers' findings about a pair, taken from the inspection's JSON.

Only what the readers said is kept; what they could not see stays None and is neutral.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from carbpair.identify.error import BadInputError
from carbpair.identify.feature import CARB_POSITIONS

INSPECTION_SCHEMA = "carbpair/inspection/1"
LABEL_FEATURES = ("chamber", "flange_holes", "hole_layout", "bowl_side", "filter_fitted")
STATUSES = ("seen", "unsure", "not_visible")


@dataclass(frozen=True)
class LabelReading:
    """One reader's answer to a question with a few possible values.

    ``value`` is None unless ``status`` is "seen". ``distribution`` is the reader's own
    calibrated probability of each value (sums to 1), None when it gave none.
    """

    status: str
    value: str | None = None
    distribution: Mapping[str, float] | None = None
    reason: str | None = None

    @property
    def informative(self) -> bool:
        """Whether it says anything: a value, or a distribution over values."""
        if self.status == "not_visible":
            return False
        return self.value is not None or self.distribution is not None

    @property
    def probability(self) -> float | None:
        """The reader's own probability of ``value``, None when it gave none."""
        if self.value is None or self.distribution is None:
            return None
        return self.distribution.get(self.value)


@dataclass(frozen=True)
class BearingReading:
    """The mark's bearing in degrees, (−180, 180], clockwise from the intake seen from above.

    ``sd_deg`` is the reader's own standard deviation, ``interval_deg`` its 90 % interval,
    ``probability`` its own that this is the mark.
    """

    status: str
    bearing_deg: float | None = None
    sd_deg: float | None = None
    interval_deg: tuple[float, float] | None = None
    reason: str | None = None
    probability: float | None = None

    @property
    def informative(self) -> bool:
        """Whether a bearing was given."""
        return self.status != "not_visible" and self.bearing_deg is not None


UNSEEN = LabelReading("not_visible")
NO_BEARING = BearingReading("not_visible")


@dataclass(frozen=True)
class CarbReading:
    """Everything read about one carburettor."""

    labels: Mapping[str, LabelReading] = field(default_factory=dict)
    bearing: BearingReading = NO_BEARING

    def label(self, name: str) -> LabelReading:
        """The reading of ``name``, UNSEEN where there is none."""
        return self.labels.get(name, UNSEEN)


@dataclass(frozen=True)
class Dispute:
    """A feature of one carburettor that two photos surely show with two values."""

    position: str
    feature: str
    values: tuple[str, str]
    files: tuple[str, str]

    def words(self) -> str:
        """One sentence for a person."""
        name = self.feature.replace("_", " ")
        return (
            f"The {self.position} carburettor's {name} reads {self.values[0]} in {self.files[0]} "
            f"and {self.values[1]} in {self.files[1]}: these photos seem to show more than one "
            "pair. Inspect one pair at a time, or confirm the feature by hand."
        )


@dataclass(frozen=True)
class PairReading:
    """Both carburettors as seen facing the air intakes; None where one was not found.

    ``photos``: how many showed each carburettor at its place, repeated shots counted once.
    """

    left: CarbReading | None = None
    right: CarbReading | None = None
    photos: int = 0
    advice: tuple[str, ...] = ()
    disputes: tuple[Dispute, ...] = ()

    def carb(self, position: str) -> CarbReading:
        """The carburettor at ``position``; an empty reading where it was not found."""
        held = self.left if position == "left" else self.right
        return held if held is not None else CarbReading()


def read_inspection(inspection: Mapping[str, Any]) -> PairReading:
    """The pair in an inspection's JSON; raises BadInputError when it is not one."""
    if not isinstance(inspection, Mapping):
        raise BadInputError("The features file is not a JSON object.", _REMEDY)
    schema = inspection.get("schema")
    if schema != INSPECTION_SCHEMA:
        raise BadInputError(
            f"The features file has schema {schema!r}; {INSPECTION_SCHEMA!r} is needed.", _REMEDY
        )
    pair = _table(inspection.get("pair"), "pair")
    carbs = _table(pair.get("carbs"), "pair.carbs")
    placed = {
        position: _carb(carbs.get(position), f"pair.carbs.{position}")
        for position in CARB_POSITIONS
    }
    if placed["left"] is None and placed["right"] is None:
        placed["left"] = _best_unplaced(inspection)
    return PairReading(
        left=placed["left"],
        right=placed["right"],
        photos=_photos_used(inspection, pair),
        advice=tuple(str(line) for line in pair.get("advice") or ()),
        disputes=tuple(
            _dispute(held)
            for held in pair.get("contradictions") or ()
            if not _corrected(carbs, _table(held, "pair.contradictions"))
        ),
    )


_REMEDY = "Make one with: carbpair inspect PHOTO... --json > features.json"


def _photos_used(inspection: Mapping[str, Any], pair: Mapping[str, Any]) -> int:
    """In how many photos each carburettor was placed; the smaller number of the two."""
    photos = [photo for photo in inspection.get("photos") or () if isinstance(photo, Mapping)]
    placed = [
        sum(
            any(carb.get("position") == side for carb in photo.get("carbs") or ())
            for photo in photos
        )
        for side in CARB_POSITIONS
    ]
    used = pair.get("photos_used")
    return min(*placed, used) if isinstance(used, int) else min(placed)


CORRECTED = "corrected_by_hand"


def _corrected(carbs: Mapping[str, Any], held: Mapping[str, Any]) -> bool:
    """Whether a person has settled since what the feature is."""
    carb = carbs.get(str(held.get("position"))) or {}
    feature = (carb.get("features") or {}).get(str(held.get("feature"))) or {}
    return feature.get("reason") == CORRECTED


def _dispute(held: Mapping[str, Any]) -> Dispute:
    try:
        one, other = held["values"]
        first, second = held["files"]
        return Dispute(
            str(held["position"]),
            str(held["feature"]),
            (as_label(one), as_label(other)),
            (str(first), str(second)),
        )
    except (KeyError, TypeError, ValueError):
        raise BadInputError("pair.contradictions cannot be read.", _REMEDY) from None


def _best_unplaced(inspection: Mapping[str, Any]) -> CarbReading | None:
    """A lone carburettor whose place is not known still shows chamber and holes.

    Its bowl side is dropped: inboard and outboard mean nothing without a place.
    """
    found = [
        carb
        for photo in inspection.get("photos") or ()
        for carb in (photo.get("carbs") or () if isinstance(photo, Mapping) else ())
    ]
    if not found:
        return None
    best = max(found, key=lambda carb: float(carb.get("score") or 0.0))
    reading = _carb(best, "photos[].carbs[]")
    if reading is None:
        return None
    kept = {name: label for name, label in reading.labels.items() if name != "bowl_side"}
    return CarbReading(kept, reading.bearing)


def _carb(held: Any, where: str) -> CarbReading | None:
    if held is None:
        return None
    features = _table(_table(held, where).get("features"), f"{where}.features")
    labels = {
        name: _label(_table(features[name], f"{where}.features.{name}"), f"{where}.{name}")
        for name in LABEL_FEATURES
        if features.get(name) is not None
    }
    bearing = features.get("mark_bearing_deg")
    return CarbReading(
        labels,
        NO_BEARING if bearing is None else _bearing(_table(bearing, where), f"{where}.mark"),
    )


def _label(held: Mapping[str, Any], where: str) -> LabelReading:
    status = _status(held, where)
    value = None if status != "seen" or held.get("value") is None else as_label(held["value"])
    raw = held.get("distribution")
    distribution: dict[str, float] | None = None
    if status != "not_visible" and isinstance(raw, Mapping) and raw:
        distribution = {as_label(key): _number(p, where) for key, p in raw.items()}
    elif value is not None and held.get("probability") is not None:
        distribution = {value: _number(held["probability"], where)}
    if distribution is not None and (
        any(not 0.0 <= p <= 1.0 + 1e-6 for p in distribution.values())
        or sum(distribution.values()) > 1.02
    ):
        raise BadInputError(f"{where}: the probabilities are not a distribution.", _REMEDY)
    return LabelReading(status, value, distribution, held.get("reason"))


def _bearing(held: Mapping[str, Any], where: str) -> BearingReading:
    status = _status(held, where)
    raw = held.get("distribution")
    spread = raw if isinstance(raw, Mapping) else {}
    value = held.get("value") if status == "seen" else None
    if value is None:
        value = spread.get("mean_deg")
    interval = held.get("interval_deg")
    return BearingReading(
        status,
        None if value is None or status == "not_visible" else wrap_deg(_number(value, where)),
        None if spread.get("sd_deg") is None else _number(spread["sd_deg"], where),
        None if not interval else (_number(interval[0], where), _number(interval[1], where)),
        held.get("reason"),
        None if held.get("probability") is None else _number(held["probability"], where),
    )


def wrap_deg(angle: float) -> float:
    """``angle`` brought into (−180, 180] degrees."""
    wrapped = math.fmod(angle, 360.0)
    if wrapped > 180.0:
        wrapped -= 360.0
    return wrapped + 360.0 if wrapped <= -180.0 else wrapped


def as_label(value: Any) -> str:
    """A feature's value as text: True → "true", 3 → "3"."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value).strip().lower()


def _status(held: Mapping[str, Any], where: str) -> str:
    status = held.get("status")
    if status not in STATUSES:
        raise BadInputError(
            f"{where}: status {status!r} is not one of {', '.join(STATUSES)}.", _REMEDY
        )
    return str(status)


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise BadInputError(f"{where}: {value!r} is not a number.", _REMEDY)
    return float(value)


def _table(held: Any, where: str) -> Mapping[str, Any]:
    if held is None:
        return {}
    if not isinstance(held, Mapping):
        raise BadInputError(f"{where} is not a table in the features file.", _REMEDY)
    return held
