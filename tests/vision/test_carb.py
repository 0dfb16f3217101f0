"""Sizes of a carb in photo pixels, and the whole reading of a picture without carbs."""

from typing import Any

import numpy as np
import pytest
from sklearn.datasets import load_sample_image

from carbpair.settings import default_model_dir
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
    """Stands for a network that answers the same whatever it sees."""

    def __init__(self, *answers: np.ndarray) -> None:
        self.answers = answers

    def run(self, image: np.ndarray) -> list[np.ndarray]:
        return [np.repeat(a[None], len(image), 0) for a in self.answers]


def test_a_find_without_a_carbs_landmarks_is_no_carb() -> None:
    maps = np.full((8, 120, 160), -9.0, np.float32)
    maps[0, 60, 80], maps[4:] = 4.0, 0.0
    vague = np.zeros((13, 64, 64), np.float32)
    sharp = vague.copy()
    sharp[:, 20:23, 30] = 12.0
    nothing = Says(np.zeros((2, 64, 64), np.float32) - 9, np.zeros(4, np.float32))
    bins = Says(np.zeros(181, np.float32))
    picture = np.full((480, 640, 3), 90, np.uint8)
    for landmark_maps, count in ((vague, 0), (sharp, 1)):
        networks: Any = {
            "locator": Says(maps),
            "reader": Says(landmark_maps, np.zeros(8, np.float32)),
            "flange": nothing,
            "rim": bins,
        }
        assert len(read_carbs(picture, networks, Calibration())) == count


def test_no_carb_in_a_published_photograph() -> None:
    networks = load_networks(default_model_dir())
    picture = np.asarray(load_sample_image("flower.jpg"))
    assert read_carbs(picture, networks, Calibration()) == []
