import numpy as np
import pytest
from scipy.stats import chisquare

from carbpair.identify.confusion import BearingConfusion
from carbpair.identify.mark_record import MarkCounts, MarkRecord
from carbpair.identify.reading import BearingReading, wrap_deg
from carbpair.identify.simulated_bearing import simulated_bearing

RECORDS = (
    MarkRecord("unsure", 0.0, MarkCounts(900, 100, 150), MarkCounts(100, 40, 10), 6.0, 4.5),
    MarkRecord("seen", 0.9, MarkCounts(100, 90, 2), MarkCounts(300, 300, 0), 3.0, 4.0),
)
ERRORS = BearingConfusion(
    3.0, 0.0, 100, not_visible_rate=0.3, records=RECORDS, in_view_hidden_n=100
)


def drawn(views_as_asked: bool, count: int = 6000) -> list[BearingReading]:
    generator = np.random.default_rng(2)
    return [simulated_bearing(generator, ERRORS, 170.0, views_as_asked) for _ in range(count)]


@pytest.mark.parametrize(
    ("views_as_asked", "expected"),
    [
        # 100 of 500 marks in full view hidden, 100 unsure, 300 answered; half a count each.
        (True, (100.5 / 501.5, 100.5 / 501.5, 300.5 / 501.5)),
        (False, (0.3, 0.7 * 900.5 / 1001, 0.7 * 100.5 / 1001)),
    ],
)
def test_hidden_unsure_and_answered_come_as_often_as_counted(
    views_as_asked: bool, expected: tuple[float, float, float]
) -> None:
    statuses = [reading.status for reading in drawn(views_as_asked)]
    counts = [statuses.count(name) for name in ("not_visible", "unsure", "seen")]
    assert chisquare(counts, np.array(expected) * len(statuses)).pvalue > 0.001


@pytest.mark.parametrize(
    ("views_as_asked", "counts"), [(True, (100, 40, 10)), (False, (900, 100, 150))]
)
def test_unsure_marks_are_right_and_flipped_as_often_as_counted(
    views_as_asked: bool, counts: tuple[int, int, int]
) -> None:
    errors = [
        abs(wrap_deg(float(reading.bearing_deg or 0.0) - 170.0))
        for reading in drawn(views_as_asked, 12_000)
        if reading.status == "unsure"
    ]
    n, right, flipped = counts
    near = MarkCounts(n, right, flipped).shares
    # Of those that found it 6° leave 1.2 % beyond 15°; strays lie near by chance as well.
    expected_near = near.found * 0.98758 + near.stray / 12
    assert np.mean([e <= 15.0 for e in errors]) == pytest.approx(expected_near, abs=0.02)
    # But for the smoothing the counts come back.
    assert expected_near == pytest.approx(right / n, abs=0.02)
    assert np.mean([e > 150.0 for e in errors]) == pytest.approx(flipped / n, abs=0.025)


def test_a_reading_states_its_own_certainty_and_spread() -> None:
    answered = next(reading for reading in drawn(True) if reading.status == "seen")
    assert answered.probability == 0.9
    assert answered.sd_deg == 4.0
    assert answered.interval_deg is not None
