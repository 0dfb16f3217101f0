"""Risk–coverage by hand, and its area against the definition."""

import numpy as np
import pytest

from carbpair.evaluate.candidate import Candidate, candidates
from carbpair.evaluate.risk_coverage import risk_coverage
from carbpair.evaluate.scored import Case
from carbpair.vision.feature import hidden
from tests.evaluate.example import bearing, held, seen


def test_by_hand() -> None:
    # surest first: right, right, wrong, right; one of five cases has no guess
    guesses = [
        Candidate(0.9, True), Candidate(0.99, True), Candidate(0.8, False), Candidate(0.5, True),
    ]  # fmt: skip
    curve = risk_coverage(guesses, 5)
    assert curve["points"] == [
        [0.2, 0.0, 0.99], [0.4, 0.0, 0.9], [0.6, 0.3333, 0.8], [0.8, 0.25, 0.5],
    ]  # fmt: skip
    assert curve["area"] == pytest.approx((0 + 0 + 1 / 3 + 1 / 4) / 4, abs=1e-5)
    at = {row["coverage"]: row["risk"] for row in curve["at"]}
    assert set(at) == {0.5, 0.7, 0.8}  # 0.9 and 1 are not reached
    assert (at[0.8]["hits"], at[0.8]["n"]) == (1, 4)


def test_equal_probabilities_are_answered_together() -> None:
    curve = risk_coverage([Candidate(0.9, i > 2) for i in range(6)], 6)
    assert curve["points"] == [[1.0, 0.5, 0.9]]


def test_random_guesses_have_the_risk_of_all_of_them() -> None:
    rng = np.random.default_rng(0)
    right, p = rng.random(4000) < 0.8, rng.random(4000)
    curve = risk_coverage(
        [Candidate(float(q), bool(r)) for q, r in zip(p, right, strict=True)], 4000
    )
    assert curve["area"] == pytest.approx(0.2, abs=0.03)
    assert curve["points"][-1][1] == pytest.approx(1 - right.mean(), abs=1e-4)
    assert len(curve["points"]) <= 40


def test_no_case() -> None:
    assert risk_coverage([], 3)["area"] is None


def test_candidates_are_the_likeliest_values_said_or_not() -> None:
    cases = [
        Case(2, seen(2, 0.9)), Case(3, seen(2, 0.8)), Case(4, held(4, 0.5)),
        Case(2, hidden("edge_on")), Case(True, seen(True, 0.9)), Case(10.0, bearing(24.0, 0.7)),
        Case(-170.0, bearing(176.0, 0.6)), Case(0.0, bearing(40.0, 0.4, said=False)),
    ]  # fmt: skip
    got = [(c.probability, c.right) for c in candidates(cases)]
    assert got == [
        (0.9, True), (0.8, False), (0.5, True), (0.9, True), (0.7, True), (0.6, True), (0.4, False),
    ]  # fmt: skip
