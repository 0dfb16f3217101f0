"""docs/evaluate.md: its examples are read and its tables complete."""

import json
import re
import tomllib
from pathlib import Path

from carbpair.evaluate.intervals import wilson
from carbpair.evaluate.truth_file import CarbEntry, folder_entries
from carbpair.evaluate.truth_folder import folder_truths

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs/evaluate.md"
TEXT = PAGE.read_text(encoding="utf-8")


def block(language: str) -> str:
    (found,) = re.findall(rf"^```{language}\n(.*?)^```", TEXT, flags=re.M | re.S)
    return str(found)


def test_the_examples_are_truth_files() -> None:
    entries = folder_entries(PAGE, json.loads(block("json")))
    assert [len(e.carbs) for e in entries.values()] == [2, 0]
    assert next(iter(folder_entries(PAGE, tomllib.loads(block("toml"))))) == next(iter(entries))


def test_the_table_names_every_key() -> None:
    named = set(re.findall(r"^\| `(\w+)` \|", TEXT, flags=re.M))
    assert named == set(CarbEntry.model_fields)


def test_the_warning_about_few_carbs_is_true() -> None:
    low, high = wilson(29, 30)
    assert "97 % has an interval from about 83 to 99 %" in TEXT
    assert (round(100 * low), round(100 * high)) == (83, 99)


def test_the_sample_pictures_have_truth() -> None:
    pictures = list((ROOT / "sample_images").glob("*.jpg"))
    assert len(folder_truths(ROOT / "sample_images")) == len(pictures) >= 12
