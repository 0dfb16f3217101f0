"""Counts by the reader's own certainty, against a mixture whose shares are known."""

import pytest

from carbpair.identify.mark_record import MarkCounts, MarkRecord, record_of

NONE = MarkCounts(0, 0, 0)


def record(status: str, least: float, counts: MarkCounts = NONE) -> MarkRecord:
    return MarkRecord(status, least, counts, NONE, 3.0, 4.0)


def test_what_chance_does_is_taken_out() -> None:
    # 60 % found, 10 % of the opposite, 30 % anywhere: of these one in twelve lies within 15° of
    # the mark and one in six beyond 150°. So 0.6 + 0.025 are near, 0.1 + 0.05 opposite.
    shares = MarkCounts(10_000_000, 6_250_000, 1_500_000).shares
    assert (shares.found, shares.flipped, shares.stray) == pytest.approx((0.6, 0.1, 0.3), abs=1e-6)


def test_readings_that_mean_nothing_found_nothing() -> None:
    shares = MarkCounts(1_200_000, 100_000, 200_000).shares
    assert shares.found == pytest.approx(0.0, abs=1e-5)
    assert shares.stray == pytest.approx(1.0, abs=1e-5)


def test_no_share_is_negative() -> None:
    # Fewer opposite than chance alone gives, as of 40 % found and 60 % anywhere: 0.4 + 0.05.
    shares = MarkCounts(10_000_000, 4_500_000, 100_000).shares
    assert (shares.found, shares.flipped) == pytest.approx((0.4, 0.0), abs=1e-6)
    # Fewer near than chance: 40 % opposite and 60 % anywhere.
    shares = MarkCounts(10_000_000, 100_000, 5_000_000).shares
    assert (shares.found, shares.flipped) == pytest.approx((0.0, 0.4), abs=1e-6)
    assert MarkCounts(1000, 0, 0).shares.stray == pytest.approx(1.0)


def test_few_readings_promise_little() -> None:
    # 20 of 20 near: half a count each to near, opposite and neither of 21.5. Strays in all
    # 0.5 / 0.75 of a count, of which a twelfth is near and a sixth opposite.
    shares = MarkCounts(20, 20, 0).shares
    assert shares.found == pytest.approx((20.5 - 1 / 18) / 21.5)
    assert shares.flipped == pytest.approx((0.5 - 1 / 9) / 21.5)
    assert shares.stray == pytest.approx((2 / 3) / 21.5)


def test_a_reading_belongs_to_its_status_and_certainty() -> None:
    records = [record("unsure", x) for x in (0.0, 0.3, 0.7)] + [
        record("seen", x) for x in (0.0, 0.97)
    ]
    for status, own, least in [
        ("unsure", 0.1, 0.0),
        ("unsure", 0.3, 0.3),
        ("unsure", 0.99, 0.7),  # two photos that disagree: sure, and yet not answered
        ("unsure", None, 0.0),
        ("seen", 0.95, 0.0),
        ("seen", 0.98, 0.97),
    ]:
        found = record_of(records, status, own)
        assert found is not None
        assert (found.status, found.least) == (status, least)
    assert record_of([], "seen", 0.9) is None
    assert record_of(records[:3], "seen", 0.9) is None


def test_a_reading_that_is_wider_than_its_like_stays_wider_and_none_is_narrower() -> None:
    held = record("seen", 0.0)
    assert held.spread_deg(8.0) == 6.0
    assert held.spread_deg(2.0) == held.spread_deg(None) == 3.0
