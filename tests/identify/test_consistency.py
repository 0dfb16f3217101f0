from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.consistency import (
    contradictions,
    disputes,
    set_aside,
    tags_of_two_patterns,
)
from carbpair.identify.fact import CaseFacts, Confirmation, check_facts
from carbpair.identify.reading import PairReading, read_inspection
from tests.identify.example import features, inspection, pair

DEMO = demo_catalogue()


def disputed(**more: object) -> PairReading:
    held = inspection(*[features(4, "outboard", "piston", 2.0)] * 2)
    held["pair"]["contradictions"] = [
        {
            "position": "left",
            "feature": "flange_holes",
            "values": [4, 2],
            "files": ["a.jpg", "b.jpg"],
        }
    ]
    held["pair"]["carbs"]["left"]["features"]["flange_holes"].update(more)
    return read_inspection(held)


def test_photos_of_two_pairs_are_named() -> None:
    (line,) = disputes(disputed(), CaseFacts())
    assert "left carburettor's flange holes reads 4 in a.jpg and 2 in b.jpg" in line
    assert "more than one pair" in line


def test_a_hand_check_settles_what_photos_dispute() -> None:
    settled = CaseFacts(confirmed=(Confirmation("flange_holes", "4", "left"),))
    assert disputes(disputed(), settled) == ()
    elsewhere = CaseFacts(confirmed=(Confirmation("flange_holes", "4", "right"),))
    assert len(disputes(disputed(), elsewhere)) == 1
    assert disputes(disputed(reason="corrected_by_hand"), CaseFacts()) == ()


def facts(**held: object) -> CaseFacts:
    return check_facts(CaseFacts.from_dict(held), DEMO)


def test_facts_that_one_pattern_has_agree() -> None:
    assert contradictions(facts(confirmed=["flange_holes=3", "chamber=piston"]), DEMO) == ()


def test_facts_that_no_pattern_has_together_are_named() -> None:
    (found,) = contradictions(facts(confirmed=["flange_holes=3", "chamber=diaphragm"]), DEMO)
    assert "flange_holes=3, chamber=diaphragm" in found


def test_a_tag_against_a_confirmed_fact_is_named() -> None:
    found = contradictions(facts(confirmed=["chamber=diaphragm"], tags=["VN 2404 F"]), DEMO)
    assert len(found) == 1
    assert "op-4out" in found[0]
    other = facts(confirmed=["right.chamber=diaphragm"], tags=["left:VN 2404 F"])
    assert contradictions(other, DEMO) == ()


def test_a_missing_spring_contradicts_no_pattern() -> None:
    assert (
        contradictions(facts(confirmed=["return_spring=none_seen", "flange_holes=3"]), DEMO) == ()
    )


def test_a_pair_of_two_patterns_is_no_contradiction() -> None:
    mixed = facts(confirmed=["left.flange_holes=3", "right.chamber=diaphragm"])
    assert contradictions(mixed, DEMO) == ()


def test_a_hand_check_replaces_the_reading_and_counts_once() -> None:
    reading = pair("3", "inboard", "piston", 0.0)
    left_only = set_aside(reading, facts(confirmed=["left.flange_holes=3"]))
    assert not left_only.carb("left").label("flange_holes").informative
    assert left_only.carb("right").label("flange_holes").informative
    both = set_aside(reading, facts(confirmed=["bowl_layout=inboard"]))
    assert not both.carb("left").label("bowl_side").informative
    assert both.carb("left").label("chamber").informative


def test_tags_of_two_patterns_are_named() -> None:
    two = CaseFacts.from_dict({"tags": ["left:VN 2404 F", "right:VN 1103 R"]})
    (line,) = tags_of_two_patterns(two, DEMO)
    assert "op-4out" in line
    assert "op-2in" in line
    for tags in (["VN 2404 F", "VN 2405 R"], ["VN 2404 F", "ZZ 1"], []):
        assert tags_of_two_patterns(CaseFacts.from_dict({"tags": tags}), DEMO) == ()


def test_a_count_by_hand_sets_a_layout_of_another_count_aside() -> None:
    read = pair("2", "inboard", "piston", 2.0, "diagonal")
    three = CaseFacts(confirmed=(Confirmation("flange_holes", "3"),))
    two = CaseFacts(confirmed=(Confirmation("flange_holes", "2"),))
    assert set_aside(read, three).carb("left").label("hole_layout").value is None
    assert set_aside(read, two).carb("left").label("hole_layout").value == "diagonal"
    lies = CaseFacts(confirmed=(Confirmation("hole_layout", "side_by_side"),))
    assert set_aside(read, lies).carb("left").label("hole_layout").value is None
