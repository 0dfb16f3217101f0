"""Features in words, in full and short."""

import pytest

from carbpair.feature_text import REASON_WORDS, carb_line, feature_words
from carbpair.http.words import REASONS
from tests.inspection_example import bearing, features, hidden, seen, unsure


@pytest.mark.parametrize(
    ("name", "feature", "words"),
    [
        ("flange_holes", seen(2, 0.91), "2, 91 %"),
        ("bowl_side", seen("none", 0.9), "none at the side (integral), 90 %"),
        ("filter_fitted", seen(False, 0.999), "off, over 99 %"),
        ("filter_fitted", seen(True, 0.9949), "fitted, 99 %"),
        ("mark_verdict", seen("faces_intake", 0.97), "yes, 97 %"),
        ("mark_bearing_deg", bearing(0.2, 1.0), "0°, towards the air intake (-1° to +2°), 96 %"),
        ("flange_holes", hidden("too_small"), "not seen, too small in the picture"),
        ("flange_holes", hidden("new_reason"), "not seen, new reason"),
        ("chamber", unsure({"piston": 0.6, "diaphragm": 0.4}, "blurred"),
         "unsure (perhaps piston, 60 %), blurred"),
        ("filter_fitted", unsure({"true": 0.7, "false": 0.3}),
         "unsure (perhaps fitted, 70 %), not clear enough"),
        ("matched", seen(False, 0.95), "NO: the two differ, 95 %"),
    ],
)  # fmt: skip
def test_a_feature_in_words(name: str, feature: dict, words: str) -> None:
    assert feature_words(name, feature) == words


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"flange_holes": seen(2, 0.999)}, "2 bolt holes, "),
        ({"flange_holes": seen(2, 0.91)}, "2 bolt holes (91 %), "),
        ({"flange_holes": hidden("edge_on")}, "bolt holes not seen (seen edge on), "),
        ({"flange_holes": unsure({"2": 0.1, "3": 0.88, "4": 0.02}, "holes_do_not_form_pattern")},
         "bolt holes unsure (perhaps 3, 88 %; the holes found form no bolt pattern), "),
        ({"bowl_side": seen("none", 0.999)}, ", bowl integral, "),
        ({"bowl_side": seen("outboard", 0.999)}, ", bowl outboard, "),
        ({"mark_bearing_deg": bearing(90.0)}, ", mark +90° to the left (96 %), "),
        ({"mark_bearing_deg": {**unsure({"mean_deg": 4.0, "sd_deg": 2.0}), "probability": 0.5}},
         ", mark unsure (not clear enough), "),
        ({"chamber": seen("diaphragm", 0.999)}, ", diaphragm, "),
        ({"chamber": unsure({"piston": 0.6, "diaphragm": 0.4}, "blurred")},
         ", chamber unsure (perhaps piston, 60 %; blurred), "),
        ({"filter_fitted": seen(True, 0.999)}, ", filter fitted"),
        ({"filter_fitted": seen(False, 0.999)}, ", filter off"),
    ],
)  # fmt: skip
def test_a_carb_in_one_line(changed: dict, words: str) -> None:
    assert words in carb_line(features(**changed))


def test_every_reason_that_the_pages_know_has_words() -> None:
    assert set(REASONS) - set(REASON_WORDS) <= {"corrected_by_hand"}
