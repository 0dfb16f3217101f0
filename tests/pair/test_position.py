"""Left and right as seen facing the intakes, however the picture is turned."""

import numpy as np
import pytest

from carbpair.pair.position import Position, Stance, angle_deg, place
from tests.vision.views import Camera

PITCH = 3.2


def turned(
    vector: tuple[float, float], quarter: int, size: tuple[int, int] | None
) -> tuple[float, float]:
    """An image point (with the picture's size) or direction after `quarter` turns clockwise."""
    x, y = vector
    w, h = size or (0, 0)
    for _ in range(quarter):
        x, y, w, h = h - y, x, h, w
    return x, y


def stances(camera: Camera, quarter: int = 0) -> list[Stance]:
    """The left and the right carb of a pair under a camera, in a picture turned clockwise."""
    out = []
    for y in (-PITCH / 2, PITCH / 2):
        c, a, b = camera.project(np.array([[0.0, y, 0.0], [0, y + 0.5, 0], [0, y - 0.5, 0]]))
        right = a - b
        out.append(
            Stance(
                turned((float(c[0]), float(c[1])), quarter, (384, 384)),
                turned((float(right[0]), float(right[1])), quarter, None),
                140.0,
                0.9,
            )
        )
    return out


VIEWS = [Camera(0, 20), Camera(-35, 40), Camera(40, 50, 8.0), Camera(170, 40), Camera(5, 85)]


@pytest.mark.parametrize("camera", VIEWS)
@pytest.mark.parametrize("quarter", [0, 1, 2, 3])
def test_every_quarter_turn_gives_the_same_places(camera: Camera, quarter: int) -> None:
    left, right = stances(camera, quarter)
    assert place([left, right]).positions == ("left", "right")
    assert place([right, left]).positions == ("right", "left")
    assert place([left, right]).reason is None


def test_from_behind_the_left_one_stands_on_the_pictures_right() -> None:
    left, right = stances(Camera(180, 30))
    assert left.centre[0] > right.centre[0]
    assert place([left, right]).positions == ("left", "right")


def test_not_two_carbs() -> None:
    left, right = stances(VIEWS[0])
    assert place([]).reason == "none_found"
    assert place([left]) == place([right])
    assert place([left]).reason == "other_carb_not_seen"
    three = place([left, right, left])
    assert three.positions == (None, None, None)
    assert three.reason == "more_than_two_carbs"


def test_carbs_of_two_installations() -> None:
    left, right = stances(VIEWS[0])
    across = Stance(right.centre, (-right.right[1], right.right[0]), right.size, right.score)
    got = place([left, across])
    assert (got.positions, got.reason) == ((None, None), "carbs_point_different_ways")


def test_one_behind_the_other() -> None:
    # seen along the row, the two stand on one line of sight
    left, right = stances(Camera(0, 20))
    middle = ((left.centre[0] + right.centre[0]) / 2, left.centre[1] + 60)
    near = Stance((middle[0], left.centre[1]), left.right, left.size, 0.9)
    got = place([near, Stance(middle, right.right, right.size, 0.9)])
    assert (got.positions, got.reason) == ((None, None), "order_unclear")


def test_angle() -> None:
    assert angle_deg(np.array([1.0, 0.0]), np.array([0.0, 3.0])) == pytest.approx(90)
    assert angle_deg(np.array([1.0, 1.0]), np.array([-2.0, -2.0])) == pytest.approx(180)


@pytest.mark.parametrize(("said", "other"), [("left", "right"), ("right", "left")])
def test_what_a_person_says_holds_and_the_other_follows(said: Position, other: str) -> None:
    pair = stances(VIEWS[0])
    assert place(pair, [said]).positions == (said, other)
    assert place(pair[:1], [said]).positions == (said,)
    three = place([*pair, pair[0]], [said])
    assert three.positions == (said, None, None)
    assert three.reason == "more_than_two_carbs"
    assert place(pair, [said, said]).positions == (said, said)
