import pytest

from carbpair.identify.error import BadInputError
from carbpair.identify.reading import read_inspection, wrap_deg
from tests.identify.example import features, hidden, inspection


def test_values_become_text_and_what_is_hidden_stays_out() -> None:
    held = read_inspection(inspection(features(3, "inboard", "piston", 12.0), None))
    left = held.carb("left")
    assert left.label("flange_holes").value == "3"
    assert left.label("filter_fitted").value == "false"
    assert left.label("flange_holes").probability == pytest.approx(0.97)
    assert left.bearing.bearing_deg == 12.0
    assert left.bearing.sd_deg == 3.0
    assert held.right is None
    assert not held.carb("right").label("chamber").informative


def test_a_hidden_feature_keeps_its_reason_and_says_nothing() -> None:
    held = read_inspection(inspection(features(None, None, "piston"), None)).carb("left")
    assert held.label("flange_holes").reason == "filter_fitted"
    assert not held.label("flange_holes").informative
    assert not held.bearing.informative


def test_an_unsure_reading_keeps_its_distribution_but_has_no_value() -> None:
    left = features(3, None, None)
    left["features"]["flange_holes"] = {
        **hidden("low_confidence"),
        "status": "unsure",
        "distribution": {"2": 0.3, "3": 0.7},
    }
    left["features"]["mark_bearing_deg"] = {
        **hidden("low_confidence"),
        "status": "unsure",
        "distribution": {"mean_deg": 10.0, "sd_deg": 40.0},
    }
    held = read_inspection(inspection(left, None)).carb("left")
    assert held.label("flange_holes").value is None
    assert held.label("flange_holes").informative
    assert held.bearing.status == "unsure"
    assert held.bearing.bearing_deg == 10.0


def test_a_lone_carburettor_without_a_place_keeps_what_needs_none() -> None:
    held = inspection(None, None)
    held["photos"] = [
        {
            "carbs": [
                {"score": 0.4, **features(4, "none", "piston")},
                {"score": 0.9, **features(3, "inboard", "piston", 5.0)},
            ]
        }
    ]
    left = read_inspection(held).carb("left")
    assert left.label("flange_holes").value == "3"
    assert not left.label("bowl_side").informative


def test_no_carburettor_at_all_is_an_empty_reading() -> None:
    held = read_inspection(inspection(None, None))
    assert held.left is None
    assert held.right is None


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.update(schema="x"),
        lambda d: d.update(pair=[]),
        lambda d: d["pair"].update(carbs=3),
        lambda d: d["pair"]["carbs"]["left"]["features"]["chamber"].update(status="maybe"),
        lambda d: d["pair"]["carbs"]["left"]["features"].update(chamber="piston"),
        lambda d: d["pair"]["carbs"]["left"]["features"]["chamber"].update(
            distribution={"piston": 0.9, "diaphragm": 0.9}
        ),
        lambda d: d["pair"]["carbs"]["left"]["features"]["chamber"].update(
            distribution={"piston": "much"}
        ),
        lambda d: d["pair"]["carbs"]["left"]["features"]["mark_bearing_deg"].update(
            value=float("nan")
        ),
    ],
)
def test_bad_input_says_how_to_make_good_input(spoil) -> None:
    held = inspection(features(3, "inboard", "piston", 5.0), None)
    spoil(held)
    with pytest.raises(BadInputError, match="carbpair inspect"):
        read_inspection(held)


@pytest.mark.parametrize(
    ("angle", "wrapped"),
    [(0, 0), (180, 180), (-180, 180), (181, -179), (540, 180), (-541, 179), (720.5, 0.5)],
)
def test_angles_lie_in_the_half_open_circle(angle: float, wrapped: float) -> None:
    assert wrap_deg(angle) == pytest.approx(wrapped)
