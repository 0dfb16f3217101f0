"""Class-conditional sets against crepes' Mondrian conformal classifier."""

import numpy as np
import pytest
from crepes import ConformalClassifier
from crepes.extras import hinge
from scipy.stats import betabinom

from carbpair.identify.conformal import conformal_set, order, threshold

IDS = ("a", "b", "c")


def draw(seed: int, n: int) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    truth = generator.integers(3, size=n)
    logits = generator.normal(0.0, 1.0, (n, 3)) + 1.5 * np.eye(3)[truth]
    share = np.exp(logits)
    return share / share.sum(axis=1, keepdims=True), truth


def mine(seed: int, level: float) -> dict[str, float]:
    share, truth = draw(seed, 600)
    own = 1.0 - share[np.arange(600), truth]
    return {name: threshold(own[truth == k], level) for k, name in enumerate(IDS)}


@pytest.mark.parametrize("level", [0.8, 0.9, 0.95])
def test_sets_are_crepes(level: float) -> None:
    share, truth = draw(1, 600)
    classifier = ConformalClassifier()
    classifier.fit(hinge(share, np.arange(3), truth), bins=truth)
    new, _ = draw(2, 300)
    scores = hinge(new)
    thresholds = mine(1, level)
    for k, name in enumerate(IDS):
        theirs = classifier.predict_set(
            scores, bins=np.full(300, k), confidence=level, smoothing=False
        )[:, k]
        kept = np.array([name in conformal_set(IDS, row, thresholds) for row in new])
        assert kept.tolist() == (theirs > 0).tolist()


def test_coverage_of_each_class_lies_in_the_exact_interval() -> None:
    level = 0.9
    thresholds = mine(1, level)
    share, truth = draw(3, 6000)
    _, calibration_truth = draw(1, 600)
    for k, name in enumerate(IDS):
        n = int((calibration_truth == k).sum())
        rows = share[truth == k]
        covered = sum(name in conformal_set(IDS, row, thresholds) for row in rows)
        rank = order(n, level)
        # Coverage given the calibration set is Beta(k, n + 1 − k) (Vovk 2012), so the count
        # covered is beta-binomial; 99.9 % over three classes.
        exact = betabinom(len(rows), rank, n + 1 - rank)
        assert exact.ppf(0.0005 / 3) <= covered <= exact.ppf(1 - 0.0005 / 3)


def test_the_rank_is_not_pushed_up_by_rounding() -> None:
    # (9 + 1) × 0.9 is 9.000000000000002 in floating point on some roads.
    assert order(9, 0.9) == 9
    assert order(10, 0.9) == 10


def test_too_few_calibration_cases_keep_the_class_always() -> None:
    assert threshold([0.1] * 5, 0.9) == 1.0


def test_a_class_that_was_never_calibrated_is_kept_and_order_is_by_probability() -> None:
    kept = conformal_set(IDS, np.array([0.1, 0.7, 0.2]), {"a": 0.5, "b": 0.5})
    assert kept == ("b", "c")
