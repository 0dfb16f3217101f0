"""Reading models/confusion.json: docs/identification.md describes the format."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from carbpair.identify.confusion import (
    DEFAULT_PAIR_CORRELATION,
    MISSING,
    SCHEMA,
    SMALLEST_MARK_SD_DEG,
    UNSURE_RIGHT,
    BearingConfusion,
    Confusion,
    LabelConfusion,
)
from carbpair.identify.error import BadInputError
from carbpair.identify.mark_record import MarkCounts, MarkRecord


def load_confusion(path: str | Path | None = None) -> Confusion:
    """The confusion at ``path``, or the one that ships with the weights."""
    file = Path(path) if path is not None else shipped_file("confusion.json")
    try:
        data = file.read_bytes()
    except OSError as error:
        raise BadInputError(
            f"{file.name}: cannot be read ({error.strerror}).",
            "It ships with the weights; install the package again.",
        ) from None
    return parse_confusion(data, file.name)


def shipped_file(name: str) -> Path:
    """``name`` among the weights of an installed package or of a source checkout."""
    installed = Path(str(resources.files("carbpair"))) / "weights" / name
    if installed.exists():
        return installed
    return Path(__file__).resolve().parents[3] / "models" / name


def parse_confusion(data: bytes, name: str) -> Confusion:
    """Read and check a confusion file; raises BadInputError with the place."""
    try:
        raw = json.loads(data)
    except ValueError as error:
        raise BadInputError(f"{name}: not JSON ({error}).", _REMEDY) from None
    if not isinstance(raw, dict) or raw.get("schema") != SCHEMA:
        raise BadInputError(f"{name}: the schema must be {SCHEMA!r}.", _REMEDY)
    sha256 = hashlib.sha256(data).hexdigest()
    single = _confusion(raw, name, raw, sha256)
    several = raw.get("several_photos")
    if several is None:
        return single
    listed = several if isinstance(several, list) else [several]
    for held in listed:
        if not isinstance(held, dict) or not isinstance(held.get("photos"), int):
            raise BadInputError(f"{name}: several_photos needs 'photos', a whole number.", _REMEDY)
    numbers = [1, *(held["photos"] for held in listed)]
    if any(two <= one for one, two in pairwise(numbers)):
        raise BadInputError(
            f"{name}: several_photos.photos must be 2 or more, and grow from entry to entry.",
            _REMEDY,
        )
    chain: Confusion | None = None
    for held in reversed(listed):
        where = f"{name}: several_photos"
        chain = replace(_confusion(held, where, raw, sha256), several=chain)
    return replace(single, several=chain)


def _confusion(
    held: Mapping[str, Any], name: str, whole: Mapping[str, Any], sha256: str
) -> Confusion:
    features = held.get("features")
    if not isinstance(features, dict) or "mark_bearing_deg" not in features:
        raise BadInputError(f"{name}: 'features' with 'mark_bearing_deg' is missing.", _REMEDY)
    labels = {
        feature: _labels(table, f"{name}: features.{feature}")
        for feature, table in features.items()
        if feature != "mark_bearing_deg"
    }
    for needed in ("chamber", "flange_holes", "bowl_side"):
        if needed not in labels:
            raise BadInputError(f"{name}: features.{needed} is missing.", _REMEDY)
    return Confusion(
        labels=labels,
        bearing=_bearing(features["mark_bearing_deg"], f"{name}: features.mark_bearing_deg"),
        source=str(held.get("source", "")),
        provisional=bool(whole.get("provisional", False)),
        sha256=sha256,
        photos=int(held.get("photos", 1)),
    )


_REMEDY = "See docs/identification.md for the format."


def _labels(held: Any, where: str) -> LabelConfusion:
    try:
        labels = tuple(str(label) for label in held["labels"])
        counts = np.asarray(held["counts"], dtype=np.float64)
        in_view, unsure, sure, in_view_unsure, in_view_sure = (
            None if held.get(key) is None else np.asarray(held[key], dtype=np.float64)
            for key in (
                "in_view_counts", "unsure_counts", "sure_counts", "in_view_unsure_counts",
                "in_view_sure_counts",
            )
        )  # fmt: skip
        prior = held.get("reader_prior")
        weights = [1.0] * len(labels) if prior is None else [float(prior[x]) for x in labels]
        correlation = held.get("pair_correlation")
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadInputError(f"{where}: cannot be read ({error!r}).", _REMEDY) from None
    if counts.shape != (len(labels), len(labels) + len(MISSING)):
        raise BadInputError(
            f"{where}: counts must have {len(labels)} rows and {len(labels) + 2} columns "
            f"(the labels, then unsure, then not_visible); they have shape {counts.shape}.",
            _REMEDY,
        )
    size = len(labels)
    for key, table, columns in (
        ("in_view_counts", in_view, size + len(MISSING)),
        ("unsure_counts", unsure, size),
        ("sure_counts", sure, size),
        ("in_view_unsure_counts", in_view_unsure, size),
        ("in_view_sure_counts", in_view_sure, size),
    ):
        if table is not None and (table.shape != (size, columns) or not (table >= 0).all()):
            raise BadInputError(
                f"{where}: {key} must have {size} rows and {columns} columns of 0 or more.",
                _REMEDY,
            )
    if not np.isfinite(counts).all() or (counts < 0).any() or min(weights) <= 0:
        raise BadInputError(f"{where}: counts must be 0 or more, priors above 0.", _REMEDY)
    rho = DEFAULT_PAIR_CORRELATION if correlation is None else float(correlation)
    if not 0.0 <= rho <= 1.0:
        raise BadInputError(f"{where}: pair_correlation must lie in 0 to 1.", _REMEDY)
    if sure is not None and (sure > counts[:, :size]).any():
        raise BadInputError(f"{where}: sure_counts are a part of counts, not more.", _REMEDY)
    if in_view_sure is not None and (in_view is None or (in_view_sure > in_view[:, :size]).any()):
        raise BadInputError(
            f"{where}: in_view_sure_counts are a part of in_view_counts, not more.", _REMEDY
        )
    share = np.asarray(weights) / sum(weights)
    return LabelConfusion(
        labels, counts, share, rho, in_view, unsure, sure, in_view_unsure, in_view_sure
    )


def _bearing(held: Any, where: str) -> BearingConfusion:
    try:
        found = BearingConfusion(
            sd_deg=max(_spread_deg(held), SMALLEST_MARK_SD_DEG),
            flip_rate=float(held["flip_rate"]),
            n=int(held["n"]),
            unsure_rate=float(held.get("unsure_rate", 0.0)),
            not_visible_rate=float(held.get("not_visible_rate", 0.0)),
            stray_rate=float(held.get("stray_rate", 0.0)),
            in_view_unsure_rate=None
            if held.get("in_view_unsure_rate") is None
            else float(held["in_view_unsure_rate"]),
            unsure_right_rate=float(held.get("unsure_right_rate", UNSURE_RIGHT)),
            unsure_n=int(held.get("unsure_n", 0)),
            records=tuple(_record(row, where) for row in held.get("by_certainty") or ()),
            in_view_hidden_n=int(held.get("in_view_hidden_n", 0)),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise BadInputError(f"{where}: cannot be read ({error!r}).", _REMEDY) from None
    rates = (
        found.flip_rate,
        found.unsure_rate,
        found.not_visible_rate,
        found.stray_rate,
        found.in_view_unsure_rate or 0.0,
        found.unsure_right_rate,
    )
    least = min(found.n, found.unsure_n, found.in_view_hidden_n)
    if least < 0 or not all(0.0 <= rate <= 1.0 for rate in rates):
        raise BadInputError(f"{where}: rates must lie in 0 to 1 and n be 0 or more.", _REMEDY)
    return found


def _record(row: Mapping[str, Any], where: str) -> MarkRecord:
    overall, in_view = (
        MarkCounts(int(n), int(right), int(flipped))
        for n, right, flipped in (row["counts"], row["in_view_counts"])
    )
    for counts in (overall, in_view):
        if min(counts.right, counts.flipped) < 0 or counts.right + counts.flipped > counts.n:
            raise BadInputError(
                f"{where}: by_certainty counts are readings, and of these right and flipped.",
                _REMEDY,
            )
    stated = row.get("stated_sd_deg")
    return MarkRecord(
        str(row["status"]),
        float(row["least"]),
        overall,
        in_view,
        max(float(row["sd_deg"]), SMALLEST_MARK_SD_DEG),
        None if stated is None else max(float(stated), SMALLEST_MARK_SD_DEG),
    )


def _spread_deg(held: Mapping[str, Any]) -> float:
    """``sd_deg``, or the widest normal spread that the absolute-error quantiles imply."""
    if held.get("sd_deg") is not None:
        return float(held["sd_deg"])
    normal = {"0.5": 0.6745, "0.9": 1.6449, "0.95": 1.9600}
    return max(
        float(error) / normal[level]
        for level, error in held["errors_deg_quantiles"].items()
        if level in normal
    )
