"""Pairs by number of photos."""

from carbpair.evaluate.pair_table import pair_table
from carbpair.vision import Calibration
from tests.evaluate.example import LEFT, RIGHT, carb, photo, seen, true


def shot(name: str, pair: str, holes: int | None, side: str | None, said: int | None = None):
    features = {}
    if holes is not None:
        features["flange_holes"] = seen(said or holes)
    if side is not None:
        features["bowl_side"] = seen(side)
    truths = [
        true(LEFT, "left", flange_holes=2, bowl_side="inboard"),
        true(RIGHT, "right", flange_holes=2, bowl_side="inboard"),
    ]
    carbs = [carb(LEFT, "left", **features), carb(RIGHT, "right", **features)]
    return photo(truths, carbs, file=name, pair=pair)


def test_two_photos_solve_what_neither_does() -> None:
    photos = [shot("a", "p", 2, None), shot("b", "p", None, "inboard")]
    table = pair_table(photos, Calibration())
    assert (table["1"]["solved"]["hits"], table["1"]["solved"]["n"]) == (0, 1)
    assert (table["2"]["solved"]["hits"], table["2"]["solved"]["n"]) == (1, 1)
    assert table["2"]["with_a_wrong_answer"]["hits"] == 0
    assert "3" not in table


def test_a_wrong_answer_is_told() -> None:
    table = pair_table([shot("a", "p", 2, "inboard", said=4)], Calibration())
    assert table["1"]["solved"]["hits"] == 0
    assert table["1"]["with_a_wrong_answer"]["hits"] == 1


def test_photos_that_name_no_pair_make_no_table() -> None:
    photos = [photo([true()], [carb()])]
    assert pair_table(photos, Calibration()) == {}
