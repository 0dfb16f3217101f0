import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.fact import CaseFacts, check_facts
from carbpair.identify.kit import KitAdvice, kit_advice
from tests.identify.example import catalogue

DEMO = demo_catalogue()


def advice(*confirmed: str) -> KitAdvice:
    facts = check_facts(CaseFacts.from_dict({"confirmed": list(confirmed)}), DEMO)
    return kit_advice([DEMO.pattern("op-2in")], facts)[0]


@pytest.mark.parametrize(
    ("confirmed", "kind", "numbers"),
    [
        ([], "undecided", {"VK-101": 2, "VK-151": 2}),
        (["spindle_play=excess"], "full", {"VK-151": 2}),
        (["spindle_play=within"], "light", {"VK-101": 2}),
        (
            ["left.spindle_play=excess", "right.spindle_play=within"],
            "mixed",
            {"VK-151": 1, "VK-101": 1},
        ),
        (["left.spindle_play=within"], "undecided", {"VK-101": 2, "VK-151": 2}),
    ],
)
def test_spindle_play_decides(confirmed: list[str], kind: str, numbers: dict[str, int]) -> None:
    held = advice(*confirmed)
    assert held.kind == kind
    assert {line.number: line.quantity for line in held.kits} == numbers


def test_gaskets_go_by_the_holes_that_were_counted() -> None:
    assert {g.number: g.quantity for g in advice().gaskets} == {"VG-2A": 2, "VG-M1": 4}
    assert {g.number for g in advice("flange_holes=3").gaskets} == {"VG-M1"}


def test_it_never_says_order_and_always_says_confirm() -> None:
    held = advice()
    assert held.confirm.startswith("Confirm tag first")
    assert held.measure_first
    text = " ".join([held.why, held.confirm, *held.measure_first]).lower()
    assert "order now" not in text


def test_a_pattern_without_kits_has_no_advice_and_a_missing_kind_is_said() -> None:
    held = catalogue(
        '[[pattern]]\nid = "a"\nname = "A"\nchamber = "piston"\n'
        '[[pattern]]\nid = "b"\nname = "B"\nchamber = "piston"\n'
        'kit = [{ number = "K", kind = "light", per = "pair" }]\n'
    )
    assert kit_advice([held.pattern("a")], CaseFacts()) == ()
    (one,) = kit_advice([held.pattern("b")], CaseFacts())
    assert one.kits[0].quantity == 1
    assert any("no full kit" in line for line in one.measure_first)
