"""Several photographs of one carb: agreement raises, disagreement holds back."""

import pytest
from scipy.stats import norm

from carbpair.pair.fusion import CAP, CORRELATION, UNSURE_TOGETHER, fuse
from carbpair.vision.feature import Feature
from tests.pair.readings import bearing, choice, hidden, holes, unsure_of

HIGH = 0.9


def test_two_that_agree_raise() -> None:
    one, other = holes(3, 0.92), holes(3, 0.91)
    got = fuse([one, other], HIGH)
    assert got.value == 3
    assert got.probability is not None
    assert 0.92 < got.probability <= CAP
    # by hand: the better counts whole, the other with the square root of its odds
    lift = (0.91 / 0.045) ** CORRELATION * 0.92 / 0.04
    assert got.probability == pytest.approx(lift / (lift + 2), abs=1e-6)


def test_two_unsure_ones_can_answer_together() -> None:
    got = fuse([holes(None, 0.8), holes(None, 0.8)], HIGH)
    # by hand: odds of 0.8 to 0.1, the second with its square root
    lift = (0.8 / 0.1) ** (1 + CORRELATION)
    assert got.probability == pytest.approx(lift / (lift + 2))
    assert got.probability is not None
    assert got.probability < UNSURE_TOGETHER
    assert got.status == "unsure"
    third = fuse([holes(None, 0.85)] * 3, HIGH)
    assert (third.value, third.status) == (3, "seen")
    off = choice(None, true=0.1, false=0.9)
    assert fuse([off, off], 0.85).value is False


def test_a_bowl_that_two_photos_look_for_in_vain_is_integral() -> None:
    empty = unsure_of("no_bowl_seen", left=0.05, none=0.9, right=0.05)
    assert fuse([empty], HIGH).value is None
    assert fuse([empty, empty], HIGH).value == "none"
    beside = choice("left", left=0.97, none=0.02, right=0.01)
    assert fuse([empty, beside], HIGH).value != "none"


def test_unsure_ones_that_were_held_back_for_a_reason_answer_nothing() -> None:
    # A hole too many in one photo is no lack of certainty.
    against = unsure_of("holes_do_not_form_pattern", n2=0.01, n3=0.98, n4=0.01)
    got = fuse([against, holes(None, 0.9), holes(None, 0.9)], HIGH)
    assert got.probability is not None
    assert got.probability > UNSURE_TOGETHER
    assert (got.value, got.status) == (None, "unsure")
    # One that is all but sure and one that leans elsewhere are no two witnesses.
    alone = choice(None, n2=0.02, n3=0.89, n4=0.09)
    other = choice(None, n2=0.35, n3=0.32, n4=0.33)
    assert fuse([alone, other], 0.8).status == "unsure"


def test_an_unsure_second_photograph_can_hold_a_first_one_back() -> None:
    against = choice(None, n2=0.88, n3=0.06, n4=0.06)
    got = fuse([holes(3, 0.91), against], HIGH)
    assert (got.value, got.status, got.reason) == (None, "unsure", "low_confidence")


def test_two_that_disagree_answer_nothing() -> None:
    got = fuse([holes(3, 0.99), holes(4, 0.97)], HIGH)
    assert (got.value, got.status, got.reason) == (None, "unsure", "photos_disagree")
    yes, no = choice(True, true=0.99, false=0.01), choice(False, true=0.01, false=0.99)
    assert fuse([yes, no], HIGH).reason == "photos_disagree"


def test_a_filter_that_is_on_in_one_photo_and_off_in_another_was_changed() -> None:
    on, off = choice(True, true=0.99, false=0.01), choice(False, true=0.01, false=0.99)
    got = fuse([on, off], HIGH, changes=True)
    assert (got.value, got.status, got.reason) == (None, "unsure", "changed_between_photos")
    assert fuse([off, off], HIGH, changes=True).value is False


def test_never_certain_however_many_agree() -> None:
    got = fuse([holes(2, 0.98)] * 9, HIGH)
    assert got.probability == CAP


def test_hidden_ones_say_nothing() -> None:
    one = holes(3, 0.95)
    assert fuse([hidden("filter_fitted"), one, hidden("occluded")], HIGH) == one
    assert fuse([hidden("filter_fitted"), hidden("occluded")], HIGH).reason == "filter_fitted"
    assert fuse([], HIGH).reason == "not_photographed"


def test_order_does_not_matter() -> None:
    a, b, c = holes(3, 0.95), holes(None, 0.6), holes(3, 0.91)
    assert fuse([a, b, c], HIGH) == fuse([c, a, b], HIGH)


def test_bearings_are_averaged_by_their_spread() -> None:
    got = fuse([bearing(178.0, 2.0, 0.99), bearing(-178.0, 2.0, 0.95)], HIGH)
    # weights 1 and CORRELATION: 178 + 4 / 3
    assert got.value == pytest.approx(178 + 4 / 3, abs=0.06)
    assert got.distribution is not None
    assert got.distribution["sd_deg"] == pytest.approx(2.0 / 1.5**0.5)
    assert got.interval_deg is not None
    half = norm.ppf(0.95) * got.distribution["sd_deg"]
    assert got.interval_deg[0] == pytest.approx(178 + 4 / 3 - half, abs=0.01)
    assert got.interval_deg[1] == pytest.approx(178 + 4 / 3 + half - 360, abs=0.01)


def test_bearings_that_disagree() -> None:
    got = fuse([bearing(0.0), bearing(90.0)], HIGH)
    assert (got.value, got.status, got.reason) == (None, "unsure", "photos_disagree")
    assert got.interval_deg is None


def test_an_unsure_bearing_gives_way_to_a_seen_one() -> None:
    low = Feature(None, 0.4, "unsure", "low_confidence", {"mean_deg": 120.0, "sd_deg": 9.0})
    assert fuse([low, bearing(5.0)], HIGH) == bearing(5.0)
    assert fuse([low, low], HIGH).status == "unsure"


def test_readings_without_a_distribution() -> None:
    low = Feature(None, None, "unsure", "low_confidence", None)
    assert fuse([low, low], HIGH) == low
    verdict = choice("turned", faces_intake=0.02, turned=0.98)
    assert fuse([low, verdict], HIGH).value == "turned"
