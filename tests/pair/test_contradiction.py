"""Which photos cannot show one and the same pair."""

from dataclasses import replace

import pytest

from carbpair.pair.contradiction import SEVERAL_PAIRS, SURE, Contradiction, Shot, contradictions
from carbpair.pair.pair import assemble
from carbpair.vision.feature import Feature, Value
from tests.pair.readings import bearing, carb, choice, hidden, unsure_of


def seen(value: Value, p: float) -> Feature:
    return Feature(value, p, "seen", None, {str(value): p})


def photo(file: str, left: dict[str, Feature], right: dict[str, Feature] | None = None) -> Shot:
    carbs: list[tuple[str | None, dict[str, Feature]]] = [("left", carb(**left))]
    if right is not None:
        carbs.append(("right", carb(**right)))
    return Shot(file, False, carbs)


def found(*photos: Shot) -> list[Contradiction]:
    return contradictions(photos)


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
        {"flange_holes": unsure_of("holes_do_not_form_pattern", n3=0.02, n4=0.98)},
        # what can change between two photos of one pair
        {"filter_fitted": choice(True, true=0.99, false=0.01)},
        {"mark_bearing_deg": bearing(140.0)},
    ],
)
def test_what_is_no_contradiction(second: dict[str, Feature]) -> None:
    first = {"flange_holes": seen(3, 0.99)}
    assert found(photo("a.jpg", first), photo("b.jpg", second)) == []


def test_left_and_right_may_differ() -> None:
    mixed = photo("a.jpg", {"flange_holes": seen(2, 0.99)}, {"flange_holes": seen(3, 0.99)})
    assert found(mixed, mixed) == []


def test_mirror_images_and_unplaced_carbs_say_nothing() -> None:
    first = photo("a.jpg", {"flange_holes": seen(2, 0.99)})
    mirrored = replace(photo("b.jpg", {"flange_holes": seen(3, 0.99)}), mirrored=True)
    assert found(first, mirrored) == []
    loose = Shot("c.jpg", False, [(None, carb(flange_holes=seen(3, 0.99)))])
    assert found(first, loose) == []


def test_the_plainest_comes_first() -> None:
    first = photo("a.jpg", {"bowl_side": seen("inboard", 0.99), "flange_holes": seen(2, 0.99)})
    second = photo("b.jpg", {"bowl_side": seen("outboard", 0.99), "flange_holes": seen(3, 0.99)})
    assert [c.feature for c in found(first, second)] == ["flange_holes", "bowl_side"]


def test_the_pair_says_so_first() -> None:
    clash = found(
        photo("a.jpg", {"chamber": seen("piston", 0.99)}),
        photo("b.jpg", {"chamber": seen("diaphragm", 0.98)}),
    )
    got = assemble([carb()], [carb()], {}, 2, 0, ["Step back."], clash).as_json()
    assert got["advice"] == [SEVERAL_PAIRS, "Step back."]
    assert got["contradictions"] == [
        {
            "position": "left",
            "feature": "chamber",
            "values": ["piston", "diaphragm"],
            "files": ["a.jpg", "b.jpg"],
        }
    ]
    assert assemble([carb()], [carb()], {}, 2, 0, ["Step back."]).as_json()["contradictions"] == []
