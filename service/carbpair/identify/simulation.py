"""Fitting and measuring the identification on simulated cases.

Calibration and test draws use separate seeds. Everything that is fitted (temperature,
answer threshold, conformal thresholds) is fitted on calibration draws only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import optimize, stats

from carbpair.identify.calibration import NO_LIMIT, STATED_RISK, Calibration, chained
from carbpair.identify.catalogue import Catalogue
from carbpair.identify.conformal import threshold as conformal_threshold
from carbpair.identify.confusion import Confusion
from carbpair.identify.evidence import Evidence
from carbpair.identify.inseparable import PHOTO_FEATURES, SMALLEST_SHARE, photo_signature
from carbpair.identify.pattern_table import table_of
from carbpair.identify.photo_evidence import photo_evidence
from carbpair.identify.posterior import PHOTO_CAP, cap, log_posterior
from carbpair.identify.prior import Prior, prior_for
from carbpair.identify.simulated_case import CaseSimulator
from carbpair.identify.stated_evidence import tag_evidence

TEMPERATURE_RANGE = (0.5, 3.0)
LEAST_NAMED = 0.8
"""Nothing is named below this, whatever the simulation allows."""
THRESHOLDS = np.round(np.arange(PHOTO_CAP, LEAST_NAMED - 0.001, -0.005), 4)
OTHER_LIMITS = tuple(round(10.0 ** (k / 40), 6) for k in range(-160, -39))
"""0.0001 to 0.1, forty steps a decade."""
STRANGERS_PER_CASE = 12
"""So many that the bound on one in a hundred lies close above what is measured."""
LIMIT_CASES_PER_CASE = 4
"""The same for wrong names: about one answer in seventy is wrong, and of 2000 answers the bound
on that share would pass two in a hundred half of the time, by chance alone."""
CONFIDENCE = 0.95
OTHER_RISK = 0.008
"""Largest share of other-source pairs named as a catalogue pattern that the limit is fitted to. The
promise is one in a hundred; fitted to just that, 12,000 fresh pairs of another source lay a little
beyond it."""

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Draw:
    """Cases with their evidence: ``truths`` has shape (cases,)."""

    truths: npt.NDArray[np.int64]
    priors: tuple[Prior, ...]
    photo: tuple[list[Evidence], ...]
    stated: tuple[list[Evidence], ...]

    def probabilities(self, temperature: float) -> Matrix:
        """Uncapped posteriors, shape (cases, patterns + 2)."""
        rows = []
        for prior, photo, stated in zip(self.priors, self.photo, self.stated, strict=True):
            items = [*(item.tempered(temperature) for item in photo), *stated]
            weights = log_posterior(prior, items)
            share = np.exp(weights - weights.max())
            rows.append(share / share.sum())
        return np.array(rows)


def draw_cases(
    simulator: CaseSimulator,
    seed: int,
    truths: Sequence[int | None],
    progress: Progress | None = None,
) -> Draw:
    """One case per entry of ``truths``; None draws the truth from the population."""
    generator = np.random.default_rng(seed)
    catalogue, table = simulator.catalogue, table_of(simulator.catalogue)
    found: list[int] = []
    photo: list[list[Evidence]] = []
    stated: list[list[Evidence]] = []
    priors: list[Prior] = []
    for number, truth in enumerate(truths):
        case = simulator.draw(generator, truth)
        found.append(case.truth)
        photo.append(photo_evidence(case.reading, table, simulator.confusion))
        stated.append(tag_evidence(case.facts, table, catalogue))
        priors.append(prior_for(table.index, case.fitments))
        if progress is not None:
            progress(number + 1, len(truths))
    return Draw(np.array(found), tuple(priors), tuple(photo), tuple(stated))


def capped(probabilities: Matrix) -> Matrix:
    """Each row held at the ceiling for photos alone."""
    return np.array([cap(row, PHOTO_CAP) for row in probabilities])


@dataclass(frozen=True)
class Named:
    """What would be said of each case, each of shape (cases,).

    ``share``: probability of what is said; ``one``: it is a single pattern, else a group
    that no photo splits; ``answered``: it is said at all; ``right``: the truth is the
    pattern, or lies in the group.
    """

    share: Vector
    one: npt.NDArray[np.bool_]
    answered: npt.NDArray[np.bool_]
    right: npt.NDArray[np.bool_]


def named(
    stated: Matrix,
    other: Vector,
    truths: npt.NDArray[np.int64],
    groups: Matrix,
    level: float,
    other_limit: float = NO_LIMIT,
) -> Named:
    """The verdict of verdict.decide for many cases: a pattern, or a group of look-alikes.

    ``other``: shape (cases,), the uncapped probability of another source. ``groups``: shape
    (patterns + 2, patterns + 2), 1 where two hypotheses look alike.
    """
    best = stated.argmax(axis=1)
    members = groups[best] * (stated >= SMALLEST_SHARE)
    one = members.sum(axis=1) <= 1
    share = np.where(one, stated.max(axis=1), (stated * members).sum(axis=1))
    answered = (best < stated.shape[1] - 2) & (share >= level - 1e-12) & (other <= other_limit)
    right = np.where(one, best == truths, groups[best, truths] > 0)
    return Named(share, one, answered, right)


def look_alikes(catalogue: Catalogue) -> Matrix:
    """1 where two hypotheses are equal in all that photos show; shape (patterns + 2,) * 2."""
    shown = [photo_signature(pattern, PHOTO_FEATURES) for pattern in catalogue.patterns]
    size = len(shown) + 2
    same = np.eye(size)
    for a, one in enumerate(shown):
        for b, two in enumerate(shown):
            same[a, b] = float(one == two)
    return same


def fit_temperature(draw: Draw) -> float:
    """The temperature with the least negative log likelihood of the truths."""
    place = np.arange(draw.truths.size)

    def loss(temperature: float) -> float:
        own = draw.probabilities(temperature)[place, draw.truths]
        return float(-np.log(np.maximum(own, 1e-12)).mean())

    found = optimize.minimize_scalar(
        loss, bounds=TEMPERATURE_RANGE, method="bounded", options={"xatol": 0.005}
    )
    return round(float(found.x), 4)


def risk_upper_bound(errors: int, count: int, confidence: float = CONFIDENCE) -> float:
    """Exact one-sided upper bound of a rate (Clopper and Pearson, 1934)."""
    if errors >= count:
        return 1.0  # nothing answered included: nothing is known of the risk
    return float(stats.beta.ppf(confidence, errors + 1, count - errors))


def fit_other_limit(strangers: Matrix, groups: Matrix) -> float:
    """The largest limit on P(other source) that keeps strangers from being named.

    ``strangers``: uncapped posteriors of cases whose truth is another source. At most
    OTHER_RISK of them are named at LEAST_NAMED or more, with 95 % confidence. Limits are tested
    from the strictest up and the search stops at the first that fails, which keeps the
    confidence without a correction (fixed-sequence testing; Learn then Test, Angelopoulos et
    al., 2021). 0 where even the strictest fails.

    Among all rules that name strangers equally seldom, a limit on this probability names most
    pairs of the catalogue (Neyman and Pearson, 1933: it is their likelihood ratio).
    """
    accepted = 0.0
    stated, other = capped(strangers), strangers[:, -2]
    truths = np.full(len(strangers), strangers.shape[1] - 2)
    for limit in OTHER_LIMITS:
        said = named(stated, other, truths, groups, LEAST_NAMED, limit)
        if risk_upper_bound(int(said.answered.sum()), len(strangers)) > OTHER_RISK:
            break
        accepted = limit
    return accepted


def fit_threshold(
    uncapped: Matrix,
    truths: npt.NDArray[np.int64],
    groups: Matrix,
    risk: float,
    other_limit: float = NO_LIMIT,
) -> float:
    """The lowest answer threshold that leaves at most ``risk`` of the answered wrong.

    With 95 % confidence, by fixed-sequence testing from the strictest down, as fit_other_limit.
    1 (never answer) where even the strictest fails. It is never below LEAST_NAMED, so that it
    leaves the promise about strangers as it is.
    """
    accepted = 1.0
    stated, other = capped(uncapped), uncapped[:, -2]
    for level in THRESHOLDS:
        said = named(stated, other, truths, groups, float(level), other_limit)
        count = int(said.answered.sum())
        errors = int((~said.right[said.answered]).sum())
        if risk_upper_bound(0, count) > risk:
            continue  # so few are answered that no outcome could pass: no test was made
        if risk_upper_bound(errors, count) > risk:
            break
        accepted = float(level)
    return accepted


def calibrate(
    catalogue: Catalogue,
    confusion: Confusion,
    *,
    cases: int = 4000,
    per_class: int = 400,
    level: float = 0.9,
    seed: int = 20_001,
    progress: Progress | None = None,
) -> Calibration:
    """Fit temperature, both limits and class-conditional conformal thresholds.

    For one photo and, where the readers' errors were measured for them, for several.
    """
    kinds = confusion.tiers

    def told(done: int) -> Progress | None:
        if progress is None:
            return None
        return lambda n, total: progress(done * total + n, len(kinds) * total)

    fitted = [
        _calibrate(catalogue, kind, cases, per_class, level, seed, told(number))
        for number, kind in enumerate(kinds)
    ]
    return chained(fitted)


def _calibrate(
    catalogue: Catalogue,
    confusion: Confusion,
    cases: int,
    per_class: int,
    level: float,
    seed: int,
    progress: Progress | None,
) -> Calibration:
    simulator = CaseSimulator(catalogue, confusion)
    classes = [c for c in range(simulator.classes) for _ in range(per_class)]
    total = (1 + STRANGERS_PER_CASE + LIMIT_CASES_PER_CASE) * cases + len(classes)
    done = 0

    def drawn(first_seed: int, truths: Sequence[int | None]) -> Draw:
        nonlocal done
        start = done
        done += len(truths)
        tick = progress and (lambda n, _: progress(start + n, total))
        return draw_cases(simulator, first_seed, truths, tick)

    def weighed(first_seed: int, truth: int | None, parts: int) -> tuple[Matrix, Places]:
        """Posteriors and truths. In parts: the evidence of all would take gigabytes."""
        rows, truths = [], []
        for part in range(parts):
            draw = drawn(first_seed + part * cases, [truth] * cases)
            rows.append(draw.probabilities(temperature))
            truths.append(draw.truths)
        return np.concatenate(rows), np.concatenate(truths)

    # The limits are fitted on other cases than the temperature: only so do their bounds hold.
    temperature = fit_temperature(drawn(seed, [None] * cases))
    groups = look_alikes(catalogue)
    strangers, _ = weighed(seed + 100_000, simulator.classes - 2, STRANGERS_PER_CASE)
    limit = fit_other_limit(strangers, groups)
    population, truths = weighed(seed + 1_000_000, None, LIMIT_CASES_PER_CASE)
    answer = fit_threshold(population, truths, groups, STATED_RISK, limit)
    by_class = drawn(seed + 1, classes)
    own = by_class.probabilities(temperature)[np.arange(len(classes)), by_class.truths]
    names = (*table_of(catalogue).ids, "other_source", "mixed_pair")
    return Calibration(
        temperature=temperature,
        answer_threshold=answer,
        other_limit=limit,
        stated_risk=STATED_RISK,
        level=level,
        conformal={
            name: conformal_threshold(1.0 - own[by_class.truths == place], level)
            for place, name in enumerate(names)
        },
        cases=cases,
        photos=confusion.photos,
    )
