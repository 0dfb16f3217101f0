import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.check import checks
from carbpair.identify.error import UnknownNameError
from carbpair.identify.symptom import symptoms, triage

DEMO = demo_catalogue()


def shares(*names: str) -> list[float]:
    return [1 / len(names) if pattern.id in names else 0.0 for pattern in DEMO.patterns]


def test_the_symptoms_that_a_sender_can_tick() -> None:
    assert set(symptoms()) == {
        "power_fades",
        "rich_smell",
        "will_not_idle",
        "flooding",
        "hesitation",
        "hunting",
    }
    assert all(p.check in checks() for s in symptoms().values() for p in s.points)


def test_a_fade_on_a_diaphragm_type_points_at_the_compensator_first() -> None:
    first = triage(["power_fades"], DEMO.patterns, shares("od-4int"))[0]
    assert first.check == "compensator"
    assert "10 to 30 minutes" in first.why
    assert "no source" in first.why


def test_a_fade_on_a_piston_type_does_not_point_there_at_all() -> None:
    found = triage(["power_fades"], DEMO.patterns, shares("op-2in"))
    assert [point.check for point in found][:2] == ["heat_shield", "fuel_supply"]
    assert "compensator" not in {point.check for point in found}


def test_a_half_likely_part_counts_half() -> None:
    whole = {p.check: p.weight for p in triage(["power_fades"], DEMO.patterns, shares("od-4int"))}
    half = {
        p.check: p.weight
        for p in triage(["power_fades"], DEMO.patterns, shares("od-4int", "op-2in"))
    }
    assert half["compensator"] == pytest.approx(whole["compensator"] / 2)
    assert half["fuel_supply"] == whole["fuel_supply"]


def test_a_cause_of_two_symptoms_comes_before_a_cause_of_one() -> None:
    both = triage(["will_not_idle", "hunting"], DEMO.patterns, shares("op-2in"))
    assert both[0].check == "air_leak"
    assert both[0].why.count("idle") >= 2
    twice = triage(["hunting", "hunting"], DEMO.patterns, shares("op-2in"))
    assert twice == triage(["hunting"], DEMO.patterns, shares("op-2in"))


def test_an_unknown_symptom_offers_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="'power_fades'"):
        triage(["powr_fades"], DEMO.patterns, shares("op-2in"))
