"""Views in which carbs are partly hidden: what counts as one, and that one is looked for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from models.training.scene.camera import draw_low_direction
from models.training.scene.photograph import (
    HIDDEN_TRIES,
    RIM,
    box_overlap,
    hidden_view,
    partly_hidden,
    photograph,
    readable,
)
from models.training.scene.scene import Scene, build_scene

from carbpair.vision.locator import overlap

SIZE = (640, 480)


def carb(
    box: tuple[float, float, float, float] = (0, 0, 100, 100), **seen: float
) -> dict[str, Any]:
    shares = {"cover": 0.75, "body": 0.2, "flange": 0.8} | seen
    return {"box": np.array(box, float), "seen": shares}


class Sight:
    """Stands in for the renderer: the camera sees this share of any surface."""

    def __init__(self, share: float) -> None:
        self.share, self.asked = share, 0

    def visible(self, origin: np.ndarray, points: np.ndarray, slack: np.ndarray) -> np.ndarray:
        self.asked += 1
        return np.arange(len(points)) % 100 < 100 * self.share


class Camera(Sight):
    """Stands in for the renderer: sees every surface, and its pictures are grey."""

    sizes = (SIZE, (384, 384), (448, 448), (RIM, RIM))

    def __init__(self) -> None:
        super().__init__(1.0)
        self.taken: list[int] = []

    def load(self, *scene: object) -> None:
        """Takes any scene."""

    def mean(self, view: object, sensor: int, spp: int, seeds: list[int]) -> np.ndarray:
        return self.render(view, sensor, spp, seeds[0])

    def render(self, view: object, sensor: int, spp: int, seed: int) -> np.ndarray:
        self.taken.append(sensor)
        w, h = self.sizes[sensor]
        return np.full((h, w, 3), 0.18, np.float32)


@pytest.fixture(scope="module")
def pair() -> Scene:
    return build_scene(11, carb_count=2)


def test_overlap_of_boxes() -> None:
    a, b = np.array([0.0, 0, 4, 4]), np.array([2.0, 0, 6, 4])
    assert box_overlap(a, b) == pytest.approx(8 / 24)
    assert box_overlap(a, np.array([5.0, 5, 6, 6])) == 0
    rng = np.random.default_rng(2)
    for one, other in np.sort(rng.uniform(0, 10, (50, 2, 2, 2)), axis=2).reshape(50, 2, 4):
        assert box_overlap(one, other) == pytest.approx(overlap(tuple(one), tuple(other)))


@pytest.mark.parametrize(
    ("carbs", "hidden"),
    [
        ([carb()], False),
        ([carb(cover=0.49)], True),
        ([carb(cover=0.14)], False),  # too little to be found by: no example of anything
        ([carb(cover=0.7, body=0.0, flange=0.02)], True),  # the cover alone, above a panel
        ([carb(cover=0.75, body=0.0, flange=0.02)], False),
        ([carb(), carb((50, 0, 150, 100))], True),  # one before the other: 1/3
        ([carb(), carb((70, 0, 170, 100))], False),  # 30/170
        ([], False),
    ],
)
def test_what_is_partly_hidden(carbs: list[dict[str, Any]], hidden: bool) -> None:
    assert partly_hidden(carbs) is hidden


def test_a_hidden_view_is_looked_for(pair: Scene) -> None:
    found = hidden_view(Sight(0.4), pair, SIZE, np.random.default_rng(1))  # type: ignore[arg-type]
    assert found is not None
    view, truth = found
    assert view.size == SIZE
    assert partly_hidden([t for t in truth if readable(t, 18)])


def test_where_nothing_can_be_found_none_is_made(pair: Scene) -> None:
    sight = Sight(0.0)
    assert hidden_view(sight, pair, SIZE, np.random.default_rng(1)) is None  # type: ignore[arg-type]
    assert sight.asked == HIDDEN_TRIES


@pytest.mark.parametrize("kind", ["crops", "closeups", "rims"])
def test_only_windows_with_samples_are_made(pair: Scene, kind: str) -> None:
    sensor = ["crops", "closeups", "rims"].index(kind) + 1
    spp = tuple(int(k in (0, sensor)) for k in range(4))
    camera = Camera()
    row = photograph(camera, pair, np.zeros((2, 4, 3), np.float32), spp, views=4)  # type: ignore[arg-type]
    rows = [row, *row["others"]]
    made = [(r, w) for r in rows for w in r[kind]]
    assert made
    assert set(camera.taken) == {0, sensor}
    assert all(not r[k] for r in rows for k in {"crops", "closeups", "rims"} - {kind})
    for r, window in made:
        assert window["picture"].shape == (*Camera.sizes[sensor], 3)
        if kind == "rims":  # the rim's five landmarks with room about them
            points = r["carbs"][window["carb"]]["keypoints"][:5]
            x0, y0, side = window["window"]
            inside = (points - [x0, y0]) / side
            assert inside.min() > 0.05
            assert inside.max() < 0.95
            assert np.ptp(points, axis=0).max() / side == pytest.approx(1 / 1.5, rel=0.25)


def test_low_directions_are_low() -> None:
    rng = np.random.default_rng(3)
    directions = np.array([draw_low_direction(rng) for _ in range(300)])
    assert np.linalg.norm(directions, axis=1) == pytest.approx(np.ones(300))
    elevation = np.degrees(np.arcsin(directions[:, 2]))
    assert elevation.min() >= 0
    assert elevation.max() <= 38
    side = np.degrees(np.arctan2(np.abs(directions[:, 1]), directions[:, 0]))
    assert np.mean(side > 45) > 0.5  # from the side one carb stands before the other
