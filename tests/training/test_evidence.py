"""Frozen sets, what is kept of them, and the page that is written from it."""

from __future__ import annotations

import json
import pickle
import re
import shutil
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from models.training.evaluation import robustness as robust
from models.training.evaluation.answers_table import answers_table
from models.training.evaluation.corruption import KINDS
from models.training.evaluation.evidence import SETS, chosen, frozen, kept, labelled, read_scored
from models.training.evaluation.evidence_page import load_all, page, write
from models.training.scene import adversarial

from carbpair.evaluate.evaluation import result
from carbpair.settings import default_model_dir
from tests.evaluate.example import RIGHT, bearing, carb, photo, seen, true

ALL_SETS = json.loads(SETS.read_text())["sets"]


def test_the_frozen_lists_are_the_generators() -> None:
    assert frozen("adversarial")["kinds"] == list(adversarial.KINDS)
    first, last = frozen("adversarial")["seeds"]
    assert first == adversarial.FIRST_SEED
    assert max(adversarial.all_seeds()) < last
    assert frozen("corruption")["kinds"] == list(KINDS)
    ranges = [
        frozen(name)["seeds"]
        for name in (
            "unseen_style",
            "unseen_style_new",
            "unseen_style_second",
            "unseen_style_third",
        )
    ]
    assert all(high - low >= 2000 for low, high in ranges)
    ranges.sort()
    assert all(one[1] <= other[0] for one, other in pairwise(ranges))  # no scene is in two sets
    base = frozen("corruption")["seeds"]
    low, high = frozen(frozen("corruption")["of"])["seeds"]
    assert low <= base[0] < base[1] <= high
    with pytest.raises(KeyError):
        frozen("none")


def test_pictures_outside_the_set_are_left_out(tmp_path: Path) -> None:
    names = "0904999.jpg 0905000.jpg 0907199.png 0907200.jpg x.jpg 0905001.json"
    for name in names.split():
        (tmp_path / name).touch()
    assert [f.name for f in chosen(tmp_path, "unseen_style")] == ["0905000.jpg", "0907199.png"]
    assert len(chosen(tmp_path, "unseen_style", 1)) == 1
    assert len(chosen(tmp_path, "negative")) == 5
    with pytest.raises(SystemExit, match="no picture of the set adversarial"):
        chosen(tmp_path, "adversarial")


def test_kept_readings_are_the_same_pictures(packed: Path, tmp_path: Path) -> None:
    one = read_scored(packed / "0908200.jpg", default_model_dir())
    carbs = json.loads((packed / "0908200.json").read_text())["carbs"]
    row = {"file": "0908200.jpg", "truth": carbs, "size": (1200, 800), "inspection": one.inspection}
    file = tmp_path / "kept.pkl"
    file.write_bytes(pickle.dumps([row, row | {"file": "0700000.jpg"}]))
    (again,) = kept([file], "unseen_style_second")
    assert again.truth == one.truth
    assert again.matched == one.matched
    with pytest.raises(SystemExit, match="no picture of the set adversarial"):
        kept([file], "adversarial")


def test_labels() -> None:
    one = photo([true()], [carb()], file="0911300.jpg")
    assert labelled([one], "adversarial")[0].truth.group == "mark_near_180"
    two = photo([true()], [carb()], file="9300012.jpg")
    assert labelled([two], "pair_views")[0].truth.pair == "930001"
    assert labelled([two], "unseen_style") == [two]


def test_every_answer_counts_and_silence_is_allowed() -> None:
    photos = [
        photo([true(flange_holes=2)], [carb(flange_holes=seen(2))]),
        photo([true(flange_holes=2, hidden=("flange_holes",))], [carb(flange_holes=seen(4))]),
        photo([true(position=None)], [carb(position=None, bowl_side=seen("inboard"))]),
        photo([true(mark_bearing_deg=178.0)], [carb(mark_bearing_deg=bearing(-175.0))]),
        photo([true(mark_bearing_deg=178.0)], [carb(mark_bearing_deg=bearing(-2.0))]),
        photo([true(chamber="piston")], [carb()]),
        photo([true(RIGHT, "right")], [carb()]),
    ]
    table = answers_table(photos)["all"]
    assert (table["found"]["hits"], table["found"]["n"]) == (6, 7)
    assert (table["right_or_silent"]["hits"], table["right_or_silent"]["n"]) == (3, 6)
    wrong = {k: (v["hits"], v["n"]) for k, v in table["wrong"].items()}
    assert wrong["flange_holes"] == (1, 2)
    assert wrong["bowl_side"] == (1, 1)
    assert wrong["mark_bearing_deg"] == (1, 2)
    assert table["silent"]["chamber"]["hits"] == 6
    assert table["boxes_without_a_carb"] == 1


