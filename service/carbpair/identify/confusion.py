"""How often the readers are wrong: measured counts, smoothed into probabilities.

The file ``models/confusion.json`` is written after evaluation; docs/identification.md
describes it. A Dirichlet prior on every row keeps a small evaluation from promising much:
with 10 of 10 right among three values the likelihood ratio stays near 21, not infinite.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from carbpair.identify.error import BadInputError

SCHEMA = "carbpair/confusion/1"
PSEUDO_COUNT = 0.5
"""Jeffreys' prior: half a count in every cell (Jeffreys, Theory of Probability, 1961)."""
DEFAULT_PAIR_CORRELATION = 0.5
"""Share of scenes in which both carburettors are read right or wrong together, where the
evaluation did not measure it. A judgement, no source: one lamp, one lens, one film of dirt."""
UNSURE_RIGHT = 0.6
"""How often the first choice of an unsure reader is right, where the evaluation did not count it.
A judgement, no source; it is also the share of unsure mark readings near the true mark."""
SURE = 0.99
"""From this probability of its own on an answer has a record of its own, where one was counted."""
MISSING = ("unsure", "not_visible")
SMALLEST_MARK_SD_DEG = 1.0
STRAY_DEG = 15.0
"""A bearing further off than this did not find the mark."""

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class LabelConfusion:
    """One reader with a few values.

    ``counts``: rows are the true values, columns the answers: the values in the same
    order, then "unsure", then "not_visible". ``reader_prior``: how often each value
    occurred in the reader's own training, so that it is not counted as evidence.
    ``in_view``: the same counts over those carburettors only that showed the feature in full,
    as a photo taken as asked does; None where it was not counted. ``unsure``: rows the true
    values, columns the likeliest value of a reader that was unsure; None where not counted.
    ``sure``: that part of the answers in ``counts`` whose own probability was SURE or more; None
    where not counted. Most wrong answers are given with less.
    """

    labels: tuple[str, ...]
    counts: Matrix
    reader_prior: Matrix
    pair_correlation: float
    in_view: Matrix | None = None
    unsure: Matrix | None = None
    sure: Matrix | None = None

    @cached_property
    def likelihood(self) -> Matrix:
        """P(answer | truth, answered), shape (truths, answers), each row sums to 1."""
        answered = self.counts[:, : len(self.labels)] + PSEUDO_COUNT
        return np.asarray(answered / answered.sum(axis=1, keepdims=True))

    def record(self, sure: bool) -> Matrix:
        """As ``likelihood``, of the answers that were sure of themselves, or of the others."""
        if self.sure is None:
            return self.likelihood
        part = self.sure if sure else self.counts[:, : len(self.labels)] - self.sure
        counts = part + PSEUDO_COUNT
        return np.asarray(counts / counts.sum(axis=1, keepdims=True))

    @cached_property
    def columns(self) -> dict[bool, list[list[float]]]:
        """``record`` by answer: columns[sure][answer][truth], as plain floats."""
        return {
            sure: [[float(x) for x in column] for column in self.record(sure).T]
            for sure in (False, True)
        }

    def sure_share(self, truth: int, answer: int) -> float:
        """How many answers of this kind were sure of themselves; 0 where it was not counted."""
        if self.sure is None:
            return 0.0
        return float((self.sure[truth, answer] + 0.5) / (self.counts[truth, answer] + 1.0))

    @cached_property
    def unsure_likelihood(self) -> Matrix:
        """P(likeliest value | truth, unsure), shape (truths, values), each row sums to 1."""
        size = len(self.labels)
        if self.unsure is None:
            assumed = np.full((size, size), (1.0 - UNSURE_RIGHT) / (size - 1))
            np.fill_diagonal(assumed, UNSURE_RIGHT)
            return assumed
        counts = self.unsure + PSEUDO_COUNT
        return np.asarray(counts / counts.sum(axis=1, keepdims=True))

    @cached_property
    def unsure_columns(self) -> list[list[float]]:
        """``unsure_likelihood`` by likeliest value: unsure_columns[value][truth]."""
        return [[float(x) for x in column] for column in self.unsure_likelihood.T]

    @cached_property
    def prior_list(self) -> list[float]:
        """``reader_prior`` as plain floats."""
        return [float(x) for x in self.reader_prior]

    @cached_property
    def answered_share(self) -> float:
        """Share of the looked-at (answered or unsure) that were answered."""
        answered = float(self.counts[:, : len(self.labels)].sum())
        unsure = float(self.counts[:, len(self.labels)].sum())
        return (answered + PSEUDO_COUNT) / (answered + unsure + 2 * PSEUDO_COUNT)

    @property
    def n(self) -> int:
        """How many readings were counted."""
        return int(self.counts.sum())


