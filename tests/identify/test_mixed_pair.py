"""Left and right that differ in two features, weighed by hand."""

import numpy as np
import pytest

from carbpair.identify.catalogue import Catalogue
from carbpair.identify.confusion import BearingConfusion, Confusion
from carbpair.identify.pattern_table import table_of
from carbpair.identify.photo_evidence import photo_evidence
from carbpair.identify.posterior import posterior
from carbpair.identify.prior import prior_for
from carbpair.identify.reading import CarbReading, PairReading
from tests.identify.example import catalogue, label, label_confusion

ONE = """[[pattern]]
id = "{0}"
name = "{0}"
chamber = "{1}"
flange_holes = {2}
"""
SIDES = ("inboard", "outboard", "none")


def sure(holes: str, chamber: str) -> CarbReading:
    """Read with a probability that is never less than the readers' record."""
    return CarbReading({"flange_holes": label(holes, 0.99999), "chamber": label(chamber, 0.99999)})


def two_patterns() -> Catalogue:
    return catalogue(ONE.format("a", "piston", 2) + ONE.format("b", "diaphragm", 3))


def probabilities(reading: PairReading, counted: float) -> dict[str, float]:
    """With readers that were right in all of ``counted`` readings of every value."""
    held = two_patterns()
    errors = Confusion(
        {
            "chamber": label_confusion(("piston", "diaphragm"), counted, 0.0),
            "flange_holes": label_confusion(("2", "3", "4"), counted, 0.0),
            "bowl_side": label_confusion(SIDES, counted, 0.0),
        },
        BearingConfusion(4.0, 0.0, 100),
        "by hand",
        False,
        "0" * 64,
    )
    table = table_of(held)
    items = photo_evidence(reading, table, errors)
    found = posterior(table.ids, prior_for(table.index, ()), items, photos_only=True)
    return dict(zip(found.ids, found.uncapped, strict=True))


def test_two_differences_by_hand() -> None:
    # One a, one b. Right in 100 of 100: a chamber is read right with 100.5 / 101 and as the other
    # kind with 0.5 / 101, holes right with 100.5 / 101.5 and as each other count with 0.5 / 101.5.
    kind, no_kind, hole, no_hole = 100.5 / 101, 0.5 / 101, 100.5 / 101.5, 0.5 / 101.5
    own = np.array([0.425, 0.425, 0.12]) / 0.97  # without a car: a, b, another source
    odd = np.array([0.25, 0.25, 0.5])
    anything = 1 / 2 * 1 / 3  # of another source: each chamber and each count alike
    left = np.array([kind * hole, no_kind * no_hole, anything])
    right = np.array([no_kind * no_hole, kind * hole, anything])
    total = apart = 0.0
    for one in range(3):
        for two in range(3):
            if one != two or one == 2:
                weight = (own[one] * odd[two] + odd[one] * own[two]) / 2
                apart += weight
                total += weight * left[one] * right[two]
    mixed = 0.03 * total / apart
    matched = 0.425 * kind * no_kind * hole * no_hole  # of each pattern: two sides misread
    other = 0.12 * kind * no_kind * (2 * hole * no_hole + no_hole**2) / 3
    whole = mixed + 2 * matched + other

    found = probabilities(PairReading(sure("2", "piston"), sure("3", "diaphragm"), photos=1), 100.0)
    assert found["mixed_pair"] == pytest.approx(mixed / whole)
    assert found["a"] == found["b"] == pytest.approx(matched / whole)
    assert found["other_source"] == pytest.approx(other / whole)
    assert found["mixed_pair"] > 0.99


def test_a_small_evaluation_holds_a_difference_back() -> None:
    # One carb of no pattern (a diaphragm, two holes) beside an a: a misread chamber explains it as
    # well. How well depends on how many readings stand behind "never misread".
    differs = PairReading(sure("2", "piston"), sure("2", "diaphragm"), photos=1)
    few, many = (probabilities(differs, n)["mixed_pair"] for n in (30.0, 3000.0))
    assert few < 0.5 < 0.9 < many


def test_what_agrees_is_no_mixed_pair() -> None:
    same = PairReading(sure("2", "piston"), sure("2", "piston"), photos=1)
    found = probabilities(same, 100.0)
    assert found["mixed_pair"] < 0.03 < 0.97 * 0.9 < found["a"]