def test_corruptions_are_scored_with_their_own_truth(
    packed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(robust, "KINDS", {k: KINDS[k] for k in ("low_resolution", "dark")})
    rows = robust.read_corrupted(packed / "0908200.jpg", default_model_dir(), (1,))
    assert set(rows) == {("clean", 0), ("low_resolution", 1), ("dark", 1)}
    table = robust.short_table([rows["clean", 0]])
    assert (table["found"]["hits"], table["found"]["n"]) == (2, 2)
    small = rows["low_resolution", 1]
    assert small.inspection.width == 720
    clean_box, small_box = rows["clean", 0].truth.carbs[0].box, small.truth.carbs[0].box
    assert small_box == pytest.approx([0.6 * v for v in clean_box], abs=0.5)
    assert robust.short_table([small])["found"]["hits"] == 2


def evidence(folder: Path, packed: Path) -> None:
    shutil.copy(SETS, folder)
    made: dict[str, Any] = {}
    one = read_scored(packed / "0908200.jpg", default_model_dir())
    for name in ("unseen_style", "adversarial", "negative", "pair_views"):
        file = {"adversarial": "0911000.jpg", "pair_views": "9300000.jpg"}.get(name, "0908200.jpg")
        photos = [photo([], [], file="aerial_3a8cfb0b.jpg")]
        if name != "negative":
            photos = [photo(list(one.truth.carbs), list(one.inspection.carbs), file=file)]
        photos = labelled(photos, name)
        made[name] = result(photos, default_model_dir(), f"{name}, 1 picture", [])
        made[name] |= {"answers": answers_table(photos), "set": {"name": name, **frozen(name)}}
    made["benchmark"] = {"title": "Speed", "tables": [{"head": ["a", "b"], "rows": [[1, "x"]]}]}
    for name, data in made.items():
        (folder / f"{name}.json").write_text(json.dumps(data))


def test_the_page_has_every_set_and_says_what_is_missing(packed: Path, tmp_path: Path) -> None:
    source = tmp_path / "evidence"
    source.mkdir()
    evidence(source, packed)
    assert write(source, tmp_path / "EVIDENCE.md") == 5
    text = (tmp_path / "EVIDENCE.md").read_text()
    for title in ("Aims", "Unseen styles", "Pairs solved", "without a carb", "mislead", "Speed"):
        assert title in text
    assert "second_renderer" in text
    # three further sets of renders, the second renderer and corruptions
    assert text.count("not scored") == 5
    assert "| 1 | x |" in text
    for line in text.splitlines():
        if line.startswith("!["):
            assert (tmp_path / line.split("(")[1].rstrip(")")).is_file(), line
    assert not re.search(r"\bnan\b|None", text)


def test_no_result_is_a_page_too(tmp_path: Path) -> None:
    assert load_all(tmp_path) == {}
    text = page({}, ALL_SETS, {})
    assert text.count("not scored") == len(ALL_SETS)
    assert "## Aims" not in text


def test_the_page_says_what_is_outdated(packed: Path, tmp_path: Path) -> None:
    source = tmp_path / "evidence"
    source.mkdir()
    evidence(source, packed)
    write(source, tmp_path / "EVIDENCE.md")
    assert "earlier" not in (tmp_path / "EVIDENCE.md").read_text().split("## Aims")[0]
    file = source / "adversarial.json"
    old = json.loads(file.read_text())
    old["set"]["seeds"] = [1, 2]
    old["models"][0]["sha256"] = "0"
    old["calibration"] = {"mark_threshold": 0.5}
    file.write_text(json.dumps(old))
    write(source, tmp_path / "EVIDENCE.md")
    text = (tmp_path / "EVIDENCE.md").read_text()
    words = "1 pictures, of an earlier list, read by earlier networks, judged by other limits"
    assert text.count(words) == 1