@dataclass(frozen=True)
class BearingConfusion:
    """The mark reader: spread in degrees, and how often an answer is nowhere near.

    ``flip_rate``: answers that are 180° off; ``stray_rate``: answers beyond STRAY_DEG and no
    flip; both of the ``n`` answers. ``unsure_rate`` and ``not_visible_rate``: shares of all
    carburettors. ``in_view_unsure_rate``: share not answered of marks in full view, None where
    not counted. ``unsure_right_rate``: share of the ``unsure_n`` unsure readings whose likeliest
    bearing lies within STRAY_DEG.
    """

    sd_deg: float
    flip_rate: float
    n: int
    unsure_rate: float = 0.0
    not_visible_rate: float = 0.0
    stray_rate: float = 0.0
    in_view_unsure_rate: float | None = None
    unsure_right_rate: float = UNSURE_RIGHT
    unsure_n: int = 0

    @property
    def smoothed_flip_rate(self) -> float:
        """Posterior mean under Jeffreys' Beta(½, ½): never zero on a finite test."""
        return (self.flip_rate * self.n + 0.5) / (self.n + 1.0)

    @property
    def smoothed_stray_rate(self) -> float:
        """The same for answers that are off by anything else."""
        return (self.stray_rate * self.n + 0.5) / (self.n + 1.0)

    @property
    def smoothed_unsure_right(self) -> float:
        """Share of unsure readings near the true mark; the assumed share where none was counted."""
        if self.unsure_n == 0:
            return UNSURE_RIGHT
        return (self.unsure_right_rate * self.unsure_n + 0.5) / (self.unsure_n + 1.0)

    @property
    def asked_unsure_rate(self) -> float:
        """Share of unsure readings where the mark is in view, as asked for.

        Where it was not counted: of all that could be looked at, in full view or not.
        """
        if self.in_view_unsure_rate is not None:
            return self.in_view_unsure_rate
        looked_at = 1.0 - self.not_visible_rate
        return min(self.unsure_rate / looked_at, 1.0) if looked_at > 0 else 1.0


@dataclass(frozen=True)
class Confusion:
    """Every reader's measured errors. ``provisional`` marks figures not yet measured."""

    labels: Mapping[str, LabelConfusion]
    bearing: BearingConfusion
    source: str
    provisional: bool
    sha256: str


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
    features = raw.get("features")
    if not isinstance(features, dict) or "mark_bearing_deg" not in features:
        raise BadInputError(f"{name}: 'features' with 'mark_bearing_deg' is missing.", _REMEDY)
    labels = {
        feature: _labels(held, f"{name}: features.{feature}")
        for feature, held in features.items()
        if feature != "mark_bearing_deg"
    }
    for needed in ("chamber", "flange_holes", "bowl_side"):
        if needed not in labels:
            raise BadInputError(f"{name}: features.{needed} is missing.", _REMEDY)
    return Confusion(
        labels=labels,
        bearing=_bearing(features["mark_bearing_deg"], f"{name}: features.mark_bearing_deg"),
        source=str(raw.get("source", "")),
        provisional=bool(raw.get("provisional", False)),
        sha256=hashlib.sha256(data).hexdigest(),
    )


_REMEDY = "See docs/identification.md for the format."


def _labels(held: Any, where: str) -> LabelConfusion:
    try:
        labels = tuple(str(label) for label in held["labels"])
        counts = np.asarray(held["counts"], dtype=np.float64)
        in_view, unsure, sure = (
            None if held.get(key) is None else np.asarray(held[key], dtype=np.float64)
            for key in ("in_view_counts", "unsure_counts", "sure_counts")
        )
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
    share = np.asarray(weights) / sum(weights)
    return LabelConfusion(labels, counts, share, rho, in_view, unsure, sure)


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
    if min(found.n, found.unsure_n) < 0 or not all(0.0 <= rate <= 1.0 for rate in rates):
        raise BadInputError(f"{where}: rates must lie in 0 to 1 and n be 0 or more.", _REMEDY)
    return found


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
