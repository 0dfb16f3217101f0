import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.error import BadInputError, ContradictionError, UnknownNameError
from carbpair.identify.fact import CaseFacts, TagText, check_facts, parse_tag

DEMO = demo_catalogue()


def checked(**held: object) -> CaseFacts:
    return check_facts(CaseFacts.from_dict(held), DEMO)


def test_tables_and_lists_of_confirmed_facts_are_equal() -> None:
    table = checked(confirmed={"flange_holes": 3, "left.bowl_side": "inboard", "heat_shield": True})
    listed = checked(confirmed=["flange_holes=3", "left.bowl_side=Inboard", "heat_shield=yes"])
    assert table == listed
    assert table.finding("bowl_side", "left") == "inboard"
    assert table.finding("bowl_side", "right") is None
    assert table.finding("flange_holes", "right") == "3"


@pytest.mark.parametrize(
    ("held", "expected"),
    [
        ("VN 1", TagText("VN 1")),
        ("left: VN 1", TagText("VN 1", "left")),
        ("VN:1", TagText("VN:1")),
        ({"text": "VN 1", "position": "right"}, TagText("VN 1", "right")),
    ],
)
def test_tags(held, expected: TagText) -> None:
    assert parse_tag(held) == expected


def test_what_was_confirmed_on_both_is_settled() -> None:
    assert checked(confirmed=["left.flange_holes=3"], tags=["A 1"]).settled == set()
    both = ["left.flange_holes=3", "right.flange_holes=4", "bowl_side=none", "mark_verdict=turned"]
    assert checked(confirmed=both, tags=["A 1", "A 2"]).settled == {
        "flange_holes",
        "bowl_layout",
        "mark",
        "tag",
    }


def test_the_workshops_own_features_can_be_confirmed() -> None:
    assert checked(confirmed=["dashpot_cap=KNURLED"]).finding("dashpot_cap") == "knurled"


@pytest.mark.parametrize(
    "confirmed",
    [
        ["flange_holes=3", "flange_holes=4"],
        ["flange_holes=3", "left.flange_holes=4"],
        ["left.chamber=piston", "left.chamber=diaphragm"],
        ["return_spring=external", "return_spring=spindle"],
        ["bowl_layout=inboard", "left.bowl_side=outboard"],
    ],
)
def test_one_fact_stated_twice_is_refused(confirmed: list[str]) -> None:
    with pytest.raises(ContradictionError, match="state"):
        checked(confirmed=confirmed)


def test_left_and_right_may_differ() -> None:
    assert checked(confirmed=["left.flange_holes=3", "right.flange_holes=4"])


def test_two_tags_on_one_carburettor_are_refused() -> None:
    with pytest.raises(ContradictionError, match="left carburettor"):
        checked(tags=["left:VN 1", "left:VN 2"])


@pytest.mark.parametrize(
    ("held", "error", "says"),
    [
        ({"confirmed": ["flang_holes=3"]}, UnknownNameError, "'flange_holes'"),
        ({"confirmed": ["flange_holes=7"]}, UnknownNameError, "Known: 2, 3, 4"),
        ({"confirmed": ["hole_thread=5/16 UNC"]}, UnknownNameError, "'5/16-18 UNC'"),
        ({"confirmed": ["flange_holes"]}, BadInputError, "feature=value"),
        ({"confirmed": ["left.return_spring=external"]}, BadInputError, "belongs to the pair"),
        ({"tags": ["  "]}, BadInputError, "empty"),
        ({"tags": [{"text": "A", "position": "front"}]}, BadInputError, "not left or right"),
        ({"engine": "VT15"}, BadInputError, "without a car"),
        ({"year": "1968"}, BadInputError, "whole number"),
        ({"cars": "x"}, BadInputError, "'car'"),
    ],
)
def test_what_cannot_be_used_is_refused_with_a_remedy(held: dict, error: type, says: str) -> None:
    with pytest.raises(error) as caught:
        checked(**held)
    assert says in str(caught.value)
