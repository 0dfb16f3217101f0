"""Every kind of deviation occurs when it must and does not when it must not."""

import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.deviation import SEVERITIES, Fit, compare_fit
from carbpair.identify.fact import CaseFacts, check_facts
from carbpair.identify.reading import CarbReading, PairReading
from tests.identify.example import carb, pair

DEMO = demo_catalogue()
GOOD = ("3", "inboard", "piston", 2.0, "one_below")


def fit(reading: PairReading, *expected: str, front: str | None = "left", **facts: object) -> Fit:
    return compare_fit(
        [DEMO.pattern(name) for name in expected or ("op-3in-ext",)],
        reading,
        check_facts(CaseFacts.from_dict(facts), DEMO),
        DEMO,
        front,
    )


def unequal(holes: str, bowl: str) -> PairReading:
    return PairReading(carb(*GOOD), carb(holes, bowl, "piston", 2.0))


def kinds(held: Fit) -> set[str]:
    return {deviation.kind for deviation in held.deviations}


def test_a_pair_as_it_should_be_has_none() -> None:
    held = fit(pair(*GOOD), confirmed=["heat_shield=true", "return_spring=external"])
    assert held.deviations == ()
    assert held.not_checked == ()


@pytest.mark.parametrize(
    ("reading", "facts", "kind", "severity"),
    [
        (pair("3", "outboard", "piston", 2.0), [], "bowls_wrong_side", "major"),
        (pair(*GOOD), ["heat_shield=false"], "inboard_without_heat_shield", "critical"),
        (unequal("2", "inboard"), [], "not_same_pattern", "major"),
        (unequal("3", "none"), [], "not_same_pattern", "major"),
        (pair(*GOOD), ["left:VN 1102 F", "right:VN 2405 R"], "not_same_pattern", "major"),
        (pair(*GOOD), ["right:VN 1102 F"], "front_rear_swapped", "major"),
        (pair("3", "inboard", "piston", 60.0), [], "mark_turned", "major"),
        (pair(*GOOD), ["left.mark_verdict=turned"], "mark_turned", "major"),
        (pair("3", "inboard", "diaphragm", 2.0), [], "diaphragm_for_piston", "major"),
        (pair("4", "inboard", "piston", 2.0), [], "flange_holes_differ", "major"),
        (pair(*GOOD[:4], "one_above"), [], "hole_layout_differs", "major"),
        (pair(*GOOD), ["return_spring=none_seen"], "return_spring_missing", "critical"),
        (pair(*GOOD), ["hole_thread=M8x1.25"], "hole_thread_differs", "minor"),
        (pair(*GOOD), ["choke_linkage=automatic"], "choke_linkage_differs", "minor"),
        (pair(*GOOD), ["left:VN 1102 F"], "tag_of_other_pattern", "major"),
    ],
)
def test_each_kind(reading: PairReading, facts: list[str], kind: str, severity: str) -> None:
    stated = [fact for fact in facts if "=" in fact]
    held = fit(reading, confirmed=stated, tags=[fact for fact in facts if "=" not in fact])
    found = next(d for d in held.deviations if d.kind == kind)
    assert found.severity == severity
    for words in (found.title, found.expected, found.seen, found.evidence, found.explanation):
        assert words
    assert found.action
    assert "{" not in found.explanation + found.action


def test_another_count_is_said_once_not_as_another_layout_too() -> None:
    both = fit(pair("4", "inboard", "piston", 2.0, "square"))
    assert [d.kind for d in both.deviations if "hole" in d.kind] == ["flange_holes_differ"]
    one = PairReading(carb(*GOOD), carb("2", "inboard", "piston", 2.0, "side_by_side"), photos=1)
    left_as_it_should = fit(one)
    assert [d.kind for d in left_as_it_should.deviations if "hole" in d.kind] == [
        "flange_holes_differ"
    ]
    unlike = [d for d in left_as_it_should.deviations if d.kind == "not_same_pattern"]
    assert [d.expected for d in unlike] == ["the same flange holes on both"]


def test_a_piston_dashpot_where_a_diaphragm_is_expected() -> None:
    assert "piston_for_diaphragm" in kinds(fit(pair("4", "none", "piston", 0.0), "od-4int"))


def test_a_spring_elsewhere_and_none_needed_outside() -> None:
    reading = pair("4", "outboard", "piston", 0.0)
    spring = ["return_spring=external"]
    assert "return_spring_differs" in kinds(fit(reading, "op-4out", confirmed=spring))
    unseen = ["return_spring=none_seen"]
    assert "return_spring_missing" not in kinds(fit(reading, "op-4out", confirmed=unseen))


