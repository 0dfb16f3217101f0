"""How often the readers are wrong: measured counts, smoothed into probabilities.

The file ``models/confusion.json`` is written after evaluation; docs/identification.md
describes it. A Dirichlet prior on every row keeps a small evaluation from promising much:
with 10 of 10 right among three values the likelihood ratio stays near 21, not infinite.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from carbpair.identify.mark_record import MarkRecord

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
    where not counted. Most wrong answers are given with less. ``in_view_unsure`` and
    ``in_view_sure``: these two of what was in full view.
    """

    labels: tuple[str, ...]
    counts: Matrix
    reader_prior: Matrix
    pair_correlation: float
    in_view: Matrix | None = None
    unsure: Matrix | None = None
    sure: Matrix | None = None
    in_view_unsure: Matrix | None = None
    in_view_sure: Matrix | None = None

    @cached_property
    def likelihood(self) -> Matrix:
        """P(answer | truth, answered), shape (truths, answers), each row sums to 1."""
        answered = self.counts[:, : len(self.labels)] + PSEUDO_COUNT
        return np.asarray(answered / answered.sum(axis=1, keepdims=True))

    @cached_property
    def looked_at(self) -> Matrix:
        """How many carburettors of each true value were looked at, shape (truths,).

        Answered or unsure, every possible outcome smoothed. What was not visible says nothing,
        but that a reader was unsure where it was not can tell: of integral bowls it mostly is.
        """
        size = len(self.labels)
        answers = self.counts[:, :size] + PSEUDO_COUNT
        if self.sure is not None:
            answers = answers + PSEUDO_COUNT  # two kinds of each answer
        leans = self.counts[:, size]
        if self.unsure is not None:
            leans = np.maximum(leans, self.unsure.sum(axis=1)) + size * PSEUDO_COUNT
        return np.asarray(answers.sum(axis=1) + leans)

    def record(self, sure: bool) -> Matrix:
        """P(answer, sure of itself or not | truth, looked at), shape (truths, answers).

        Where it was not counted which answers are sure, both kinds are all answers.
        """
        size = len(self.labels)
        if self.sure is None:
            part = self.counts[:, :size]
        else:
            part = self.sure if sure else self.counts[:, :size] - self.sure
        return np.asarray((part + PSEUDO_COUNT) / self.looked_at[:, None])

    @cached_property
    def columns(self) -> dict[bool, list[list[float]]]:
        """``record`` by answer: columns[sure][answer][truth], as plain floats."""
        return {
            sure: [[float(x) for x in column] for column in self.record(sure).T]
            for sure in (False, True)
        }

    def sure_share(self, truth: int, answer: int, in_view: bool = False) -> float:
        """How many answers of this kind were sure of themselves; 0 where it was not counted."""
        if self.sure is None:
            return 0.0
        sure, counts = self.sure, self.counts
        if in_view and self.in_view_sure is not None and self.in_view is not None:
            sure, counts = self.in_view_sure, self.in_view
        return float((sure[truth, answer] + 0.5) / (counts[truth, answer] + 1.0))

    @cached_property
    def unsure_likelihood(self) -> Matrix:
        """P(likeliest value, unsure | truth, looked at), shape (truths, values).

        Where it was not counted where unsure readers lean, being unsure is taken to be as likely
        for every true value, and its share is left out.
        """
        size = len(self.labels)
        if self.unsure is None:
            assumed = np.full((size, size), (1.0 - UNSURE_RIGHT) / (size - 1))
            np.fill_diagonal(assumed, UNSURE_RIGHT)
            return assumed
        return np.asarray((self.unsure + PSEUDO_COUNT) / self.looked_at[:, None])

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
    bearing lies within STRAY_DEG. ``records``: the same by how certain a reading is of itself, in
    place of those three rates; empty where not counted. ``in_view_hidden_n``: marks in full view
    of which nothing was read.
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
    records: tuple[MarkRecord, ...] = ()
    in_view_hidden_n: int = 0

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
    """Every reader's measured errors. ``provisional`` marks figures not yet measured.

    ``photos``: from how many photos of one pair each reading was made. ``several``: the same of
    readings that were weighed over the next larger measured number of photos of a pair (which has
    its own ``several``); None where no larger one was measured.
    """

    labels: Mapping[str, LabelConfusion]
    bearing: BearingConfusion
    source: str
    provisional: bool
    sha256: str
    photos: int = 1
    several: Confusion | None = None

    def for_photos(self, count: int) -> Confusion:
        """The figures that hold for a reading from ``count`` photos."""
        if self.several is not None and count >= self.several.photos:
            return self.several.for_photos(count)
        return self

    @property
    def tiers(self) -> tuple[Confusion, ...]:
        """The figures for each measured number of photos, fewest first."""
        return (self, *(self.several.tiers if self.several is not None else ()))
