"""Small simulations; the full ones are models/training/simulate_identification.py."""

from typing import Any

import numpy as np
import pytest
from scipy.stats import binomtest

from carbpair.identify import simulation
from carbpair.identify.calibration import expected_calibration_error, noise_floor
from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.simulated_case import CaseSimulator
from carbpair.identify.simulation import (
    LIMIT_CASES_PER_CASE,
    STRANGERS_PER_CASE,
    calibrate,
    capped,
    draw_cases,
    fit_other_limit,
    fit_temperature,
    fit_threshold,
    look_alikes,
    named,
    risk_upper_bound,
)
from tests.identify.example import confusion

DEMO = demo_catalogue()
ERRORS = confusion(rho=0.5, right=100, wrong=3)
PATTERNS = len(DEMO.patterns)


def test_upper_bound_is_the_exact_one() -> None:
    for errors, count in [(0, 50), (3, 100), (12, 700)]:
        exact = binomtest(errors, count, alternative="less").proportion_ci(0.95, "exact").high
        assert risk_upper_bound(errors, count) == pytest.approx(exact)
    assert risk_upper_bound(5, 5) == 1.0


def test_draws_repeat_with_their_seed_and_follow_the_prior() -> None:
    simulator = CaseSimulator(DEMO, ERRORS)
    one, two = (draw_cases(simulator, 5, [None] * 1500) for _ in range(2))
    assert one.truths.tolist() == two.truths.tolist()
    assert one.probabilities(1.0) == pytest.approx(two.probabilities(1.0))
    other, mixed = (int((one.truths == PATTERNS + k).sum()) for k in (0, 1))
    assert binomtest(other, 1500, 0.12).pvalue > 0.001
    assert binomtest(mixed, 1500, 0.03).pvalue > 0.001


def test_the_posterior_is_calibrated_on_its_own_model() -> None:
    draw = draw_cases(CaseSimulator(DEMO, ERRORS), 6, [None] * 1500)
    share = draw.probabilities(1.0)
    right = (share.argmax(axis=1) == draw.truths).astype(float)
    top = share.max(axis=1)
    # 99.9 % of draws of a perfect model, so that a seed does not decide the test.
    assert expected_calibration_error(top, right) < noise_floor(top, 0.999)
    assert 0.85 < fit_temperature(draw) < 1.2


def test_over_confident_evidence_is_found_and_cooled() -> None:
    draw = draw_cases(CaseSimulator(DEMO, ERRORS), 6, [None] * 800)
    for items in draw.photo:
        items[:] = [item.tempered(0.5) for item in items]
    assert fit_temperature(draw) == pytest.approx(2.0, rel=0.2)


def groups_of_pairs() -> np.ndarray:
    groups = np.eye(5)
    groups[0, 1] = groups[1, 0] = 1
    return groups


def test_look_alikes_are_named_together() -> None:
    stated = np.array(
        [
            [0.50, 0.48, 0.01, 0.005, 0.005],
            [0.97, 0.001, 0.02, 0.005, 0.004],
            [0.01, 0.01, 0.96, 0.01, 0.01],
            [0.01, 0.01, 0.01, 0.96, 0.01],
        ]
    )
    other = stated[:, 3]
    said = named(stated, other, np.array([1, 0, 2, 3]), groups_of_pairs(), 0.95)
    assert said.one.tolist() == [False, True, True, True]
    assert said.answered.tolist() == [True, True, True, False]
    assert said.right[:3].tolist() == [True, True, True]
    assert said.share[0] == pytest.approx(0.98)
    cautious = named(stated, other, np.array([1, 0, 2, 3]), groups_of_pairs(), 0.95, 0.005)
    assert cautious.answered.tolist() == [True, True, False, False]


def test_the_threshold_keeps_its_promise() -> None:
    generator = np.random.default_rng(0)
    share = generator.uniform(0.7, 0.99, 6000)
    stated = np.column_stack([share, (1 - share) / 2, (1 - share) / 2, 0 * share, 0 * share])
    truths = np.where(generator.random(6000) < share, 0, 2)
    level = fit_threshold(stated, truths, np.eye(5), 0.04)
    answered = share >= level
    errors = int((truths[answered] != 0).sum())
    assert risk_upper_bound(errors, int(answered.sum())) <= 0.04
    # Mean error above the threshold is half its distance to 0.99, and 0.01: 0.04 at 0.93.
    assert 0.92 <= level <= 0.96


