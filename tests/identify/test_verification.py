import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.reading import CarbReading, PairReading
from carbpair.identify.verification import verify
from tests.identify.example import carb, pair

DEMO = demo_catalogue()
PATTERN = DEMO.pattern("op-3in-ext")
GOOD = pair("3", "inboard", "piston", 2.0, "one_below")


def test_a_pair_as_the_pattern_passes_everywhere() -> None:
    held = verify(GOOD, PATTERN)
    assert held.result == "pass"
    assert {item.item for item in held.items} >= {
        "chamber",
        "flange holes",
        "float bowl layout",
        "alignment mark",
    }
    assert "op-3in-ext" in held.against


@pytest.mark.parametrize(
    ("after", "item"),
    [
        (pair("4", "inboard", "piston", 2.0), "flange holes"),
        (pair("3", "inboard", "piston", 2.0, "one_above"), "hole layout"),
        (pair("3", "outboard", "piston", 2.0), "float bowl layout"),
        (pair("3", "inboard", "diaphragm", 2.0), "chamber"),
        (pair("3", "inboard", "piston", 90.0), "alignment mark"),
    ],
)
def test_what_differs_fails(after: PairReading, item: str) -> None:
    held = verify(after, PATTERN)
    assert held.result == "fail"
    assert {line.item for line in held.items if line.result == "fail"} == {item}


def test_one_that_differs_from_the_other_fails_the_comparison() -> None:
    after = PairReading(carb("3", "inboard", "piston", 0.0), carb("4", "inboard", "piston", 0.0))
    failed = {(i.item, i.carb) for i in verify(after, PATTERN).items if i.result == "fail"}
    assert failed == {("flange holes", "right"), ("same flange holes on both", None)}


@pytest.mark.parametrize("missing", range(4))
def test_nothing_unseen_ever_passes(missing: int) -> None:
    arguments: list = ["3", "inboard", "piston", 2.0]
    arguments[missing] = None
    held = verify(pair(*arguments), PATTERN)
    assert held.result == "cannot_see"
    name = ("flange holes", "float bowl layout", "chamber", "alignment mark")[missing]
    assert {i.result for i in held.items if i.item == name} == {"cannot_see"}


def test_nothing_seen_passes_nothing() -> None:
    held = verify(PairReading(CarbReading(), None), PATTERN, GOOD)
    assert {item.result for item in held.items} == {"cannot_see"}


def test_against_the_photos_before() -> None:
    assert verify(GOOD, before=GOOD).result == "pass"
    changed = verify(pair("4", "inboard", "piston", 2.0), before=GOOD)
    assert {i.item for i in changed.items if i.result == "fail"} == {"flange holes"}


def test_a_mark_that_was_turned_before_must_still_face_the_intake() -> None:
    turned = pair("3", "inboard", "piston", 90.0)
    held = verify(turned, before=turned)
    assert held.result == "fail"
    mark = next(item for item in held.items if item.item == "alignment mark")
    assert "before the work +90°" in mark.reason
    assert verify(GOOD, before=turned).result == "pass"


def test_the_bearing_comes_with_its_interval() -> None:
    mark = next(i for i in verify(GOOD, PATTERN).items if i.item == "alignment mark")
    assert mark.bearing_deg == 2.0
    assert mark.interval_deg == pytest.approx((2 - 4.93, 2 + 4.93), abs=0.01)


def test_what_was_not_seen_before_cannot_be_compared() -> None:
    before = pair(None, None, "piston", None)
    results = {item.item: item.result for item in verify(GOOD, before=before).items}
    assert results["flange holes"] == "cannot_see"
    assert results["float bowl layout"] == "cannot_see"
    assert results["chamber"] == "pass"


def test_a_pattern_without_a_mark_has_no_mark_item() -> None:
    from dataclasses import replace

    held = verify(GOOD, replace(PATTERN, mark="none"))
    assert all(item.item != "alignment mark" for item in held.items)
