"""The rows of an evaluation in words: what was asked, of how many, with which interval."""

from collections.abc import Mapping
from typing import Any

from carbpair.evaluate.locator_table import SIZES

Row = tuple[str, str]

SHARES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("both carbs found, close or medium", ("locator", "both_found", SIZES[0][0])),
    ("both carbs found, dashpot 4 to 8 % of the width", ("locator", "both_found", "4 to 8 %")),
    ("both carbs found, dashpot under 4 %", ("locator", "both_found", "under 4 %")),
    ("both carbs found, size not known", ("locator", "both_found", "size not known")),
    ("boxes without a carb", ("locator", "boxes_without_a_carb")),
    ("photos without a carb where one was found", ("locator", "photographs_with_a_false_carb")),
    ("hole count right, of answers", ("flange_holes", "accuracy_of_answers")),
    ("hole count answered, of flanges in view", ("flange_holes", "coverage")),
    ("  2 holes: right, of answers", ("flange_holes", "by_value", "2", "accuracy_of_answers")),
    ("  3 holes: right, of answers", ("flange_holes", "by_value", "3", "accuracy_of_answers")),
    ("  4 holes: right, of answers", ("flange_holes", "by_value", "4", "accuracy_of_answers")),
    ("hole layout right, of answers", ("hole_layout", "accuracy_of_answers")),
    ("hole layout answered, of flanges in view", ("hole_layout", "coverage")),
    ("holes answered though a filter hides them", ("flange_holes_answered_under_a_filter",)),
    ("bowl side right, of answers", ("bowl_side", "accuracy_of_answers")),
    ("bowl side answered, of carbs told left from right", ("bowl_side", "coverage")),
    ("bowl side answered, of all carbs found", ("bowl_side_of_all_found",)),
    ("left and right told apart rightly", ("position",)),
    ("mark answered, of marks in view", ("mark", "coverage")),
    ("bearing beyond 15°, of answers", ("mark", "beyond 15 degrees")),
    ("bearing turned round (over 150°), of answers", ("mark", "flips (over 150 degrees)")),
    ("90 % interval of the bearing holds the truth", ("mark", "90 % interval holds the truth")),
    ("mark answered though none is to be seen", ("mark", "answered though no mark is seen")),
    ("verdict right, of answers", ("mark", "verdict_accuracy")),
    ("verdict answered, of marks in view", ("mark", "verdict_coverage")),
    ("chamber right, of answers", ("chamber", "accuracy_of_answers")),
    ("chamber answered", ("chamber", "coverage")),
    ("filter right, of answers", ("filter_fitted", "accuracy_of_answers")),
    ("filter answered", ("filter_fitted", "coverage")),
)  # fmt: skip

NUMBERS = (
    ("bearing, mean absolute error", ("mark", "mean_absolute_error_deg")),
    ("bearing, 95th percentile", ("mark", "95th_percentile_deg")),
)


def summary(tables: Mapping[str, Any]) -> list[Row]:
    """Every row that has a case."""
    rows: list[Row] = []
    for words, path in SHARES:
        found = look_up(tables, path)
        if found is not None and found["n"]:
            rows.append((words, share_words(found)))
    for words, path in NUMBERS:
        found = look_up(tables, path)
        if found is not None and found["n"]:
            rows.append((words, degrees_words(found)))
    return rows


def look_up(tables: Mapping[str, Any], path: tuple[str, ...]) -> Any:
    """A nested entry, or None."""
    found: Any = tables
    for key in path:
        if not isinstance(found, Mapping) or key not in found:
            return None
        found = found[key]
    return found


def share_words(row: Mapping[str, Any]) -> str:
    """Share, interval and n in words."""
    if not row["n"]:
        return "no case"
    low, high = row["interval95"]
    return (
        f"{100 * row['share']:.1f} % ({100 * low:.1f}–{100 * high:.1f}), {row['hits']}/{row['n']}"
    )


def degrees_words(row: Mapping[str, Any]) -> str:
    """A mean or percentile in degrees with interval and n in words."""
    if not row["n"]:
        return "no case"
    low, high = row["interval95"]
    return f"{row['value']:.1f}° ({low:.1f}–{high:.1f}), n = {row['n']}"
