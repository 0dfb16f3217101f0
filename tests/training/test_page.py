"""The page of the readers' figures is the one that its numbers give."""

import copy
import json
from pathlib import Path

from models.training.evaluation.page import page

MODELS = Path(__file__).parents[2] / "models"
DATA = json.loads((MODELS / "evaluation.json").read_text(encoding="utf-8"))


def test_the_shipped_page_is_written_from_the_shipped_numbers() -> None:
    assert (MODELS / "EVALUATION.md").read_text(encoding="utf-8") == page(DATA)


def test_one_mark_turned_round_misses_the_target_none_meets_it() -> None:
    data = {k: v for k, v in copy.deepcopy(DATA).items() if k != "new"}
    for hits, words in ((1, "| none — missed |"), (0, "| none ✓ |")):
        data["path_traced"]["mark"]["flips (over 150 degrees)"]["hits"] = hits
        assert words in page(data)


def test_a_target_is_met_only_if_the_new_set_meets_it_too() -> None:
    data = copy.deepcopy(DATA)
    line = "hole count answered, of flanges with all holes in view"
    for share, words in ((0.84, "missed"), (0.86, "✓")):
        data["new"] = copy.deepcopy(data["path_traced"]) | {"source": "ten renders"}
        data["new"]["pictures"] = 10
        data["new"]["flange_holes"]["coverage"]["share"] = share
        (row,) = (x for x in page(data).splitlines() if line in x)
        assert words in row
    assert "New: ten renders (10 pictures)." in page(data)
