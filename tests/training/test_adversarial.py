"""The adversarial scenes: each kind has its trap, in the picture, and a seed is a case."""

from __future__ import annotations

import argparse

import numpy as np
import pytest
from models.training.scene.adversarial import (
    KINDS,
    SEEDS_A_KIND,
    Case,
    all_seeds,
    build_case,
    hose_before_a_hole,
    kind_of,
    seeds_of,
)
from models.training.scene.outline import bolt_positions, vent_positions
from models.training.scene.style import EVALUATION_OUTLINES

SIZE = (1280, 960)


@pytest.fixture(scope="module")
def cases() -> dict[str, list[Case]]:
    return {kind: [build_case(seed, SIZE) for seed in seeds_of(kind)[:2]] for kind in KINDS}


def test_every_seed_has_one_kind_and_plain_evaluation_seeds_have_none() -> None:
    seeds = all_seeds()
    assert len(seeds) == len(set(seeds)) == len(KINDS) * SEEDS_A_KIND == 360
    assert {kind_of(s) for s in seeds[: len(KINDS)]} == set(KINDS)  # the kinds take turns
    for wrong in (900_000, 902_199, 910_999, 911_040, 911_900):
        with pytest.raises(ValueError, match="no adversarial seed"):
            kind_of(wrong)


def test_a_seed_is_a_case(cases: dict[str, list[Case]]) -> None:
    first = cases["hose_over_a_hole"][0]
    again = build_case(first.seed, SIZE)
    np.testing.assert_array_equal(first.scene.vertices, again.scene.vertices)
    np.testing.assert_array_equal(first.view.origin, again.view.origin)
    other = build_case(first.seed, SIZE, attempt=1)
    assert not np.array_equal(first.view.origin, other.view.origin)


def test_every_carb_is_in_frame_and_of_the_evaluation_side(cases: dict[str, list[Case]]) -> None:
    for case in (c for some in cases.values() for c in some):
        for carb in case.scene.carbs:
            points = np.concatenate([carb.landmarks["throat"], carb.landmarks["cap"]])
            xy, depth = case.view.project(points)
            assert (depth > 0).all()
            inside = (xy > 0).all(1) & (xy < SIZE).all(1)
            assert inside.mean() > 0.8, case.seed
            assert not carb.filtered
            assert carb.style.outline in EVALUATION_OUTLINES[carb.style.hole_count]


def test_the_traps_are_there(cases: dict[str, list[Case]]) -> None:
    def styles(kind: str) -> list:
        return [carb.style for case in cases[kind] for carb in case.scene.carbs]

    for s in styles("vents_beside_bolts"):
        assert len(vent_positions(s)) == s.hole_count
        gap = np.linalg.norm(vent_positions(s)[:, None] - bolt_positions(s)[None], axis=2)
        assert gap.min() > s.throat_radius * s.hole_radius_ratio * (1 + s.vent_size)
    assert all("empty" not in s.hole_fill for s in styles("studs_in_holes"))
    assert all(abs(s.mark_bearing) >= 170 for s in styles("mark_near_180"))
    for case in cases["same_side_bowls"]:
        hands = {c.style.bowl_hand for c in case.scene.carbs}
        assert hands in ({1}, {-1})
    assert {len(c.scene.carbs) for c in cases["single_carb"]} == {1}
    assert {len(c.scene.carbs) for c in cases["three_carbs"]} == {3}


def test_the_hose_lies_on_the_line_of_sight_to_a_hole(cases: dict[str, list[Case]]) -> None:
    case = cases["mirror_image"][0]
    with_hose = hose_before_a_hole(case.scene, case.view, 0, np.random.default_rng(1))
    new = slice(len(case.scene.vertices), None)
    assert len(with_hose.vertices) > new.start
    assert with_hose.faces.max() == len(with_hose.vertices) - 1
    for name in ("normals", "colour", "roughness", "metallic", "uv"):
        assert len(getattr(with_hose, name)) == len(with_hose.vertices), name
    hose = case.view.project(with_hose.vertices[new].astype(float))[0]
    bolts, depth = case.view.project(case.scene.carbs[0].landmarks["bolts"])
    around = [(hose - b)[np.linalg.norm(hose - b, axis=1) < 200] for b in bolts]
    # a hole lies under the hose when the hose's vertices stand on every side of it
    covered = [
        len(a) > 0 and np.ptp(np.sign(a[:, 0])) == 2 and np.ptp(np.sign(a[:, 1])) == 2
        for a in around
    ]
    assert any(covered)
    assert case.view.project(with_hose.vertices[new].astype(float))[1].min() < depth.min()


def test_the_command_line_chooses_seeds() -> None:
    pytest.importorskip("mitsuba")
    from models.training.adversarial_sets import chosen

    def ask(**given: object) -> list[int]:
        args = {"seeds": "", "kinds": None, "share": "0/1"} | given
        return chosen(argparse.Namespace(**args))

    assert ask() == all_seeds()
    assert ask(kinds=["single_carb"]) == list(seeds_of("single_carb"))
    assert sorted(ask(share="0/2") + ask(share="1/2")) == sorted(all_seeds())
    assert ask(seeds="911100:911103") == [911100, 911101, 911102]
    with pytest.raises(SystemExit, match="no adversarial seed"):
        ask(seeds="0:5")