def test_the_mark_is_named_per_carburettor_with_bearing_and_tolerance() -> None:
    held = fit(PairReading(carb(*GOOD), carb("3", "inboard", "piston", -100.0)))
    (found,) = [d for d in held.deviations if d.kind == "mark_turned"]
    assert found.carb == "right"
    assert "-100°" in found.seen
    assert "within 15°" in found.expected


def test_both_alike_are_one_line_and_unlike_are_two() -> None:
    both = fit(pair("4", "inboard", "piston", 0.0)).deviations
    assert [(d.kind, d.carb) for d in both] == [("flange_holes_differ", None)]
    assert "left" in both[0].evidence
    assert "right" in both[0].evidence
    reading = PairReading(carb("4", "inboard", "piston", 0.0), carb("2", "inboard", "piston", 0.0))
    two = [d.carb for d in fit(reading).deviations if d.kind == "flange_holes_differ"]
    assert two == ["left", "right"]


def test_a_mark_required_elsewhere_is_right_there() -> None:
    assert "mark_turned" not in kinds(fit(pair("4", "none", "piston", 88.0), "op-4int"))
    assert "mark_turned" in kinds(fit(pair("4", "none", "piston", 0.0), "op-4int"))


def test_the_wrong_side_names_cars_that_have_it() -> None:
    (found,) = [
        d for d in fit(pair("3", "outboard", "piston")).deviations if d.kind == "bowls_wrong_side"
    ]
    assert "Varnley Calloe" in found.explanation
    assert found.probability == pytest.approx(0.97)


def test_several_listed_patterns_are_all_right() -> None:
    either = ("op-2in", "op-2out")
    assert kinds(fit(pair("2", "outboard", "piston", 0.0), *either)) == set()
    assert kinds(fit(pair("2", "none", "piston", 0.0), *either)) == {"bowls_wrong_side"}


def test_same_side_is_right_on_either_side() -> None:
    for left, right in (("inboard", "outboard"), ("outboard", "inboard")):
        reading = PairReading(carb("2", left, "piston", 0.0), carb("2", right, "piston", 0.0))
        assert kinds(fit(reading, "op-2same")) == set()


def test_what_was_not_seen_is_listed_and_is_no_deviation() -> None:
    held = fit(PairReading(CarbReading(), None))
    assert held.deviations == ()
    text = " ".join(held.not_checked)
    for word in ("flange holes", "chamber", "bowl layout", "alignment mark"):
        assert word in text


def test_heat_shield_is_asked_for_when_bowls_are_inboard() -> None:
    assert any("heat shield" in line for line in fit(pair(*GOOD)).not_checked)


def test_one_bowl_seen_on_the_wrong_side_is_enough() -> None:
    reading = PairReading(carb("3", "outboard", "piston", 0.0), carb("3", None, "piston", 0.0))
    assert "bowls_wrong_side" in kinds(fit(reading))


def test_a_swap_is_told_only_where_the_front_is_known() -> None:
    right_way = {"tags": ["left:VN 2405 R", "right:VN 2404 F"]}
    reading = pair("4", "outboard", "piston", 0.0)
    assert kinds(fit(reading, "op-4out", front="right", **right_way)) == set()
    assert kinds(fit(reading, "op-4out", front=None, **right_way)) == set()
    assert kinds(fit(reading, "op-4out", front="left", **right_way)) == {"front_rear_swapped"}


def test_the_most_severe_comes_first() -> None:
    held = fit(
        pair("4", "outboard", "diaphragm", 80.0),
        confirmed=["heat_shield=false", "return_spring=none_seen", "hole_thread=M6x1"],
    )
    order = [SEVERITIES.index(d.severity) for d in held.deviations]
    assert order == sorted(order)
    assert len(set(order)) == 3


def test_a_hand_check_overrules_the_reading() -> None:
    held = fit(pair("4", "inboard", "piston", 0.0), confirmed=["flange_holes=3"])
    assert "flange_holes_differ" not in kinds(held)


def test_two_tags_of_one_place_are_told_wherever_the_front_is() -> None:
    reading = pair("4", "outboard", "piston", 0.0)
    twice = {"tags": ["VN 2404 F", "VN 2404 F"]}
    assert kinds(fit(reading, "op-4out", front=None, **twice)) == {"same_place_twice"}
    assert kinds(fit(reading, "op-4out", front=None, tags=["VN 2404 F"])) == set()
