import dataclasses
import os
import subprocess
import sys

import numpy as np
import pytest
from scipy.stats import chisquare

from carbpair.geometry.hole_layout import COUNT_OF, LAYOUTS
from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS
from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.confusion import Confusion
from carbpair.identify.mark_record import MarkCounts, MarkRecord
from carbpair.identify.simulated_case import CaseSimulator
from tests.identify.example import confusion, label_confusion

DEMO = demo_catalogue()


def test_answers_follow_the_measured_confusion() -> None:
    errors = confusion(rho=0.0, right=90, wrong=10)
    simulator = CaseSimulator(DEMO, errors)
    generator = np.random.default_rng(3)
    place = DEMO.index["op-3in-ext"]
    counts = np.zeros(3)
    for _ in range(2000):
        value = simulator.draw(generator, place).reading.carb("left").label("flange_holes").value
        if value is not None:
            counts["234".index(value)] += 1
    expected = errors.labels["flange_holes"].likelihood[1] * counts.sum()
    assert chisquare(counts, expected).pvalue > 0.001


@pytest.mark.parametrize(("rho", "low", "high"), [(0.0, 0.70, 0.78), (1.0, 1.0, 1.0)])
def test_both_carburettors_go_together_as_often_as_stated(
    rho: float, low: float, high: float
) -> None:
    simulator = CaseSimulator(DEMO, confusion(rho=rho, right=85, wrong=15))
    generator = np.random.default_rng(4)
    same = []
    for _ in range(1000):
        reading = simulator.draw(generator, DEMO.index["op-4out"]).reading
        one, two = (reading.carb(side).label("chamber").value for side in ("left", "right"))
        if one is not None and two is not None:
            same.append(one == two)
    # Independent and right in 85 %: agreement 0.85² + 0.15² = 0.745.
    assert low <= np.mean(same) <= high


def test_hidden_features_appear_only_when_asked_for() -> None:
    errors = confusion()
    for held in errors.labels.values():
        held.counts[:, -1] = 200
    generator = np.random.default_rng(5)
    shown = CaseSimulator(DEMO, errors).draw(generator).reading
    assert all(
        shown.carb(side).label(name).status != "not_visible"
        for side in ("left", "right")
        for name in ("chamber", "flange_holes", "bowl_side")
    )
    hidden = CaseSimulator(DEMO, errors, views_as_asked=False)
    seen = [hidden.draw(generator).reading.carb("left").label("chamber").status for _ in range(200)]
    assert 20 < seen.count("not_visible") < 100


def test_photos_as_asked_are_drawn_from_what_was_in_full_view() -> None:
    errors = confusion(right=90, wrong=0)
    holes = errors.labels["flange_holes"]
    in_view = np.array([[0.0, 0, 0, 900, 0], [0, 900, 0, 0, 0], [0, 0, 3, 0, 0]])
    labels = {**errors.labels, "flange_holes": dataclasses.replace(holes, in_view=in_view)}
    simulator = CaseSimulator(DEMO, dataclasses.replace(errors, labels=labels))
    generator = np.random.default_rng(8)

    def statuses(pattern: str) -> set[str]:
        drawn = (simulator.draw(generator, DEMO.index[pattern]) for _ in range(20))
        return {case.reading.carb("left").label("flange_holes").status for case in drawn}

    assert statuses("op-2in") == {"unsure"}
    # Three cases in full view are too few to draw from: 90 of 90 that were looked at are right.
    assert statuses("op-4out") == {"seen"}


