"""The same shot sent twice, another shot, on published photographs (scikit-image's wheel)."""

import io

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage import data

from carbpair.pair.duplicate import SAME_BITS, difference_hash, groups

PICTURES = {"coffee": data.coffee(), "astronaut": data.astronaut(), "cat": data.chelsea()}


def jpeg(pixels: np.ndarray, quality: int) -> np.ndarray:
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=quality)
    return np.asarray(Image.open(buffer))


def apart(a: np.ndarray, b: np.ndarray) -> int:
    return (difference_hash(a) ^ difference_hash(b)).bit_count()


@pytest.mark.parametrize("name", PICTURES)
def test_one_shot_in_other_sizes_and_qualities(name: str) -> None:
    picture = PICTURES[name]
    height, width = picture.shape[:2]
    assert apart(picture, jpeg(picture, 40)) <= SAME_BITS
    smaller = cv2.resize(picture, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
    assert apart(picture, smaller) <= SAME_BITS
    assert apart(picture, jpeg(cv2.resize(picture, (900, 640)), 60)) <= SAME_BITS
    brighter = np.clip(picture.astype(float) * 1.1 + 4, 0, 255).astype(np.uint8)
    assert apart(picture, brighter) <= SAME_BITS


def test_other_shots_are_far_apart() -> None:
    names = list(PICTURES)
    for i, a in enumerate(names):
        for b in names[:i]:
            assert apart(PICTURES[a], PICTURES[b]) > 2 * SAME_BITS
        assert apart(PICTURES[a], PICTURES[a][:, ::-1]) > 2 * SAME_BITS


def test_the_bits_say_brighter_than_the_left_neighbour() -> None:
    ramp = np.repeat(np.linspace(0, 255, 900)[None], 800, 0).astype(np.uint8)
    assert difference_hash(np.dstack([ramp] * 3)) == 2**64 - 1
    assert difference_hash(np.dstack([ramp[:, ::-1]] * 3)) == 0


def test_groups_name_the_first_of_each_shot() -> None:
    a, b = 0, 2**64 - 1
    assert groups([a, b, a ^ 0b111, b, 0x5555555555555555]) == [0, 1, 0, 1, 4]
    assert groups([]) == []
