"""Close photos of one carb each: the sender says which, and they count for that one."""

import numpy as np

from carbpair.inspection import PhotoInspection, examine, pair_of
from carbpair.photo import Photo
from carbpair.vision.carb import CarbReading
from tests.vision.test_features import FITTED, FIXED, reading


def shot(
    name: str, carbs: list[CarbReading], stated: str | None = None, fingerprint: int = 0
) -> PhotoInspection:
    noise = np.random.default_rng(fingerprint).integers(0, 255, (300, 400, 3), np.uint8)
    photo = Photo(name, noise, 1, False, "jpeg")
    return examine(photo, carbs, FIXED, stated)


def test_a_lone_carb_has_the_place_that_was_stated() -> None:
    (carb,) = shot("close.jpg", [reading()], "right").carbs
    assert carb.position == "right"
    assert carb.features["flange_holes"].value == 3
    # Which hand the bowl hangs on was read, but not whether that is inboard: the sender may err.
    assert carb.features["bowl_side"].reason == "other_carb_not_seen"
    assert shot("close.jpg", [reading()]).carbs[0].position is None
    assert shot("close.jpg", [reading()], "top").carbs[0].position is None


def test_what_two_carbs_show_is_not_overruled() -> None:
    both = shot("both.jpg", [reading(), reading()], "left")
    assert [c.position for c in both.carbs].count("left") <= 1


def test_a_close_photo_shows_what_the_filter_hid_before() -> None:
    hidden = shot("first.jpg", [reading(marks=FITTED)], "left", 1)
    close = shot("second.jpg", [reading()], "left", 2)
    pair = pair_of([hidden, close], FIXED)
    left = pair.carbs["left"]
    assert left is not None
    assert left["flange_holes"].value == 3
    assert left["filter_fitted"].reason == "changed_between_photos"
    assert pair.carbs["right"] is None
