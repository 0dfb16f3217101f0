"""Against SciPy's entropy and scikit-learn's mutual information."""

import numpy as np
import pytest
from scipy.stats import entropy
from sklearn.metrics import mutual_info_score

from carbpair.identify.information import entropy_bits, expected_gain_bits, product_outcomes


def test_entropy_is_scipys() -> None:
    p = np.array([0.5, 0.25, 0.2, 0.05, 0.0])
    assert entropy_bits(p) == pytest.approx(entropy(p, base=2))


@pytest.mark.parametrize("seed", range(5))
def test_expected_gain_is_prior_less_expected_posterior_entropy(seed: int) -> None:
    generator = np.random.default_rng(seed)
    prior = generator.dirichlet(np.ones(6))
    likelihood = generator.dirichlet(np.ones(4), size=6)
    outcome = prior @ likelihood
    after = sum(
        outcome[o] * entropy(prior * likelihood[:, o] / outcome[o], base=2) for o in range(4)
    )
    assert expected_gain_bits(prior, likelihood) == pytest.approx(entropy(prior, base=2) - after)


def test_expected_gain_is_sklearns_mutual_information() -> None:
    counts = np.array([[30, 10, 5], [2, 40, 3], [1, 1, 8]])
    joint = counts / counts.sum()
    prior = joint.sum(axis=1)
    nats = mutual_info_score(None, None, contingency=counts)
    assert expected_gain_bits(prior, joint / prior[:, None]) == pytest.approx(nats / np.log(2))


def test_what_cannot_tell_is_worth_nothing() -> None:
    assert expected_gain_bits(np.array([0.5, 0.5]), np.full((2, 3), 1 / 3)) == 0.0


def test_a_certain_answer_between_two_even_patterns_is_one_bit() -> None:
    assert expected_gain_bits(np.array([0.5, 0.5]), np.eye(2)) == pytest.approx(1.0)


def test_two_observations_are_worth_no_more_than_their_sum() -> None:
    generator = np.random.default_rng(3)
    prior = generator.dirichlet(np.ones(5))
    one, two = generator.dirichlet(np.ones(3), 5), generator.dirichlet(np.ones(2), 5)
    both = expected_gain_bits(prior, product_outcomes(one, two))
    parts = [expected_gain_bits(prior, one), expected_gain_bits(prior, two)]
    # Conditionally independent outcomes share information, they never add some.
    assert max(parts) - 1e-12 <= both <= sum(parts) + 1e-12
