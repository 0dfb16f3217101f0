"""The whole station, from an inspection to advice."""

import json

import pytest

from carbpair.identify import (
    Calibration,
    ContradictionError,
    UnknownNameError,
    demo_catalogue,
    identify_inspection,
)
from carbpair.identify.posterior import PHOTO_CAP
from tests.identify.example import confusion, features, inspection

DEMO = demo_catalogue()
ERRORS = confusion(rho=0.5)
FITTED = Calibration(answer_threshold=0.95, conformal={"op-4out": 0.2, "op-2in": 0.2}, cases=1)
FOUR = inspection(*[features(4, "outboard", "piston", 2.0)] * 2)
THREE = inspection(*[features(3, "inboard", "piston", 2.0)] * 2)
TWO = inspection(*[features(2, "none", "diaphragm", 2.0)] * 2)
NOTHING = inspection(*[features(None, None, None)] * 2)


def run(held: dict, **facts: object):
    return identify_inspection(held, DEMO, facts, confusion=ERRORS, calibration=FITTED)


def test_a_clear_pair_is_named_and_says_why() -> None:
    found = run(FOUR, car="Varnley Tindre", engine="VS20 1991 cc")
    assert found.answer == "op-4out"
    assert found.verdict == "pattern"
    assert {reason.source for reason in found.why} == {"stated", "photo"}
    assert all(reason.bits > 0 for reason in found.why)
    assert found.expected == ("op-4out",)
    assert found.deviations == ()
    assert "Confirm by hand" in found.summary


def test_probabilities_sum_to_one_and_never_pass_the_ceiling_from_photos() -> None:
    found = run(FOUR, car="Varnley Tindre", engine="VS20 1991 cc")
    assert sum(row.probability for row in found.candidates) == pytest.approx(1.0, abs=0.005)
    assert max(row.probability for row in found.candidates) <= PHOTO_CAP
    assert found.trust.photos_only
    tagged = run(FOUR, tags=["left:VN 2405 R", "right:VN 2404 F"])
    assert tagged.candidates[0].probability > PHOTO_CAP
    assert not tagged.trust.photos_only
    assert tagged.conformal_set is None


def test_nothing_seen_leaves_the_prior_and_asks_for_a_photo() -> None:
    found = run(NOTHING)
    assert found.answer is None
    assert found.why == ()
    assert found.deviations == ()
    assert found.next_photo is not None
    assert found.next_photo.view.id == "air_side"
    shares = {row.id: row.probability for row in found.candidates}
    assert len({round(shares[p.id], 9) for p in DEMO.patterns}) == 1


def test_missing_evidence_is_neutral() -> None:
    some = inspection(*[features(None, None, "piston")] * 2)
    shares = {row.id: row.probability for row in run(some).candidates}
    # Seven piston patterns: what was not seen must not favour any of them.
    piston = [shares[p.id] for p in DEMO.patterns if p.chamber == "piston"]
    assert max(piston) == pytest.approx(min(piston))


@pytest.mark.parametrize(
    ("held", "twins", "by"),
    [
        (THREE, {"op-3in-ext", "op-3in-spi"}, "return_spring"),
        (TWO, {"od-2int-home", "od-2int-export"}, "tag"),
    ],
)
def test_patterns_that_no_photo_splits_are_named_together(held: dict, twins: set, by: str) -> None:
    found = run(held)
    assert found.answer is None
    assert found.verdict == "group"
    group = found.inseparable[0]
    assert set(group.ids) == twins
    assert group.separated_by == (by,)
    assert all(name in found.summary for name in twins)
    assert found.checklist[1].bits > 0.85
    assert set(found.why_for) == twins


def test_a_car_alone_does_not_split_them_but_a_hand_check_does() -> None:
    car = {"car": "Varnley Ostrene GT", "year": 1966}
    assert run(THREE, **car).answer is None
    assert run(THREE, **car, confirmed=["return_spring=external"]).answer == "op-3in-ext"
    tags = ["left:VN 4204 F", "right:VN 4205 R"]
    assert run(TWO, tags=tags).answer == "od-2int-home"


def test_a_tag_that_is_not_listed_does_not_split_them() -> None:
    found = run(TWO, car="Varnley Pellis", engine="VT15 1493 cc", tags=["left:VN 42 99"])
    assert found.answer is None
    assert {"od-2int-home", "od-2int-export"} in [set(group.ids) for group in found.inseparable]
    assert any(item.id == "tag_numbers" for item in found.checklist)


def test_a_pair_that_no_pattern_has_is_of_another_source() -> None:
    strange = inspection(*[features(3, "none", "diaphragm", 100.0)] * 2)
    found = run(strange, tags=["QQ 17"])
    assert found.answer is None
    assert found.verdict == "other_source"


def test_left_and_right_of_two_patterns() -> None:
    mixed = inspection(
        features(4, "outboard", "piston", 2.0), features(3, "inboard", "piston", 2.0)
    )
    found = run(mixed)
    assert found.verdict == "mixed_pair"
    assert found.answer is None
    assert "not_same_pattern" in {d.kind for d in found.deviations}


