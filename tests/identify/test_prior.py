import pytest

from carbpair.identify.fitment import Fitment
from carbpair.identify.prior import FITTED_SHARE, MIXED_SHARE, OTHER_SHARE, Shares, prior_for

INDEX = {"a": 0, "b": 1, "c": 2}


def fitment(pattern: str) -> Fitment:
    return Fitment("Car", "Engine", pattern)


def test_without_a_car_all_patterns_are_alike() -> None:
    prior = prior_for(INDEX, ())
    assert prior.patterns == pytest.approx([(1 - OTHER_SHARE - MIXED_SHARE) / 3] * 3)
    assert prior.patterns.sum() + prior.other + prior.mixed == pytest.approx(1.0)


def test_a_car_favours_what_it_was_built_with() -> None:
    prior = prior_for(INDEX, [fitment("b"), fitment("b")])
    assert prior.patterns[1] == pytest.approx(FITTED_SHARE)
    assert prior.patterns[0] == prior.patterns[2]
    assert prior.patterns.sum() + prior.other + prior.mixed == pytest.approx(1.0)


def test_several_listed_patterns_share_and_all_listed_is_none_listed() -> None:
    two = prior_for(INDEX, [fitment("a"), fitment("c")])
    assert two.patterns[[0, 2]] == pytest.approx([FITTED_SHARE / 2] * 2)
    everything = prior_for(INDEX, [fitment(name) for name in INDEX])
    assert everything.patterns == pytest.approx(prior_for(INDEX, ()).patterns)


def test_one_carburettors_own_prior_sums_to_one() -> None:
    assert prior_for(INDEX, (), Shares(0.5, 0.3, 0.1)).single.sum() == pytest.approx(1.0)


def test_what_is_put_in_comes_from_anywhere() -> None:
    odd = prior_for(INDEX, ()).odd
    assert odd.sum() == pytest.approx(1.0)
    assert odd[-1] == 0.5
    assert len(set(odd[:-1])) == 1
