import json

import numpy as np
import pytest

from carbpair.identify.confusion import DEFAULT_PAIR_CORRELATION
from carbpair.identify.confusion_file import load_confusion, parse_confusion
from carbpair.identify.error import BadInputError
from tests.identify.example import label_confusion

LABELS = {
    "chamber": ["piston", "diaphragm"],
    "flange_holes": ["2", "3", "4"],
    "bowl_side": ["inboard", "outboard", "none"],
}


def document() -> dict:
    features: dict = {
        name: {"labels": labels, "counts": np.eye(len(labels), len(labels) + 2, dtype=int).tolist()}
        for name, labels in LABELS.items()
    }
    features["mark_bearing_deg"] = {"sd_deg": 3.0, "flip_rate": 0.01, "n": 99}
    return {"schema": "carbpair/confusion/1", "source": "test", "features": features}


def parse(held: object):
    return parse_confusion(json.dumps(held).encode(), "c.json")


def test_the_shipped_file_loads_and_rows_are_probabilities() -> None:
    held = load_confusion()
    for confusion in held.labels.values():
        assert confusion.likelihood.sum(axis=1) == pytest.approx(np.ones(len(confusion.labels)))
        assert (confusion.likelihood > 0).all()
    assert held.source


def test_smoothing_is_the_dirichlet_posterior_mean() -> None:
    # Posterior mean under a symmetric Dirichlet(½): (count + ½) / (n + values / 2).
    assert label_confusion(("a", "b"), 9, 0).likelihood[0, 0] == pytest.approx(9.5 / 10)
    few = label_confusion(("a", "b", "c"), 10, 0).likelihood
    assert few[0, 0] / few[1, 0] == pytest.approx(21.0)


def test_unsure_answers_lower_the_answered_share_not_the_likelihood() -> None:
    without = label_confusion(("a", "b"), 90, 10)
    unsure = label_confusion(("a", "b"), 90, 10, unsure=100)
    assert unsure.likelihood == pytest.approx(without.likelihood)
    assert without.answered_share == pytest.approx(1.0, abs=0.01)
    assert unsure.answered_share == pytest.approx(0.5, abs=0.01)


def test_unsure_readings_have_a_record_of_their_own() -> None:
    assumed = label_confusion(("a", "b", "c"), 90, 5)
    assert assumed.unsure_likelihood[0] == pytest.approx([0.6, 0.2, 0.2])
    held = document()
    held["features"]["chamber"]["unsure_counts"] = [[9, 0], [2, 8]]
    held["features"]["chamber"]["counts"] = [[40, 1, 9, 7], [0, 30, 10, 5]]
    counted = parse(held).labels["chamber"].unsure_likelihood
    # Half a count for each of two answers and two leans; what was not visible is not looked at.
    looked_at = np.array([[50 + 2], [40 + 2]])
    assert counted == pytest.approx(np.array([[9.5, 0.5], [2.5, 8.5]]) / looked_at)


def test_answers_that_are_sure_of_themselves_have_a_record_of_their_own() -> None:
    held = document()
    held["features"]["chamber"].update(
        counts=[[90, 4, 0, 0], [2, 80, 0, 0]], sure_counts=[[80, 0], [0, 70]]
    )
    found = parse(held).labels["chamber"]
    # Half a count for each of two answers, sure and not.
    assert found.record(True)[0] == pytest.approx([80.5 / 96, 0.5 / 96])
    assert found.record(False)[0] == pytest.approx([10.5 / 96, 4.5 / 96])
    assert found.record(True)[0].sum() + found.record(False)[0].sum() == pytest.approx(1.0)
    assert found.sure_share(0, 0) == pytest.approx(80.5 / 91)
    without = label_confusion(("a", "b"), 90, 5)
    assert without.record(True) == pytest.approx(without.likelihood)
    held["features"]["chamber"]["sure_counts"] = [[91, 0], [0, 70]]
    with pytest.raises(BadInputError, match="not more"):
        parse(held)


def test_a_value_that_is_mostly_not_answered_is_seldom_behind_an_answer() -> None:
    # As with integral bowls: looked at 100 times, answered 5 times, and always wrong.
    held = document()
    held["features"]["bowl_side"].update(
        counts=[[90, 0, 0, 10, 5], [0, 90, 0, 10, 5], [5, 0, 0, 95, 20]],
        unsure_counts=[[7, 1, 2], [1, 7, 2], [1, 1, 93]],
    )
    bowl = parse(held).labels["bowl_side"]
    inboard = bowl.record(True)[:, 0]
    assert inboard[0] / inboard[2] == pytest.approx(90.5 / 5.5, rel=0.02)
    lean = bowl.unsure_likelihood[:, 2]
    assert lean[2] / lean[0] == pytest.approx(93.5 / 2.5, rel=0.02)


def test_marks_that_are_in_view_and_marks_that_are_not() -> None:
    held = document()
    mark = held["features"]["mark_bearing_deg"]
    mark.update(unsure_rate=0.3, not_visible_rate=0.4)
    # Half of the 60 % that could be looked at; in full view, what was counted there.
    assert parse(held).bearing.asked_unsure_rate == pytest.approx(0.5)
    mark.update(in_view_unsure_rate=0.2, unsure_right_rate=0.75, unsure_n=40, stray_rate=0.02)
    found = parse(held).bearing
    assert found.asked_unsure_rate == 0.2
    assert found.smoothed_unsure_right == pytest.approx(30.5 / 41)
    assert found.smoothed_stray_rate == pytest.approx((0.02 * 99 + 0.5) / 100)


ROW = {
    "status": "seen",
    "least": 0.9,
    "counts": [20, 18, 1],
    "in_view_counts": [9, 9, 0],
    "sd_deg": 0.2,
}