def test_bowls_on_the_wrong_side_for_the_stated_car() -> None:
    found = run(FOUR, car="Varnley Ostrene GT", year=1966)
    kinds = [deviation.kind for deviation in found.deviations]
    assert "bowls_wrong_side" in kinds
    assert "flange_holes_differ" in kinds
    assert any(item.id == "tag_numbers" for item in found.checklist)


def test_without_a_car_the_marks_are_still_compared() -> None:
    turned = inspection(
        features(3, "inboard", "piston", 2.0), features(3, "inboard", "piston", 90.0)
    )
    assert [d.carb for d in run(turned).deviations if d.kind == "mark_turned"] == ["right"]


def test_contradictions_end_the_answer_but_not_the_advice() -> None:
    found = run(FOUR, confirmed=["chamber=diaphragm"], tags=["left:VN 2404 F"])
    assert found.verdict == "contradiction"
    assert found.answer is None
    assert len(found.contradictions) >= 1
    assert len(found.checklist) > 5
    with pytest.raises(ContradictionError):
        run(FOUR, confirmed=["chamber=diaphragm", "chamber=piston"])


def test_an_unknown_car_guesses_nothing() -> None:
    with pytest.raises(UnknownNameError, match="Varnley Tindre"):
        run(FOUR, car="Varnley Tindra")


def test_a_hand_check_overrules_a_reading_and_counts_once() -> None:
    found = run(FOUR, confirmed=["flange_holes=2"])
    assert found.candidates[0].id == "op-2out"
    assert [r.source for r in found.why if r.evidence == "flange_holes"] == ["confirmed"]


def test_the_stated_threshold_decides() -> None:
    strict = Calibration(answer_threshold=1.0, cases=1)
    found = identify_inspection(FOUR, DEMO, {}, confusion=ERRORS, calibration=strict)
    assert (found.answer, found.verdict) == (None, "undecided")


def test_the_conformal_set_keeps_what_is_likely() -> None:
    kept = run(FOUR).conformal_set
    assert kept is not None
    assert "op-4out" in kept
    assert "op-2in" not in kept


def test_no_conformal_set_for_a_case_unlike_the_calibrated_ones() -> None:
    assert run(NOTHING).conformal_set is None


def test_json_has_the_promised_keys_and_is_plain() -> None:
    held = run(THREE, symptoms=["power_fades"]).to_json()
    assert json.loads(json.dumps(held)) == held
    assert {
        "candidates",
        "answer",
        "why",
        "inseparable",
        "deviations",
        "checklist",
        "next_photo",
    } <= set(held)
    assert {"id", "name", "probability"} <= set(held["candidates"][0])
    assert {"tools", "how", "good", "minutes", "caution"} <= set(held["checklist"][1])
    assert held["schema"] == "carbpair/identification/1"
    photo = run(NOTHING).to_json()["next_photo"]
    assert photo["svg"].startswith("<svg")
    assert photo["how"]


def test_the_demo_is_the_default_and_says_so() -> None:
    found = identify_inspection(FOUR)
    assert found.catalogue.demo
    assert any("demonstration" in note for note in found.notes)


def test_kits_come_only_with_a_name_and_ask_for_the_tag() -> None:
    assert run(NOTHING).kits == ()
    kits = run(FOUR).kits
    assert kits[0].pattern == "op-4out"
    assert "Confirm tag first" in kits[0].confirm


def test_photos_of_two_pairs_name_nothing() -> None:
    held = inspection(*[features(4, "outboard", "piston", 2.0)] * 2)
    held["pair"]["contradictions"] = [
        {
            "position": "right",
            "feature": "chamber",
            "values": ["piston", "diaphragm"],
            "files": ["a.jpg", "b.jpg"],
        }
    ]
    found = identify_inspection(held, DEMO, {}, confusion=ERRORS, calibration=FITTED)
    assert (found.verdict, found.answer) == ("contradiction", None)
    assert "more than one pair" in found.contradictions[0]


def test_a_pattern_that_a_stranger_may_share_is_not_named_and_says_why() -> None:
    careful = Calibration(answer_threshold=0.8, other_limit=1e-9, cases=1)
    found = identify_inspection(FOUR, DEMO, {}, confusion=ERRORS, calibration=careful)
    assert (found.answer, found.verdict) == (None, "undecided")
    assert "from elsewhere could by chance share" in found.summary
    assert found.trust.other_limit == 1e-9


def test_tags_of_two_patterns_name_nothing_unless_the_pair_looks_mixed() -> None:
    tags = {"tags": ["left:VN 2404 F", "right:VN 1103 R"]}
    found = identify_inspection(FOUR, DEMO, tags, confusion=ERRORS, calibration=FITTED)
    assert (found.verdict, found.answer) == ("contradiction", None)
    mixed = inspection(
        features(4, "outboard", "piston", 2.0), features(2, "inboard", "piston", 2.0)
    )
    found = identify_inspection(mixed, DEMO, tags, confusion=ERRORS, calibration=FITTED)
    assert (found.verdict, found.contradictions) == ("mixed_pair", ())
