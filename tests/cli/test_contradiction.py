"""Which photos cannot show one and the same pair."""

from typing import Any

import pytest

from carbpair.contradiction import SURE, Contradiction, contradictions
from tests.inspection_example import bearing, features, hidden, seen, unsure


def photo(file: str, left: dict[str, Any], right: dict[str, Any] | None = None) -> dict[str, Any]:
    carbs = [{"position": "left", "features": features(**left)}]
    if right is not None:
        carbs.append({"position": "right", "features": features(**right)})
    return {"file": file, "notes": [], "carbs": carbs}


def found(*photos: dict[str, Any]) -> list[Contradiction]:
    return contradictions({"photos": list(photos)})


@pytest.mark.parametrize(
    ("name", "one", "other"),
    [
        ("flange_holes", 3, 4),
        ("chamber", "piston", "diaphragm"),
        ("bowl_side", "inboard", "outboard"),
        ("bowl_side", "none", "outboard"),
    ],
)
def test_one_carb_read_differently(name: str, one: object, other: object) -> None:
    photos = photo("a.jpg", {name: seen(one, 0.99)}), photo("b.jpg", {name: seen(other, 0.96)})
    assert found(*photos) == [Contradiction("left", name, (one, other), ("a.jpg", "b.jpg"))]


@pytest.mark.parametrize(
    "second",
    [
        {},
        {"flange_holes": seen(4, SURE - 0.01)},
        {"flange_holes": hidden("filter_fitted")},
        {"flange_holes": unsure({"3": 0.02, "4": 0.98}, "holes_do_not_form_pattern")},
        # what can change between two photos of one pair
        {"filter_fitted": seen(True, 0.99)},
        {"mark_bearing_deg": bearing(140.0)},
    ],
)
def test_what_is_no_contradiction(second: dict[str, Any]) -> None:
    first = {"flange_holes": seen(3, 0.99)}
    assert found(photo("a.jpg", first), photo("b.jpg", second)) == []


def test_left_and_right_may_differ() -> None:
    mixed = photo("a.jpg", {"flange_holes": seen(2, 0.99)}, {"flange_holes": seen(3, 0.99)})
    assert found(mixed, mixed) == []


def test_mirror_images_and_unplaced_carbs_say_nothing() -> None:
    first = photo("a.jpg", {"flange_holes": seen(2, 0.99)})
    mirrored = {**photo("b.jpg", {"flange_holes": seen(3, 0.99)}), "notes": ["mirrored_exif"]}
    assert found(first, mirrored) == []
    loose = photo("c.jpg", {"flange_holes": seen(3, 0.99)})
    loose["carbs"][0]["position"] = None
    assert found(first, loose) == []


def test_the_plainest_comes_first() -> None:
    first = photo("a.jpg", {"bowl_side": seen("inboard", 0.99), "flange_holes": seen(2, 0.99)})
    second = photo("b.jpg", {"bowl_side": seen("outboard", 0.99), "flange_holes": seen(3, 0.99)})
    assert [c.feature for c in found(first, second)] == ["flange_holes", "bowl_side"]