def test_leans_and_certainty_too_are_those_of_full_view() -> None:
    errors = confusion(right=90, wrong=0)
    kind = errors.labels["chamber"]
    unsure = np.array([[0.0, 0, 500, 0], [0, 0, 500, 0]])  # all in full view are unsure
    labels = {
        **errors.labels,
        "chamber": dataclasses.replace(
            kind,
            in_view=unsure,
            unsure=np.array([[500.0, 0], [0, 500]]),  # right, but for those in full view
            in_view_unsure=np.array([[0.0, 500], [500, 0]]),
        ),
    }
    simulator = CaseSimulator(DEMO, dataclasses.replace(errors, labels=labels))
    generator = np.random.default_rng(9)
    true = DEMO.pattern("op-4out").chamber
    right = []
    for _ in range(40):
        read = simulator.draw(generator, DEMO.index["op-4out"]).reading.carb("left")
        spread = read.label("chamber").distribution
        right.append(max(spread, key=lambda value: spread[value]) == true)
    assert len(right) == 40
    assert not any(right)


def test_marks_come_from_their_record_where_one_was_counted() -> None:
    none, all_of_them = MarkCounts(0, 0, 0), MarkCounts(100_000, 100_000, 0)
    records = (MarkRecord("seen", 0.97, none, all_of_them, 1.0, 7.0),)
    errors = confusion()
    errors = dataclasses.replace(
        errors, bearing=dataclasses.replace(errors.bearing, unsure_rate=1.0, records=records)
    )
    simulator, generator = CaseSimulator(DEMO, errors), np.random.default_rng(10)
    read = [simulator.draw(generator).reading.carb("left").bearing for _ in range(20)]
    assert {(mark.status, mark.probability, mark.sd_deg) for mark in read} == {("seen", 0.97, 7.0)}


def test_a_mixed_pair_has_two_patterns_and_tags_that_say_so() -> None:
    simulator = CaseSimulator(DEMO, confusion(), tags_share=1.0)
    generator = np.random.default_rng(6)
    for _ in range(20):
        case = simulator.draw(generator, len(DEMO.patterns) + 1)
        assert [tag.position for tag in case.facts.tags] == ["left", "right"]
        assert case.truth == len(DEMO.patterns) + 1


def test_draws_do_not_depend_on_the_order_of_hashes() -> None:
    code = (
        "import numpy as np\n"
        "from carbpair.identify import demo_catalogue, load_confusion\n"
        "from carbpair.identify.simulated_case import CaseSimulator\n"
        "simulator = CaseSimulator(demo_catalogue(), load_confusion(), tags_share=1.0)\n"
        "generator = np.random.default_rng(1)\n"
        "print([simulator.draw(generator) for _ in range(30)])\n"
    )
    drawn = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(drawn) == 1


def simulator_with_layouts(errors: Confusion, right: float) -> CaseSimulator:
    layouts = label_confusion(HOLE_LAYOUTS, right, 0.0)
    return CaseSimulator(
        DEMO, dataclasses.replace(errors, labels={**errors.labels, "hole_layout": layouts})
    )


def test_layouts_go_with_the_count_that_was_read() -> None:
    simulator = simulator_with_layouts(confusion(right=80, wrong=20), 90.0)
    generator = np.random.default_rng(8)
    own, wrong = [], set()
    for _ in range(400):
        carb = simulator.draw(generator, DEMO.index["op-2out"]).reading.carb("left")
        holes, said = carb.label("flange_holes").value, carb.label("hole_layout").value
        if said is not None:
            assert str(COUNT_OF[said]) == holes
            own.append(said) if holes == "2" else wrong.add(said)
    assert own.count("diagonal") > 0.9 * len(own) > 100
    assert {"one_above", "square"} <= wrong  # any layout of a wrong count


def test_another_source_has_every_layout_of_its_count_alike() -> None:
    simulator = simulator_with_layouts(confusion(right=1000, wrong=0), 1000.0)
    generator = np.random.default_rng(9)
    read = [
        simulator.draw(generator, len(DEMO.patterns)).reading.carb("left").label("hole_layout")
        for _ in range(1500)
    ]
    said = [one.value for one in read if one.value is not None]
    expected = [len(said) / 3 / len(LAYOUTS[COUNT_OF[name]]) for name in HOLE_LAYOUTS]
    assert chisquare([said.count(name) for name in HOLE_LAYOUTS], expected).pvalue > 0.001
