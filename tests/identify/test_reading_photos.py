"""How many photos a reading is from: as many as show each carburettor at its place."""

from typing import Any

import pytest

from carbpair.identify.reading import read_inspection
from tests.identify.example import features, inspection


@pytest.mark.parametrize(
    ("photos", "used", "count"),
    [
        (["left right", "left right", "left right"], 3, 3),
        (["left right", "left", "right"], 3, 2),
        (["left right", "left", "left"], 3, 1),
        (["left right", "left right"], 1, 1),  # the same shot twice
        (["left right", "none"], 1, 1),
        ([], 0, 0),
    ],
)
def test_photos_of_the_less_photographed_one(photos: list[str], used: int, count: int) -> None:
    held: dict[str, Any] = inspection(*[features(4, "outboard", "piston", 2.0)] * 2)
    held["photos"] = [
        {"carbs": [{"position": side} for side in sides.split() if side != "none"]}
        for sides in photos
    ]
    held["pair"]["photos_used"] = used
    assert read_inspection(held).photos == count