def strangers(shares: np.ndarray) -> np.ndarray:
    """Posteriors that lead with pattern 0, given the probability of another source."""
    rest = 1.0 - shares
    nothing = 0.0 * shares
    return np.column_stack([0.99 * rest, 0.01 * rest, nothing, shares, nothing])


def test_the_limit_keeps_strangers_unnamed() -> None:
    # One stranger in a hundred has a probability of another source below 0.01 d, whatever d is.
    shares = np.random.default_rng(1).uniform(0.0, 1.0, 20_000)
    limit = fit_other_limit(strangers(shares), np.eye(5))
    named_share = (shares <= limit).mean()
    assert risk_upper_bound(int((shares <= limit).sum()), 20_000) <= 0.01
    assert 0.006 < named_share <= 0.01
    # All strangers look like a pattern: no limit can help, and nothing is ever named.
    assert fit_other_limit(strangers(np.full(2000, 1e-6)), np.eye(5)) == 0.0


def test_thresholds_that_too_few_reach_are_passed_over() -> None:
    stated = np.tile([0.93, 0.07, 0.0, 0.0, 0.0], (500, 1))
    right = np.zeros(500, dtype=int)
    assert fit_threshold(stated, right, np.eye(5), 0.02) <= 0.93
    # 148 cases without an error do not yet bound a rate at 2 % with 95 % confidence.
    assert risk_upper_bound(0, 148) > 0.02 > risk_upper_bound(0, 149)


def test_nothing_is_named_when_no_threshold_keeps_the_risk() -> None:
    stated = np.tile([0.985, 0.015, 0.0, 0.0, 0.0], (500, 1))
    wrong = np.full(500, 1)
    assert fit_threshold(stated, wrong, np.eye(5), 0.02) == 1.0


def test_a_small_calibration_of_the_demo() -> None:
    ticks: list[tuple[int, int]] = []
    held = calibrate(
        DEMO, ERRORS, cases=500, per_class=40, progress=lambda n, total: ticks.append((n, total))
    )
    assert held.fitted
    assert set(held.conformal) == {*DEMO.index, "other_source", "mixed_pair"}
    assert all(0.0 <= limit <= 1.0 for limit in held.conformal.values())
    assert 0.8 < held.temperature < 1.3
    assert 0.8 <= held.answer_threshold <= 1.0
    assert 0.0 <= held.other_limit <= 0.1
    assert ticks[-1][0] == ticks[-1][1]


def test_limits_are_fitted_on_other_cases_than_the_temperature(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    seeds, sizes = [], []

    def noted(*given: Any) -> simulation.Draw:
        seeds.append(given[1])
        sizes.append(len(given[2]))
        return draw_cases(*given)

    monkeypatch.setattr(simulation, "draw_cases", noted)
    told: list[tuple[int, int]] = []
    calibrate(DEMO, ERRORS, cases=4, per_class=10, progress=lambda *given: told.append(given))
    assert len(set(seeds)) == len(seeds) == 1 + STRANGERS_PER_CASE + LIMIT_CASES_PER_CASE + 1
    assert [done for done, _ in told] == list(range(1, sum(sizes) + 1))
    assert {total for _, total in told} == {sum(sizes)}


def test_pairs_of_another_source_are_rarely_named() -> None:
    draw = draw_cases(CaseSimulator(DEMO, ERRORS), 9, [PATTERNS] * 500)
    exact = draw.probabilities(1.0)
    said = named(capped(exact), exact[:, PATTERNS], draw.truths, look_alikes(DEMO), 0.98)
    assert said.answered.mean() < 0.03


def test_two_tags_settle_nearly_every_case() -> None:
    draw = draw_cases(CaseSimulator(DEMO, ERRORS, tags_share=1.0), 10, [None] * 500)
    assert (draw.probabilities(1.0).argmax(axis=1) == draw.truths).mean() > 0.95


def test_copies_of_what_is_visible_cannot_be_told() -> None:
    simulator = CaseSimulator(DEMO, ERRORS, look_alike_share=1.0)
    draw = draw_cases(simulator, 11, [PATTERNS] * 300)
    assert (draw.probabilities(1.0)[:, PATTERNS] > 0.5).mean() < 0.1
