import numpy as np
import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.checklist import ChecklistItem, check_gain_bits, checklist
from carbpair.identify.fact import CaseFacts, check_facts
from carbpair.identify.pattern_table import table_of

DEMO = demo_catalogue()
TABLE = table_of(DEMO)


def shares(**given: float) -> np.ndarray:
    held = np.full(len(DEMO.patterns) + 1, 1e-6)
    for name, share in given.items():
        held[TABLE.index[name.replace("_", "-")]] = share
    return held / held.sum()


def items(spread: np.ndarray, unsure: tuple[str, ...] = (), **facts: object) -> list[ChecklistItem]:
    held = check_facts(CaseFacts.from_dict(facts), DEMO)
    return list(checklist(DEMO, TABLE, spread, held, unsure))


SPRINGS = shares(op_3in_ext=0.5, op_3in_spi=0.5)
NEEDLES = shares(od_2int_home=0.5, od_2int_export=0.5)


def test_safety_comes_before_everything() -> None:
    first = items(SPRINGS)[0]
    assert first.reason == "safety"
    assert len(first.how) >= 6


def test_what_separates_the_candidates_comes_next() -> None:
    assert items(SPRINGS)[1].id == "return_spring"
    assert items(NEEDLES)[1].id == "tag_numbers"
    assert items(SPRINGS)[1].bits == pytest.approx(_channel(0.02, 3), abs=1e-3)


def test_separating_checks_are_ranked_by_gain_per_minute() -> None:
    held = [
        item
        for item in items(shares(**{p.id.replace("-", "_"): 0.1 for p in DEMO.patterns}))
        if item.reason == "separates"
    ]
    worth = [item.bits / item.minutes for item in held]
    assert len(held) >= 5
    assert worth == sorted(worth, reverse=True)


def test_gain_of_a_hand_check_is_that_of_a_noisy_binary_channel() -> None:
    # Two even patterns, one differing value among the springs' three; error 2 % split over
    # the other two values: mutual information computed by hand from the four entropies.
    assert check_gain_bits("return_spring", TABLE, DEMO, SPRINGS) == pytest.approx(
        _channel(0.02, 3), abs=1e-3
    )
    assert check_gain_bits("chamber", TABLE, DEMO, SPRINGS) == pytest.approx(0.0, abs=1e-3)


def _channel(error: float, values: int) -> float:
    def entropy(*p: float) -> float:
        return -sum(x * np.log2(x) for x in p if x > 0)

    wrong = error / (values - 1)
    rest = [wrong] * (values - 2)
    half = (1 - error + wrong) / 2
    return entropy(half, half, *rest) - entropy(1 - error, wrong, *rest)


def test_what_was_settled_is_not_asked_again() -> None:
    stated = {"confirmed": ["return_spring=external"], "tags": ["VN 2110 F", "VN 2111 R"]}
    ids = {i.id for i in items(SPRINGS, **stated)}
    assert "return_spring" not in ids
    assert "tag_numbers" not in ids


def test_an_unsure_reading_is_asked_for() -> None:
    certain = shares(op_4out=1.0)
    assert "flange_hole_count" not in {item.id for item in items(certain)}
    asked = next(i for i in items(certain, ("flange_holes",)) if i.id == "flange_hole_count")
    assert asked.reason == "unsure"


def test_symptoms_come_before_what_no_photo_shows() -> None:
    held = items(shares(od_4int=1.0), symptoms=["power_fades"])
    reasons = [item.reason for item in held]
    assert held[1].id == "compensator"
    assert reasons == sorted(
        reasons, key=["safety", "separates", "unsure", "symptom", "never_in_photos"].index
    )


def test_only_checks_that_a_candidate_has_are_listed() -> None:
    piston = {item.id for item in items(shares(op_2in=1.0))}
    diaphragm = {item.id for item in items(shares(od_4int=1.0))}
    assert "piston_drop" in piston - diaphragm
    assert "diaphragm_lift" in diaphragm - piston


def test_the_thread_item_quotes_the_claimed_thread() -> None:
    thread = next(item for item in items(SPRINGS) if item.id == "hole_thread")
    assert "5/16-18 UNC" in thread.good
    assert "ASME B1.1" in thread.good
    assert "{" not in thread.good


def test_the_workshops_own_feature_joins_where_it_helps() -> None:
    held = items(shares(op_4int=0.5, op_4out=0.5))
    assert any(item.id == "dashpot_cap" and item.bits > 0.5 for item in held)


def test_no_item_stands_twice() -> None:
    held = [item.id for item in items(SPRINGS, ("bowl_layout",), symptoms=["flooding", "hunting"])]
    assert len(held) == len(set(held))


def test_a_check_of_both_tells_a_mixed_pair() -> None:
    certain = shares(op_4out=1.0)
    assert check_gain_bits("flange_holes", TABLE, DEMO, certain) == pytest.approx(0.0, abs=1e-3)
    # Matched or mixed, even odds. Of the catalogue's flanges 3 in 10 have four holes, so a mixed
    # pair shows four twice in about 0.98 × 0.3 + 0.02 × 0.7 / 2 and differs in the rest.
    gain = check_gain_bits("flange_holes", TABLE, DEMO, certain, 0.5)
    assert 0.3 < gain < 1.0
    found = checklist(DEMO, TABLE, certain, CaseFacts(), (), (), 0.5)
    first = found[1]
    assert (first.id in {"bowl_layout", "dashpot_cap"}, first.reason) == (True, "separates")
    assert "flange_hole_count" in {i.id for i in found if i.reason == "separates"}
