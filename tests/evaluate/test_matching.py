"""Which found carb is which true one."""

from carbpair.evaluate.matching import match, match_boxes
from tests.evaluate.example import LEFT, RIGHT, carb, true


def test_boxes_are_matched_by_overlap_each_once() -> None:
    near = (10.0, 0.0, 110.0, 100.0)  # overlap with LEFT 90/110
    assert match_boxes([LEFT, RIGHT], [RIGHT, near]) == {0: 1, 1: 0}
    assert match_boxes([LEFT], [near, LEFT]) == {0: 1}
    # 100 × 100 boxes shifted by 45 overlap by 55/145 = 0.38: too little
    assert match_boxes([LEFT], [(45.0, 0.0, 145.0, 100.0)]) == {}
    assert match_boxes([LEFT], [(40.0, 0.0, 140.0, 100.0)]) == {0: 0}  # 60/140 = 0.43


def test_without_boxes_by_position() -> None:
    truths = [true(None, "right"), true(None, "left")]
    assert match(truths, [carb(LEFT, "left"), carb(RIGHT, "right")]) == {0: 1, 1: 0}
    assert match(truths, [carb(RIGHT, "right")]) == {0: 0}
    assert match([true(None, "left")], [carb(RIGHT, "right")]) == {}


def test_without_positions_from_left_to_right_when_the_numbers_agree() -> None:
    truths = [true(None, "right"), true(None, "left")]
    assert match(truths, [carb(RIGHT, None), carb(LEFT, None)]) == {1: 1, 0: 0}
    assert match(truths, [carb(LEFT, None)]) == {}
    assert match([true(None, None)], [carb(LEFT, None)]) == {0: 0}
    assert match([], [carb()]) == {}
