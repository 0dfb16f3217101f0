"""The single further photo that would reduce doubt most, and how to take it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
import numpy.typing as npt

from carbpair.identify.confusion import Confusion
from carbpair.identify.feature import CARB_POSITIONS
from carbpair.identify.information import expected_gain_bits, product_outcomes
from carbpair.identify.mark import ASSEMBLY_SD_DEG, TURNED_SHARE, von_mises
from carbpair.identify.pattern_table import PatternTable, over_patterns
from carbpair.identify.reading import PairReading

SMALLEST_GAIN_BITS = 0.02
"""Below this a further photo is not worth the sender's time."""
MARK_BINS = 24
DISPUTED_SHARE = 0.5
"""A second photo of a pair counts half (pair.fusion.CORRELATION)."""

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class View:
    """A photo that can be asked for; ``drawing`` is inline SVG of the view."""

    id: str
    title: str
    shows: tuple[str, ...]
    how: tuple[str, ...]
    needs_filter_off: bool
    drawing: str


@dataclass(frozen=True)
class NextPhoto:
    """``bits``: expected gain about the pattern; 0 when it is wanted for the marks only."""

    view: View
    bits: float
    why: str
    advice: tuple[str, ...]


@cache
def views() -> tuple[View, ...]:
    """Every view that can be asked for."""
    data = resources.files("carbpair.identify") / "data"
    held = tomllib.loads((data / "views.toml").read_text(encoding="utf-8"))
    return tuple(
        View(
            row["id"],
            row["title"],
            tuple(row["shows"]),
            tuple(row["how"]),
            row["needs_filter_off"],
            (data / "views" / row["file"]).read_text(encoding="utf-8").strip(),
        )
        for row in held["view"]
    )


def next_photo(
    reading: PairReading,
    shares: npt.NDArray[np.float64],
    table: PatternTable,
    confusion: Confusion,
    settled: frozenset[str],
) -> NextPhoto | None:
    """The view with the largest expected gain, or None when no photo would help.

    ``shares``: shape (patterns + 1,), the posterior of each pattern and of "other source",
    summing to 1. ``settled``: features confirmed by hand, which no photo needs to repeat.
    """
    open_share = {
        name: _open_share(reading, name, confusion)
        for name in ("chamber", "flange_holes", "bowl_layout", "mark")
        if name not in settled
    }
    ranked = sorted(
        ((_gain(view, open_share, shares, table, confusion), view) for view in views()),
        key=lambda pair: -pair[0],
    )
    bits, best = ranked[0]
    if bits >= SMALLEST_GAIN_BITS:
        unseen = [name.replace("_", " ") for name in best.shows if open_share.get(name, 0.0) > 0]
        why = f"It would show {', '.join(unseen)}: about {bits:.2f} bits less doubt."
        return NextPhoto(best, bits, why, _advice(best, reading))
    disputed = [
        name for name in ("chamber", "flange_holes") if open_share.get(name) == DISPUTED_SHARE
    ]
    if disputed:
        front = next(view for view in views() if set(disputed) <= set(view.shows))
        names = ", ".join(name.replace("_", " ") for name in disputed)
        why = f"Left and right differ in {names}: another photo shows whether they really do."
        return NextPhoto(front, bits, why, _advice(front, reading))
    if open_share.get("mark", 0.0) > 0 and np.isfinite(table.required_mark_deg).any():
        top = next(view for view in views() if "mark" in view.shows)
        why = "The pattern gains little, but the alignment marks were not seen on both covers."
        return NextPhoto(top, bits, why, _advice(top, reading))
    return None


def _open_share(reading: PairReading, feature: str, confusion: Confusion) -> float:
    """How much of a reading is still to be had: 1 unseen, 0 seen on both carburettors.

    Where one is seen, the other repeats it in the share of scenes that decide both alike. Where
    both are seen and differ, as no two of one pattern do, another photo shows who is right.
    """
    if feature == "mark":
        seen = sum(reading.carb(side).bearing.status == "seen" for side in CARB_POSITIONS)
        return (1.0, 0.5, 0.0)[seen]
    name = "bowl_side" if feature == "bowl_layout" else feature
    seen = sum(reading.carb(side).label(name).status == "seen" for side in CARB_POSITIONS)
    values = {reading.carb(side).label(name).value for side in CARB_POSITIONS}
    if seen == len(CARB_POSITIONS) and len(values) > 1 and feature != "bowl_layout":
        return DISPUTED_SHARE
    return (1.0, 1.0 - confusion.labels[name].pair_correlation, 0.0)[seen]


