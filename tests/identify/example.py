"""Readings, inspections and catalogues for the identification's tests."""

from __future__ import annotations

from typing import Any

import numpy as np

from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS
from carbpair.identify.catalogue import Catalogue
from carbpair.identify.catalogue_file import parse_catalogue
from carbpair.identify.confusion import BearingConfusion, Confusion, LabelConfusion
from carbpair.identify.reading import BearingReading, CarbReading, LabelReading, PairReading

VALUES: dict[str, list[Any]] = {
    "flange_holes": [2, 3, 4],
    "hole_layout": list(HOLE_LAYOUTS),
    "bowl_side": ["inboard", "outboard", "none"],
    "chamber": ["piston", "diaphragm"],
    "filter_fitted": [True, False],
}


def label(value: str, p: float = 0.97) -> LabelReading:
    return LabelReading("seen", value, {value: p})


def mark(bearing: float, sd: float = 3.0) -> BearingReading:
    half = 1.6449 * sd
    return BearingReading("seen", bearing, sd, (bearing - half, bearing + half))


def carb(
    holes: str | None,
    bowl: str | None,
    chamber: str | None,
    bearing: float | None = None,
    layout: str | None = None,
) -> CarbReading:
    given = {
        "flange_holes": holes,
        "hole_layout": layout,
        "bowl_side": bowl,
        "chamber": chamber,
    }
    labels = {name: label(value) for name, value in given.items() if value is not None}
    return CarbReading(labels, mark(bearing)) if bearing is not None else CarbReading(labels)


def pair(*arguments: Any) -> PairReading:
    return PairReading(carb(*arguments), carb(*arguments), photos=1)


def hidden(reason: str = "occluded") -> dict[str, Any]:
    return {
        "value": None,
        "probability": None,
        "status": "not_visible",
        "reason": reason,
        "distribution": None,
    }


def seen(name: str, value: Any, p: float = 0.97) -> dict[str, Any]:
    values = VALUES[name]
    rest = (1 - p) / (len(values) - 1)
    keys = {
        str(v).lower() if isinstance(v, bool) else str(v): p if v == value else rest for v in values
    }
    return {
        "value": value,
        "probability": p,
        "status": "seen",
        "reason": None,
        "distribution": keys,
    }


def seen_mark(bearing: float, sd: float = 3.0) -> dict[str, Any]:
    return {
        "value": bearing,
        "probability": 0.95,
        "status": "seen",
        "reason": None,
        "distribution": {"mean_deg": bearing, "sd_deg": sd},
        "interval_deg": [bearing - 1.6449 * sd, bearing + 1.6449 * sd],
    }


def features(
    holes: int | None,
    bowl: str | None,
    chamber: str | None,
    bearing: float | None = None,
    layout: str | None = None,
) -> dict[str, Any]:
    return {
        "features": {
            "hole_layout": hidden() if layout is None else seen("hole_layout", layout),
            "flange_holes": hidden("filter_fitted")
            if holes is None
            else seen("flange_holes", holes),
            "bowl_side": hidden() if bowl is None else seen("bowl_side", bowl),
            "chamber": hidden() if chamber is None else seen("chamber", chamber),
            "filter_fitted": seen("filter_fitted", holes is None),
            "mark_bearing_deg": hidden("too_small") if bearing is None else seen_mark(bearing),
        }
    }


def inspection(left: dict[str, Any] | None, right: dict[str, Any] | None) -> dict[str, Any]:
    return {
        "schema": "carbpair/inspection/1",
        "software": {"name": "carbpair", "version": "0.1.0"},
        "models": [],
        "photos": [{"file": "a.jpg", "carbs": []}],
        "pair": {
            "status": "complete",
            "photos_used": 1,
            "carbs": {"left": left, "right": right},
            "contradictions": [],
            "advice": [],
        },
        "identification": None,
    }


def label_confusion(
    labels: tuple[str, ...], right: float, wrong: float, *, rho: float = 0.0, unsure: float = 0.0
) -> LabelConfusion:
    size = len(labels)
    counts = np.full((size, size + 2), wrong)
    counts[:, size], counts[:, size + 1] = unsure, 0.0
    counts[np.arange(size), np.arange(size)] = right
    return LabelConfusion(labels, counts, np.full(size, 1 / size), rho)


def confusion(*, rho: float = 0.0, right: float = 500.0, wrong: float = 5.0) -> Confusion:
    return Confusion(
        {
            "chamber": label_confusion(("piston", "diaphragm"), right, wrong, rho=rho),
            "flange_holes": label_confusion(("2", "3", "4"), right, wrong, rho=rho),
            "bowl_side": label_confusion(("inboard", "outboard", "none"), right, wrong, rho=rho),
        },
        BearingConfusion(4.0, 0.0, 200),
        "test",
        False,
        "0" * 64,
    )


HEAD = """schema = "carbpair/catalogue/1"
[catalogue]
id = "test"
name = "Test"
version = "1"
"""


def catalogue(body: str) -> Catalogue:
    return parse_catalogue((HEAD + body).encode(), "test.toml")
