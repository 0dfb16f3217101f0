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
    data = copy.deepcopy(DATA)
    for hits, words in ((1, "| none — missed |"), (0, "| none ✓ |")):
        data["path_traced"]["mark"]["flips (over 150 degrees)"]["hits"] = hits
        assert words in page(data)
