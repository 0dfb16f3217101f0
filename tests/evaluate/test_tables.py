"""The tables on literal readings, matrices against scikit-learn."""

import pytest
from sklearn.metrics import confusion_matrix

from carbpair.evaluate.confusion_table import confusion_table
from carbpair.evaluate.locator_table import band, locator_table
from carbpair.evaluate.mark_table import mark_table
from carbpair.evaluate.scored import found_carbs
from carbpair.evaluate.tables import all_tables, feature_tables
from carbpair.vision.feature import hidden
from tests.evaluate.example import LEFT, RIGHT, bearing, carb, held, photo, seen, true


def numbers(share: dict) -> tuple[int, int]:
    return share["hits"], share["n"]


def test_locator_by_size_and_boxes_without_a_carb() -> None:
    photos = [
        photo([true(LEFT), true(RIGHT, "right")], [carb(LEFT), carb(RIGHT, "right")]),
        photo([true(LEFT, size=0.05), true(RIGHT, "right", size=0.06)], [carb(LEFT)]),
        photo([true(LEFT, size=0.02), true(RIGHT, "right", present=False)], []),
        photo([true(LEFT, size=None)], [carb(LEFT), carb(RIGHT, None)]),
        photo([], [carb()], file="empty.jpg"),
        photo([], []),
    ]
    table = locator_table(photos)
    assert numbers(table["both_found"]["close_or_medium (8 % or more)"]) == (1, 1)
    assert numbers(table["both_found"]["4 to 8 %"]) == (0, 1)
    assert numbers(table["both_found"]["under 4 %"]) == (0, 0)
    assert numbers(table["each_found"]["4 to 8 %"]) == (1, 2)
    assert numbers(table["each_found"]["under 4 %"]) == (0, 1)
    assert numbers(table["each_found"]["size not known"]) == (1, 1)
    assert numbers(table["boxes_without_a_carb"]) == (2, 6)
    assert numbers(table["photographs_with_a_false_carb"]) == (1, 2)
    assert numbers(table["photographs_with_a_false_pair"]) == (0, 2)
    assert table["files_with_a_false_carb"] == ["empty.jpg"]
    assert [band(s) for s in (0.08, 0.0799, 0.04, 0.01)] == [
        "close_or_medium (8 % or more)", "4 to 8 %", "4 to 8 %", "under 4 %",
    ]  # fmt: skip


def test_features_count_only_what_is_in_view_and_matrices_count_all() -> None:
    photos = [
        photo([true(flange_holes=2)], [carb(flange_holes=seen(2))]),
        photo([true(flange_holes=3)], [carb(flange_holes=seen(4))]),
        photo([true(flange_holes=3)], [carb(flange_holes=held(3))]),
        photo([true(flange_holes=4)], [carb(flange_holes=hidden("edge_on"))]),
        photo(
            [true(flange_holes=4, filter_fitted=True, hidden=("flange_holes",))],
            [carb(flange_holes=seen(4), filter_fitted=seen(True))],
        ),
    ]
    found = found_carbs(photos)
    tables = feature_tables(found)
    holes = tables["flange_holes"]
    assert numbers(holes["coverage"]) == (2, 4)
    assert numbers(holes["accuracy_of_answers"]) == (1, 2)
    assert holes["not_answered"] == {"unsure: low_confidence": 1, "not_visible: edge_on": 1}
    assert numbers(holes["by_value"]["3"]["coverage"]) == (1, 2)
    assert numbers(tables["flange_holes_answered_under_a_filter"]) == (1, 1)
    assert holes["risk_coverage"]["n"] == 4
    assert holes["reliability"]["n"] == 3
    matrix = confusion_table(found, "test")["features"]["flange_holes"]
    columns = ["2", "3", "4", "unsure", "not_visible"]
    want = confusion_matrix(
        ["2", "3", "3", "4", "4"], ["2", "4", "unsure", "not_visible", "4"], labels=columns
    )
    assert matrix["counts"] == want[:3].tolist()
    assert matrix["n"] == 5


def test_bowl_sides_of_carbs_without_position_are_counted_apart() -> None:
    photos = [
        photo([true(bowl_side="inboard")], [carb(bowl_side=seen("inboard"))]),
        photo([true(bowl_side="outboard")], [carb(position=None)]),
        photo([true(position="right", bowl_side="none")], [carb(bowl_side=seen("none"))]),
    ]
    tables = all_tables(photos)
    assert numbers(tables["bowl_side"]["coverage"]) == (2, 2)
    assert numbers(tables["bowl_side_of_all_found"]) == (2, 3)
    assert numbers(tables["position"]) == (1, 2)


def test_mark_errors_wrap_and_flips_are_told() -> None:
    def one(truth: float, reading) -> object:
        verdict = "faces_intake" if abs(truth) <= 15 else "turned"
        said = seen("faces_intake" if reading.value and abs(reading.value) <= 15 else "turned")
        return photo(
            [true(mark_bearing_deg=truth, mark_verdict=verdict)],
            [carb(mark_bearing_deg=reading, mark_verdict=said)],
        )

    photos = [
        one(179.0, bearing(-178.0)),  # 3 degrees
        one(10.0, bearing(11.0)),  # 1 degree
        one(0.0, bearing(175.0)),  # turned round
        one(20.0, bearing(20.0, said=False)),
        photo(
            [true(mark_bearing_deg=5.0, hidden=("mark_bearing_deg",))],
            [carb(mark_bearing_deg=bearing(90.0))],
        ),
    ]
    table = mark_table(found_carbs(photos))
    assert numbers(table["coverage"]) == (3, 4)
    assert table["mean_absolute_error_deg"]["value"] == pytest.approx((3 + 1 + 175) / 3, abs=1e-3)
    assert numbers(table["flips (over 150 degrees)"]) == (1, 3)
    assert numbers(table["beyond 15 degrees"]) == (1, 3)
    assert numbers(table["90 % interval holds the truth"]) == (2, 3)  # sd 3: within 4.9 degrees
    assert numbers(table["verdict_accuracy"]) == (3, 4)
    assert numbers(table["answered though no mark is seen"]) == (1, 1)
    assert sum(table["error_histogram"]["counts"]) == 3
    matrix = confusion_table(found_carbs(photos), "x")["features"]["mark_bearing_deg"]
    assert matrix["n"] == 4
    assert matrix["flip_rate"] == 0.25
    assert matrix["unsure_rate"] == 0.2


def test_no_photo_at_all() -> None:
    tables = all_tables([])
    assert tables["mark"]["mean_absolute_error_deg"]["value"] is None
    assert confusion_table([], "")["features"]["chamber"]["n"] == 0
