"""All tables over a set of scored photos."""

from collections.abc import Sequence
from typing import Any

from carbpair.evaluate.feature_table import answers, feature_table
from carbpair.evaluate.intervals import share
from carbpair.evaluate.locator_table import locator_table
from carbpair.evaluate.mark_table import mark_table
from carbpair.evaluate.scored import Found, Scored, cases, found_carbs


def all_tables(photos: Sequence[Scored]) -> dict[str, Any]:
    """Locator and every feature. Keys are those of the shipped evaluation."""
    return {"locator": locator_table(photos), **feature_tables(found_carbs(photos))}


def feature_tables(found: Sequence[Found]) -> dict[str, Any]:
    """Every feature over the found carbs in whose view its answer lies.

    A bowl's side is asked only of carbs that were told left from right;
    `bowl_side_of_all_found` is its coverage without that condition.
    """
    placed = [f for f in found if f.carb.position]
    # Where truth has no box, position made the match: it cannot be checked by it.
    told = [f for f in placed if f.truth.position is not None and f.truth.box is not None]
    return {
        "flange_holes": feature_table(cases(found, "flange_holes", "in_view")),
        "hole_layout": feature_table(cases(found, "hole_layout", "in_view")),
        "flange_holes_answered_under_a_filter": answers(cases(_filtered(found), "flange_holes")),
        "bowl_side": feature_table(cases(placed, "bowl_side", "in_view")),
        "bowl_side_of_all_found": answers(cases(found, "bowl_side", "in_view")),
        "position": share(sum(f.truth.position == f.carb.position for f in told), len(told)),
        "chamber": feature_table(cases(found, "chamber", "in_view")),
        "filter_fitted": feature_table(cases(found, "filter_fitted", "in_view")),
        "mark": mark_table(found),
    }


def _filtered(found: Sequence[Found]) -> list[Found]:
    return [f for f in found if f.truth.values.get("filter_fitted") is True]