def test_marks_by_certainty() -> None:
    held = document()
    mark = held["features"]["mark_bearing_deg"]
    assert parse(held).bearing.records == ()
    mark.update(by_certainty=[ROW | {"stated_sd_deg": 3.5}], in_view_hidden_n=4)
    found = parse(held).bearing
    (record,) = found.records
    assert (record.counts.n, record.counts.right, record.counts.flipped) == (20, 18, 1)
    assert record.in_view.n == 9
    assert (record.sd_deg, record.stated_sd_deg) == (1.0, 3.5)  # no mark is read within a degree
    assert found.in_view_hidden_n == 4


def test_what_is_in_full_view_has_leans_and_sure_answers_of_its_own() -> None:
    held = document()
    held["features"]["chamber"].update(
        counts=[[90, 4, 9, 0], [2, 80, 8, 0]], sure_counts=[[80, 0], [0, 70]],
        in_view_counts=[[50, 0, 3, 0], [0, 40, 2, 0]], in_view_sure_counts=[[49, 0], [0, 10]],
        in_view_unsure_counts=[[3, 0], [0, 2]],
    )  # fmt: skip
    found = parse(held).labels["chamber"]
    assert found.sure_share(0, 0, in_view=True) == pytest.approx(49.5 / 51)
    assert found.sure_share(0, 0) == pytest.approx(80.5 / 91)
    assert found.in_view_unsure is not None
    held["features"]["chamber"]["in_view_sure_counts"] = [[51, 0], [0, 10]]
    with pytest.raises(BadInputError, match="part of in_view_counts"):
        parse(held)


def test_defaults_and_quantiles() -> None:
    held = document()
    held["features"]["mark_bearing_deg"] = {
        "errors_deg_quantiles": {"0.5": 1.3, "0.9": 4.0, "0.95": 9.8},
        "flip_rate": 0,
        "n": 10,
    }
    found = parse(held)
    assert found.labels["chamber"].pair_correlation == DEFAULT_PAIR_CORRELATION
    assert not found.provisional
    # 9.8 at 95 % is wider than a normal with the other quantiles: the widest is kept.
    assert found.bearing.sd_deg == pytest.approx(9.8 / 1.96)


def test_several_photos_have_figures_of_their_own() -> None:
    held = document()
    assert parse(held).for_photos(9).photos == 1
    held["several_photos"] = {"photos": 3, "source": "x", "features": document()["features"]}
    held["several_photos"]["features"]["mark_bearing_deg"]["sd_deg"] = 2.0
    found = parse(held)
    assert [found.for_photos(n).bearing.sd_deg for n in (0, 1, 2, 3, 4)] == [3, 3, 3, 2, 2]
    assert found.several is not None
    assert found.several.sha256 == found.sha256
    two, three = ({**held["several_photos"], "photos": n} for n in (2, 3))
    three["features"] = document()["features"]
    held["several_photos"] = [two, three]
    found = parse(held)
    assert [found.for_photos(n).photos for n in (0, 1, 2, 3, 9)] == [1, 1, 2, 3, 3]
    assert [found.for_photos(n).bearing.sd_deg for n in (1, 2, 3)] == [3, 2, 3]
    assert [tier.photos for tier in found.tiers] == [1, 2, 3]


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda d: d.update(schema="x"), "schema"),
        (lambda d: d.pop("features"), "mark_bearing_deg"),
        (lambda d: d["features"].pop("chamber"), "chamber is missing"),
        (lambda d: d.update(several_photos=["x"]), "whole number"),
        (
            lambda d: d.update(several_photos=[{"photos": 3}, {"photos": 3}]),
            "grow from entry to entry",
        ),
        (lambda d: d.update(several_photos={"photos": 1}), "2 or more"),
        (lambda d: d.update(several_photos={"photos": 2}), "several_photos: 'features'"),
        (lambda d: d["features"]["chamber"].update(counts=[[1, 2], [3, 4]]), "columns"),
        (lambda d: d["features"]["chamber"].update(counts=[[1, -2, 0, 0], [0, 3, 0, 0]]), "0 or"),
        (lambda d: d["features"]["chamber"].update(counts="x"), "cannot be read"),
        (lambda d: d["features"]["chamber"].update(pair_correlation=2), "pair_correlation"),
        (lambda d: d["features"]["chamber"].update(reader_prior={"piston": 1}), "cannot be read"),
        (lambda d: d["features"]["chamber"].update(unsure_counts=[[1], [2]]), "unsure_counts"),
        (
            lambda d: d["features"]["chamber"].update(in_view_counts=[[1, 0, 0, -1]] * 2),
            "in_view_counts",
        ),
        (lambda d: d["features"]["mark_bearing_deg"].pop("flip_rate"), "flip_rate"),
        (lambda d: d["features"]["mark_bearing_deg"].update(stray_rate=-1), "0 to 1"),
        (lambda d: d["features"]["mark_bearing_deg"].update(flip_rate=3), "0 to 1"),
        (
            lambda d: d["features"]["mark_bearing_deg"].update(
                by_certainty=[ROW | {"counts": [20, 18, 3]}]
            ),
            "by_certainty",
        ),
        (lambda d: d["features"]["mark_bearing_deg"].update(by_certainty=[{}]), "cannot be read"),
    ],
)
def test_a_broken_file_names_the_place(spoil, says: str) -> None:
    held = document()
    spoil(held)
    with pytest.raises(BadInputError, match=says):
        parse(held)


def test_not_json_and_absent(tmp_path) -> None:
    with pytest.raises(BadInputError, match="not JSON"):
        parse_confusion(b"{", "c.json")
    with pytest.raises(BadInputError, match="cannot be read"):
        load_confusion(tmp_path / "absent.json")
