"""Sizes of a carb in photo pixels, and the whole reading of a picture without carbs."""

from typing import Any

import numpy as np
import pytest
from sklearn.datasets import load_sample_image

from carbpair.settings import default_model_dir
from carbpair.vision import locator
from carbpair.vision.calibration import Calibration
from carbpair.vision.carb import CarbReading, read_carbs
from carbpair.vision.locator import LocatedCarb
from carbpair.vision.network import load_networks
from tests.vision.views import THROAT_R, Camera, blank, landmarks

SQUARE_ON = Camera(0, 0.0, 4000.0, pixels=60.0)
FROM_ABOVE = Camera(0, 89.9, 4000.0, pixels=60.0)


def carb(camera: Camera, scale: float, photo: tuple[int, int] = (4000, 3000)) -> CarbReading:
    located = LocatedCarb((0.0, 0.0, 9.0, 9.0), 0.9)
    marks = landmarks(camera.project)
    return CarbReading(located, blank(scale), marks, 0.9, None, None, None, None, photo)


@pytest.mark.parametrize("scale", [0.25, 1.0, 3.0])
def test_diameters_in_photo_pixels(scale: float) -> None:
    # pixels per rim radius over view pixels per photo pixel; the longer axis is not foreshortened
    assert carb(FROM_ABOVE, scale).rim_px == pytest.approx(120.0 / scale, rel=1e-3)
    assert carb(SQUARE_ON, scale).throat_px == pytest.approx(120.0 * THROAT_R / scale, rel=1e-3)


def test_inside_the_photograph() -> None:
    # blank(0.5) starts at photo point (400, 300): view point (192, 192) is (784, 684)
    one = np.array([[192.0, 192.0]])
    assert carb(SQUARE_ON, 0.5, (785, 685)).inside(one)
    assert not carb(SQUARE_ON, 0.5, (783, 685)).inside(one)
    assert not carb(SQUARE_ON, 0.5, (785, 683)).inside(one)
    assert not carb(SQUARE_ON, 0.5).inside(np.array([[192.0, 192.0], [-201.0, 0.0]]))


class Says:
    """Stands for a network that answers the same whatever it sees, and keeps what it saw."""

    def __init__(self, *answers: np.ndarray) -> None:
        self.answers = answers
        self.seen: list[np.ndarray] = []

    def run(self, image: np.ndarray) -> list[np.ndarray]:
        self.seen.append(image)
        return [np.repeat(a[None], len(image), 0) for a in self.answers]


VAGUE = np.zeros((13, 64, 64), np.float32)
SHARP = VAGUE.copy()
SHARP[:, 20:23, 30] = 12.0
PICTURE = np.full((480, 640, 3), 90, np.uint8)


@pytest.fixture(autouse=True)
def one_look(monkeypatch: pytest.MonkeyPatch) -> None:
    """The locator's maps below are those of a picture of 640 x 480 pixels, seen as it is."""
    monkeypatch.setattr(locator, "LONG_SIDE", 640)


def networks(
    finds: np.ndarray, landmark_maps: np.ndarray, finer: np.ndarray = VAGUE[:12]
) -> dict[str, Any]:
    """Networks that find carbs where `finds` (N, 2) says: cells of the locator, x and y."""
    maps = np.full((8, 120, 160), -9.0, np.float32)
    maps[4:] = 0.0
    for x, y in finds:
        maps[0, y, x] = 4.0
    return {
        "locator": Says(maps),
        "reader": Says(landmark_maps, np.zeros(8, np.float32)),
        "refiner": Says(finer),
        "flange": Says(np.zeros((2, 64, 64), np.float32) - 9, np.zeros(4, np.float32)),
        "rim": Says(np.zeros(181, np.float32)),
    }


def coordinates() -> np.ndarray:
    """A picture (480, 640, 3) whose red and green tell x and y about (160 or 480, 240)."""
    y, x = np.mgrid[:480, :640].astype(float) + 0.5
    return np.stack(
        [((x % 320) - 100).clip(0, 127) * 2, (y - 180).clip(0, 127) * 2, 0 * x], -1
    ).astype(np.uint8)


def cross(cells: float) -> np.ndarray:
    """Maps (13, 64, 64) with rim and throat as crosses that many cells to each side."""
    maps = VAGUE.copy()
    arms = [(0, 0), (0, 1), (0, -1), (1, 0), (-1, 0)]
    places = [(32 + cells * x, 24 + cells * y) for x, y in arms] + [(32, 20), (32, 16)]
    arms = [(0, 0), (1, 0), (-1, 0), (0, -1), (0, 1)]
    places += [(32 + cells * x / 2, 40 + cells * y / 2) for x, y in arms] + [(50, 40)]
    for k, (x, y) in enumerate(places):
        maps[k, int(y), int(x)] = 20.0
    return maps


