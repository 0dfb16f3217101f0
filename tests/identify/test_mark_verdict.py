import pytest

from carbpair.identify.mark_verdict import bearing_interval, mark_verdict
from carbpair.identify.pattern import Mark
from carbpair.identify.reading import NO_BEARING, BearingReading
from tests.identify.example import mark

FACING = Mark(0.0, 15.0)


@pytest.mark.parametrize(
    ("bearing", "sd", "required", "result"),
    [
        (2.0, 3.0, FACING, "pass"),
        (-9.0, 3.0, FACING, "pass"),
        (12.0, 3.0, FACING, "cannot_see"),
        (18.0, 3.0, FACING, "cannot_see"),
        (30.0, 3.0, FACING, "fail"),
        (-178.0, 3.0, FACING, "fail"),
        (180.0, 40.0, FACING, "fail"),
        (180.0, 120.0, FACING, "cannot_see"),
        (0.0, 20.0, FACING, "cannot_see"),
        (-179.0, 3.0, Mark(180.0, 15.0), "pass"),
        (150.0, 3.0, Mark(180.0, 15.0), "fail"),
        (88.0, 3.0, Mark(90.0, 15.0), "pass"),
        (-90.0, 3.0, Mark(90.0, 15.0), "fail"),
    ],
)
def test_the_whole_interval_decides(bearing: float, sd: float, required: Mark, result: str) -> None:
    assert mark_verdict(mark(bearing, sd), required, None).result == result


def test_what_was_not_seen_never_passes() -> None:
    for reading in (
        NO_BEARING,
        BearingReading("unsure", 0.0, 1.0),
        BearingReading("seen", 0.0),
    ):
        assert mark_verdict(reading, FACING, None).result == "cannot_see"


def test_a_hand_check_settles_it() -> None:
    assert mark_verdict(NO_BEARING, FACING, "faces_intake").result == "pass"
    assert mark_verdict(mark(0.0), FACING, "turned").result == "fail"
    # "Faces the intake" says nothing about a mark that must point elsewhere.
    assert mark_verdict(NO_BEARING, Mark(90.0), "faces_intake").result == "cannot_see"


def test_the_bearing_and_its_interval_are_stated() -> None:
    found = mark_verdict(mark(40.0, 3.0), FACING, None)
    assert "+40°" in found.seen
    assert "+35° to +45°" in found.seen
    assert "within 15°" in found.expected


def test_half_a_turn_is_marked_as_a_possible_misreading() -> None:
    assert "look by hand" in mark_verdict(mark(178.0), FACING, None).reason
    assert "look by hand" not in mark_verdict(mark(60.0), FACING, None).reason


def test_an_interval_across_half_a_turn_stays_together() -> None:
    reading = BearingReading("seen", 178.0, 3.0, (173.0, -177.0))
    assert bearing_interval(reading) == pytest.approx((173.0, 183.0))
    assert bearing_interval(BearingReading("seen", 10.0, 2.0)) == pytest.approx(
        (6.71, 13.29), abs=0.01
    )
