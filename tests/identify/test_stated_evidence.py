import numpy as np
import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.fact import CaseFacts, check_facts
from carbpair.identify.pattern_table import table_of
from carbpair.identify.stated_evidence import HAND_ERROR, confirmed_evidence, tag_evidence

DEMO = demo_catalogue()
TABLE = table_of(DEMO)


def facts(**held: object) -> CaseFacts:
    return check_facts(CaseFacts.from_dict(held), DEMO)


def likelihood(vector: np.ndarray, name: str) -> float:
    return float(np.exp(vector[TABLE.index[name]]))


def test_a_confirmed_value_is_almost_certain() -> None:
    (item,) = confirmed_evidence(facts(confirmed=["flange_holes=3"]), TABLE, DEMO)
    assert likelihood(item.pair, "op-3in-ext") == pytest.approx(1 - HAND_ERROR)
    assert likelihood(item.pair, "op-2in") == pytest.approx(HAND_ERROR / 2)
    assert np.exp(item.pair[-1]) == pytest.approx(1 / 3)


def test_the_spring_separates_the_pair_that_differs_in_nothing_else() -> None:
    (item,) = confirmed_evidence(facts(confirmed=["return_spring=spindle"]), TABLE, DEMO)
    assert item.pair[TABLE.index["op-3in-spi"]] > item.pair[TABLE.index["op-3in-ext"]] + 3


def test_a_fact_about_one_carburettor_says_nothing_of_the_other() -> None:
    (item,) = confirmed_evidence(facts(confirmed=["left.chamber=piston"]), TABLE, DEMO)
    assert (item.right == 0).all()
    assert not (item.left == 0).all()


@pytest.mark.parametrize("confirmed", [["bowl_side=inboard"], ["left.bowl_side=inboard"]])
def test_confirmed_bowl_sides_speak_for_layouts(confirmed: list[str]) -> None:
    (item,) = confirmed_evidence(facts(confirmed=confirmed), TABLE, DEMO)
    assert item.pair[TABLE.index["op-2in"]] > item.pair[TABLE.index["op-2same"]]
    assert item.pair[TABLE.index["op-2same"]] > item.pair[TABLE.index["op-2out"]]


def test_the_heat_shield_is_no_evidence_about_the_pattern() -> None:
    assert confirmed_evidence(facts(confirmed=["heat_shield=false"]), TABLE, DEMO) == []


def test_a_listed_tag_beats_a_format_beats_nothing() -> None:
    def gain(text: str) -> float:
        (item,) = tag_evidence(facts(tags=[text]), TABLE, DEMO)
        return float(item.pair[TABLE.index["op-4out"]] - item.pair[TABLE.index["op-2in"]])

    assert gain("VN 2404 F") > gain("VN 2477 F") > gain("QQ 1") == 0.0


def test_an_unknown_tag_speaks_for_another_source() -> None:
    (item,) = tag_evidence(facts(tags=["QQ 1"]), TABLE, DEMO)
    assert item.pair[-1] > item.pair[:-1].max() + 3


def test_tags_without_a_place_are_spread_over_both_carburettors() -> None:
    one, two = tag_evidence(facts(tags=["VN 2404 F", "left:VN 2405 R"]), TABLE, DEMO)
    assert (one.left == 0).all()
    assert not (one.right == 0).all()
    assert (two.right == 0).all()