def _gain(
    view: View,
    open_share: dict[str, float],
    shares: npt.NDArray[np.float64],
    table: PatternTable,
    confusion: Confusion,
) -> float:
    outcomes: Matrix = np.ones((shares.size, 1))
    weight = 0.0
    shown = [name for name in view.shows if open_share.get(name, 0.0) > 0]
    for name in shown:
        outcomes = product_outcomes(outcomes, outcome_table(name, table, confusion))
        weight = max(weight, open_share[name] * _answered(name, confusion))
    return weight * expected_gain_bits(shares, outcomes) if shown else 0.0


def _answered(feature: str, confusion: Confusion) -> float:
    if feature == "mark":
        return 1.0 - confusion.bearing.unsure_rate
    name = "bowl_side" if feature == "bowl_layout" else feature
    return confusion.labels[name].answered_share


def outcome_table(feature: str, table: PatternTable, confusion: Confusion) -> Matrix:
    """P(reading | hypothesis), shape (patterns + 1, outcomes), rows sum to 1."""
    if feature == "mark":
        return _mark_outcomes(table, confusion)
    if feature == "bowl_layout":
        count = len(table.values[feature])
        error = 1.0 - float(np.mean(np.diagonal(confusion.labels["bowl_side"].likelihood)))
        likelihood = np.full((count, count), error / (count - 1))
        np.fill_diagonal(likelihood, 1.0 - error)
    else:
        held = confusion.labels[feature]
        order = [held.labels.index(value) for value in table.values[feature]]
        likelihood = held.likelihood[np.ix_(order, order)]
    codes = table.codes[feature]
    return np.stack([over_patterns(codes, column) for column in likelihood.T], axis=1)


def _mark_outcomes(table: PatternTable, confusion: Confusion) -> Matrix:
    """Bearings in bins of 15°."""
    centres = np.arange(MARK_BINS) * (360.0 / MARK_BINS)
    sd = float(np.hypot(confusion.bearing.sd_deg, ASSEMBLY_SD_DEG))
    required = table.required_mark_deg
    density = von_mises(centres[None, :] - np.nan_to_num(required)[:, None], sd)
    density = (1.0 - TURNED_SHARE) * density / density.sum(axis=1, keepdims=True)
    rows = density + TURNED_SHARE / MARK_BINS
    rows[np.isnan(required)] = 1.0 / MARK_BINS
    return np.vstack([rows, np.full((1, MARK_BINS), 1.0 / MARK_BINS)])


def _advice(view: View, reading: PairReading) -> tuple[str, ...]:
    """What this pair's own photos need beside the view's general advice."""
    lines = []
    fitted = any(
        reading.carb(side).label("filter_fitted").value == "true"
        or reading.carb(side).label("flange_holes").reason == "filter_fitted"
        for side in CARB_POSITIONS
    )
    if fitted and view.needs_filter_off:
        lines.append("The air filter is fitted and hides the flange: take it off first.")
    reasons = {
        reading.carb(side).label(name).reason
        for side in CARB_POSITIONS
        for name in ("flange_holes", "bowl_side", "chamber")
    } | {reading.carb(side).bearing.reason for side in CARB_POSITIONS}
    for reason, line in _ADVICE_OF_REASON.items():
        if reason in reasons:
            lines.append(line)
    return tuple(lines)


_ADVICE_OF_REASON = {
    "too_small": "Move closer: the carburettors were too small in the picture.",
    "blurred": "Rest the phone on something and tap to focus: the picture was blurred.",
    "out_of_frame": "Keep both carburettors whole in the frame.",
    "occluded": "Hold hoses and cables aside: something covered the part.",
    "edge_on": "Stand square to the face: it was seen almost edge on.",
    "mirrored": "Use the rear camera and do not mirror the picture.",
}
