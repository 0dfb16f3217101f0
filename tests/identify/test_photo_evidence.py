import dataclasses

import numpy as np
import pytest

from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS
from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.pattern_table import table_of
from carbpair.identify.photo_evidence import bowl_evidence, mark_evidence, photo_evidence
from carbpair.identify.reading import NO_BEARING, UNSEEN, PairReading
from tests.identify.example import carb, catalogue, confusion, label, label_confusion, mark, pair

DEMO = demo_catalogue()
TABLE = table_of(DEMO)
ERRORS = confusion()


def best(vector: np.ndarray) -> set[str]:
    names = (*TABLE.ids, "other")
    return {names[n] for n in np.flatnonzero(np.isclose(vector, vector.max()))}


def test_what_was_not_seen_is_not_among_the_evidence() -> None:
    assert photo_evidence(PairReading(None, None), TABLE, ERRORS) == []
    (only,) = photo_evidence(pair(None, None, "piston"), TABLE, ERRORS)
    assert only.name == "chamber"


@pytest.mark.parametrize(
    ("left", "right", "layout"),
    [
        ("inboard", "inboard", "inboard"),
        ("outboard", "outboard", "outboard"),
        ("none", "none", "none"),
        ("inboard", "outboard", "same_side"),
        ("outboard", "inboard", "same_side"),
    ],
)
def test_two_bowl_sides_make_a_layout(left: str, right: str, layout: str) -> None:
    item = bowl_evidence(label(left), label(right), TABLE, ERRORS.labels["bowl_side"])
    assert item is not None
    assert best(item.pair) == {p.id for p in DEMO.patterns if p.bowl_layout == layout}


def test_one_bowl_leaves_the_same_side_layout_half_as_likely() -> None:
    item = bowl_evidence(label("inboard"), UNSEEN, TABLE, ERRORS.labels["bowl_side"])
    assert item is not None
    likelihood = np.exp(item.pair)
    inboard, same = (likelihood[TABLE.index[name]] for name in ("op-2in", "op-2same"))
    # Inboard for certain, against inboard or outboard with equal chance.
    row = ERRORS.labels["bowl_side"].likelihood
    assert inboard / same == pytest.approx(row[0, 0] / ((row[0, 0] + row[1, 0]) / 2), rel=0.05)
    assert (item.right == 0).all()


def test_a_mark_speaks_for_where_the_pattern_wants_it() -> None:
    item = mark_evidence(mark(91.0), mark(88.0), TABLE, ERRORS)
    assert item is not None
    assert best(item.pair) == {"op-4int"}
    assert mark_evidence(NO_BEARING, NO_BEARING, TABLE, ERRORS) is None


def test_a_pattern_without_a_known_mark_is_as_the_unknown_source() -> None:
    held = table_of(
        catalogue(
            '[[pattern]]\nid = "a"\nname = "A"\nchamber = "piston"\nmark = { bearing_deg = 0 }\n'
            '[[pattern]]\nid = "b"\nname = "B"\nchamber = "piston"\n'
        )
    )
    item = mark_evidence(mark(1.0), mark(-1.0), held, ERRORS)
    assert item is not None
    assert item.pair[0] > item.pair[1]
    assert item.pair[1] == pytest.approx(item.pair[2])


def test_a_second_carburettor_says_less_when_readings_go_together() -> None:
    both = pair("3", "inboard", "piston")
    alone = PairReading(carb("3", "inboard", "piston"), None)

    def holes(reading: PairReading, rho: float) -> float:
        items = photo_evidence(reading, TABLE, confusion(rho=rho))
        pair_log = next(item.pair for item in items if item.name == "flange_holes")
        return float(pair_log[TABLE.index["op-3in-ext"]] - pair_log[TABLE.index["op-2in"]])

    assert holes(alone, 0.0) < holes(both, 0.9) < holes(both, 0.5) < holes(both, 0.0)
    assert holes(both, 0.0) == pytest.approx(2 * holes(alone, 0.0))


LAYOUTS = dataclasses.replace(
    ERRORS,
    labels={**ERRORS.labels, "hole_layout": label_confusion(HOLE_LAYOUTS, 90.0, 1.0)},
)


def test_how_holes_lie_speaks_among_patterns_of_that_count_alone() -> None:
    two = pair(None, None, None, None, "diagonal")
    (item,) = photo_evidence(two, TABLE, LAYOUTS)
    assert item.name == "hole_layout"
    assert best(item.pair) == {"op-2out"}
    likelihood = dict(zip((*TABLE.ids, "other"), np.exp(item.pair), strict=True))
    # Of another count, or of another source: as if any of the three layouts of two holes.
    of_two = (likelihood["op-2in"] + likelihood["op-2out"] + likelihood["op-2same"]) / 3
    assert likelihood["op-4out"] == pytest.approx(of_two)
    assert likelihood["other"] == pytest.approx(of_two)


def test_without_measured_layouts_they_are_no_evidence() -> None:
    assert photo_evidence(pair(None, None, None, None, "diagonal"), TABLE, ERRORS) == []