@pytest.mark.parametrize(("landmark_maps", "count"), [(VAGUE, 0), (SHARP, 1)])
def test_a_find_without_a_carbs_landmarks_is_no_carb(landmark_maps, count) -> None:
    all_of_them = networks(np.array([[80, 60]]), landmark_maps)
    assert len(read_carbs(PICTURE, all_of_them, Calibration())) == count
    assert len(all_of_them["refiner"].seen) == count


def test_without_a_refiner_worth_its_name_the_readers_landmarks_stand() -> None:
    reader = cross(8)
    read = read_carbs(PICTURE, networks(np.array([[80, 60]]), reader), Calibration())
    assert len(read) == 1
    got = read[0]
    assert got.marks.refined is None
    # The reader's box is 16 cells wide and 28 high; the locator's is 32 pixels about (322, 242).
    cell = 1.9 * 32 / 64
    left, top = 322 - 32 * cell, 242 - 32 * cell
    want = [[left + 32.5 * cell, top + 24.5 * cell], [left + 32.5 * cell, top + 32.5 * cell]]
    assert got.crop.to_photo(got.marks.points[:2]) == pytest.approx(np.array(want), abs=0.01)
    assert got.rim_px == pytest.approx(16 * cell, rel=1e-3)


@pytest.mark.parametrize(("score", "count"), [(0.55, 0), (0.65, 1)])
def test_a_weak_find_that_the_refiner_does_not_confirm_is_no_carb(score, count) -> None:
    limits = Calibration(weak_landmarks=1.1)  # the reader's are certain here
    finds = networks(np.array([[80, 60]]), cross(8))
    finds["locator"].answers[0][0, 60, 80] = np.log(score / (1 - score))
    assert len(read_carbs(PICTURE, finds, limits)) == count
    assert len(read_carbs(PICTURE, finds, Calibration(weak_landmarks=0.9))) == 1
    sharp = networks(np.array([[80, 60]]), cross(8), cross(12)[:12])
    sharp["locator"].answers[0][0, 60, 80] = np.log(score / (1 - score))
    assert len(read_carbs(PICTURE, sharp, limits)) == 1
    drawn = [(306.0, 226.0, 338.0, 258.0)]  # the find's own box
    assert len(read_carbs(PICTURE, finds, limits, drawn)) == 1


def test_a_find_inside_a_drawn_box_is_the_drawn_carb() -> None:
    finds = networks(np.array([[80, 60]]), cross(8), cross(12)[:12])  # a box about (322, 242)
    generous, beside = (240.0, 160.0, 400.0, 330.0), (340.0, 160.0, 400.0, 330.0)
    assert len(read_carbs(PICTURE, finds, Calibration(), [generous])) == 1
    assert len(read_carbs(PICTURE, finds, Calibration(), [beside])) == 2


def test_everything_after_the_refiner_is_read_in_the_close_up() -> None:
    finds = np.array([[40, 60], [120, 60]])
    all_of_them = networks(finds, cross(8), cross(12)[:12])
    read = read_carbs(coordinates(), all_of_them, Calibration())
    assert len(read) == 2
    for name in ("reader", "refiner", "flange", "rim"):
        assert [len(x) for x in all_of_them[name].seen] == [2], name
    cell = 406 / 64
    for carb_, (x, _) in zip(sorted(read, key=lambda c: c.crop.origin), finds, strict=True):
        assert carb_.crop.pixels.shape == (448, 448, 3)
        assert carb_.marks.refined == pytest.approx(np.ones(12), abs=0.01)
        assert carb_.marks.point("rim") == pytest.approx([21 + 32.5 * cell, 21 + 24.5 * cell])
        assert carb_.rim_px == pytest.approx(24 * cell / carb_.crop.scale)
        assert carb_.rim is not None
        centre = carb_.crop.to_photo(carb_.rim.axes()[0])
        assert abs(float(centre[0]) - 4 * x) < 20
        assert carb_.flange is not None
        assert carb_.bearing is not None
    # Both show the place in the photograph that the landmarks name: the throat in the middle of
    # the flange, the rim's centre as the mean of a turn.
    for carb_, face, strip in zip(
        read, all_of_them["flange"].seen[0], all_of_them["rim"].seen[0], strict=True
    ):
        shown = [face[:2, 63:65, 63:65].mean((1, 2)), strip[:2, 9, 36:756].mean(1) * 128 + 127]
        for colour, name in zip(shown, ("throat", "rim"), strict=True):
            x, y = carb_.crop.to_photo(carb_.marks.point(name))
            assert colour == pytest.approx([(x % 320 - 100) * 2, (y - 180) * 2], abs=3), name


def test_no_carb_in_a_published_photograph() -> None:
    picture = np.asarray(load_sample_image("flower.jpg"))
    assert read_carbs(picture, load_networks(default_model_dir()), Calibration()) == []
