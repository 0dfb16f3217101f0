from xml.etree import ElementTree as ET

import numpy as np
import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.pattern_table import table_of
from carbpair.identify.reading import BearingReading, CarbReading, LabelReading, PairReading
from carbpair.identify.view import View, next_photo, outcome_table, views
from tests.identify.example import confusion, pair

DEMO = demo_catalogue()
TABLE = table_of(DEMO)
ERRORS = confusion()
EVEN = np.full(len(TABLE.ids) + 1, 1 / (len(TABLE.ids) + 1))


@pytest.mark.parametrize("view", views(), ids=lambda view: view.id)
def test_every_view_has_words_and_a_drawing(view: View) -> None:
    drawing = ET.fromstring(view.drawing)  # noqa: S314 - our own files
    assert drawing.tag.endswith("svg")
    assert drawing.attrib["aria-label"]
    # The page's policy allows no script and no outside source.
    assert not any(part in view.drawing for part in ("<script", "href", "style=", "url("))
    assert len(view.how) >= 3
    assert set(view.shows) <= {"chamber", "flange_holes", "bowl_layout", "mark"}


@pytest.mark.parametrize("feature", ["chamber", "flange_holes", "bowl_layout", "mark"])
def test_outcomes_are_probabilities(feature: str) -> None:
    rows = outcome_table(feature, TABLE, ERRORS)
    assert rows.shape[0] == len(TABLE.ids) + 1
    assert rows.sum(axis=1) == pytest.approx(np.ones(rows.shape[0]))
    assert (rows >= 0).all()


def test_with_the_filter_on_it_asks_to_take_it_off() -> None:
    hidden = LabelReading("not_visible", reason="filter_fitted")
    fitted = LabelReading("seen", "true", {"true": 0.99})
    one = CarbReading({"flange_holes": hidden, "filter_fitted": fitted})
    found = next_photo(PairReading(one, one), EVEN, TABLE, ERRORS, frozenset())
    assert found is not None
    assert found.view.id == "air_side"
    assert found.bits > 1.0
    assert "take it off" in " ".join(found.advice)


def test_with_all_but_the_marks_seen_it_asks_for_the_top() -> None:
    certain = np.full(EVEN.size, 1e-9)
    certain[TABLE.index["op-4out"]] = 1.0
    reading = pair("4", "outboard", "piston")
    found = next_photo(reading, certain, TABLE, ERRORS, frozenset())
    assert found is not None
    assert found.view.id == "top"
    assert "marks were not seen" in found.why
    assert next_photo(reading, certain, TABLE, ERRORS, frozenset({"mark"})) is None


def test_when_no_photo_helps_none_is_asked_for() -> None:
    twins = np.full(EVEN.size, 1e-9)
    twins[[TABLE.index["od-2int-home"], TABLE.index["od-2int-export"]]] = 0.5
    reading = pair("2", "none", "diaphragm", 0.0)
    assert next_photo(reading, twins, TABLE, ERRORS, frozenset()) is None


def test_a_view_of_what_was_confirmed_by_hand_is_worth_nothing() -> None:
    only_holes = np.full(EVEN.size, 1e-9)
    only_holes[[TABLE.index["op-2out"], TABLE.index["op-4out"]]] = 0.5
    reading = pair(None, "outboard", "piston", 0.0)
    open_one = next_photo(reading, only_holes, TABLE, ERRORS, frozenset())
    assert open_one is not None
    assert "flange holes" in open_one.why
    settled = next_photo(reading, only_holes, TABLE, ERRORS, frozenset({"flange_holes"}))
    assert settled is None


def test_advice_follows_from_what_went_wrong() -> None:
    blurred = CarbReading(
        {"flange_holes": LabelReading("not_visible", reason="blurred")},
        BearingReading("not_visible", reason="too_small"),
    )
    found = next_photo(PairReading(blurred, None), EVEN, TABLE, ERRORS, frozenset())
    assert found is not None
    assert any("blurred" in line for line in found.advice)
    assert any("closer" in line for line in found.advice)


def test_two_sides_that_differ_are_worth_another_photo() -> None:
    certain = np.full(EVEN.size, 1e-9)
    certain[TABLE.index["op-4out"]] = 1.0
    settled = frozenset({"mark"})
    alike = pair("4", "outboard", "piston")
    assert next_photo(alike, certain, TABLE, ERRORS, settled) is None
    other = pair("2", "outboard", "piston")
    found = next_photo(PairReading(alike.left, other.right), certain, TABLE, ERRORS, settled)
    assert found is not None
    assert found.view.id == "air_side"
    assert "differ in flange holes" in found.why
