import pytest

from carbpair.identify.fact import CaseFacts, Confirmation
from carbpair.identify.observation import observe, seen_layout
from carbpair.identify.reading import CarbReading, LabelReading, PairReading
from tests.identify.example import carb, pair

NONE = CaseFacts()


def test_an_unsure_reading_is_no_observation() -> None:
    unsure = CarbReading({"chamber": LabelReading("unsure", None, {"piston": 0.9})})
    assert observe(PairReading(unsure, None), NONE, "chamber", "left") is None


def test_a_hand_check_comes_before_the_reading() -> None:
    facts = CaseFacts(confirmed=(Confirmation("chamber", "diaphragm", "left"),))
    reading = pair("3", "inboard", "piston")
    left, right = (observe(reading, facts, "chamber", side) for side in ("left", "right"))
    assert left is not None
    assert right is not None
    assert (left.value, left.source, left.probability) == ("diaphragm", "confirmed", None)
    assert (right.value, right.source) == ("piston", "photo")


@pytest.mark.parametrize(
    ("left", "right", "layout"),
    [
        ("inboard", "inboard", "inboard"),
        ("inboard", "outboard", "same_side"),
        ("none", "inboard", None),
        ("inboard", None, None),
    ],
)
def test_layout_of_two_sides(left: str, right: str | None, layout: str | None) -> None:
    reading = PairReading(carb("3", left, "piston"), carb("3", right, "piston"))
    assert seen_layout(reading, NONE)[0] == layout


def test_a_confirmed_layout_gives_both_sides() -> None:
    for layout in ("inboard", "same_side"):
        facts = CaseFacts(confirmed=(Confirmation("bowl_layout", layout),))
        found, sides = seen_layout(PairReading(None, None), facts)
        assert found == layout
        assert set(sides) == {"left", "right"}
