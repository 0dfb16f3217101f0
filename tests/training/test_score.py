"""From kept readings of several photos to the figures that the identification uses."""

from __future__ import annotations

import json
import pickle
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from models.training.evaluation import score
from models.training.photo_mix import PHOTO_MIX, measure_mix, mix_lines
from models.training.rate import Rate

from carbpair.identify import demo_catalogue
from carbpair.identify.confusion_file import load_confusion
from carbpair.identify.simulation import calibrate
from tests.pair.readings import bearing, carb, choice, hidden, holes
from tests.training.test_confusion import view

UNSURE_HOLES = choice(None, n2=0.15, n3=0.8, n4=0.05)


def shots(pair: int) -> list[dict[str, Any]]:
    """Three photos of a pair: holes unsure, hidden and read; the mark shows in the third."""
    blind = {"mark_bearing_deg": hidden("mark_not_in_view")}
    readings = [
        carb(flange_holes=UNSURE_HOLES, **blind),
        carb(flange_holes=hidden("edge_on"), **blind),
        carb(flange_holes=holes(3, 0.995), mark_bearing_deg=bearing(2.0, p=0.98)),
    ]
    rows = []
    for number, read in enumerate(readings):
        row = view(f"{9_300_000 + 10 * pair + number}.jpg", read, read)
        # Shots of their own: a fingerprint that is near another's would count once.
        mark = int(np.random.default_rng([pair, number]).integers(2**63))
        rows.append({**row, "inspection": replace(row["inspection"], fingerprint=mark)})
    return rows


@pytest.fixture
def scored(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A confusion file made by the command, of 12 pairs; the last one lacks its third photo."""
    rows = [row for pair in range(12) for row in shots(pair)]
    (tmp_path / "pairs.pkl").write_bytes(pickle.dumps(rows[:-1]))
    (tmp_path / "ev.pkl").write_bytes(pickle.dumps(rows[::3]))
    # The tables of single readings have tests of their own.
    monkeypatch.setattr(score, "scored_rows", lambda rows: [SimpleNamespace()] * len(rows))
    monkeypatch.setattr(score, "all_tables", lambda rows: {})
    monkeypatch.setattr(score, "without_curves", dict)
    target = tmp_path / "confusion.json"
    arguments = {
        "readings": tmp_path / "ev.pkl",
        "pair-views": tmp_path / "pairs.pkl",
        "pair-views-source": "by hand",
        "confusion": target,
        "out": tmp_path / "evaluation.json",
    }
    words = [word for key, value in arguments.items() for word in (f"--{key}", str(value))]
    monkeypatch.setattr(sys, "argv", ["score", *words])
    score.main()
    return target


def test_the_command_counts_two_photos_and_three(scored: Path) -> None:
    two, three = json.loads(scored.read_text())["several_photos"]
    assert (two["photos"], three["photos"]) == (2, 3)
    assert two["source"] == "by hand: 2 photos each of 12 of 12 pairs"
    assert three["source"] == "by hand: 3 photos each of 11 of 12 pairs"
    # Two photos leave the holes unsure and hide the mark; the third shows both.
    assert two["features"]["flange_holes"]["counts"][1] == [0, 0, 0, 24, 0]
    assert three["features"]["flange_holes"]["counts"][1] == [0, 22, 0, 0, 0]
    assert two["features"]["mark_bearing_deg"]["n"] == 0
    assert three["features"]["mark_bearing_deg"]["n"] == 22


def test_further_pictures_count_in_the_confusion_alone(
    scored: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def holes_read() -> list[int]:
        return json.loads(scored.read_text())["features"]["flange_holes"]["counts"][1]

    once = holes_read()
    more = ["--confusion-more", str(scored.parent / "ev.pkl"), "--confusion-source", "both"]
    monkeypatch.setattr(sys, "argv", [*sys.argv, *more])
    score.main()
    assert once == [0, 0, 0, 12, 0]  # the first shots leave the holes unsure
    assert holes_read() == [2 * n for n in once]
    assert json.loads(scored.read_text())["source"] == "both"
    assert json.loads((scored.parent / "evaluation.json").read_text())["pictures"] == 12


def test_the_simulation_uses_what_several_photos_say(scored: Path) -> None:
    confusion, catalogue = load_confusion(scored), demo_catalogue()
    assert [tier.photos for tier in confusion.tiers] == [1, 2, 3]
    calibration = calibrate(catalogue, confusion, cases=40, per_class=10)
    assert [calibration.for_photos(n).photos for n in (1, 2, 3, 4)] == [1, 2, 3, 3]
    # Whatever 40 cases allow: here it matters which figures are used.
    calibration = replace(calibration, answer_threshold=0.8, other_limit=1.0)
    calibration = replace(
        calibration, several=replace(calibration.for_photos(2), answer_threshold=1.0, several=None)
    )
    mix = measure_mix(catalogue, confusion, calibration, 200, 3)
    assert mix["measured_photos"] == [1, 2, 3]
    counts = {key: rates["coverage"]["n"] for key, rates in mix["by_photos"].items()}
    assert sum(counts.values()) == mix["all"]["coverage"]["n"] <= 200
    assert counts["1"] > counts["2"]
    answered = {key: rates["top1"]["n"] for key, rates in mix["by_photos"].items()}
    # More than 0.99 is never said of photos alone, so a threshold of 1 names nothing.
    assert answered["1"] > 0 == answered["2"] == answered["3"]
    text = "\n".join(mix_lines(mix, 0.85, 0.98, 0.99))
    assert "of which 50% one photo, 25% 2 photos, 25% 3 photos" in text
    assert "measured on 1 and 2 and 3 photos" in text
    assert text.rstrip().endswith("**not met**.")


def test_the_mix_is_a_whole() -> None:
    assert sum(PHOTO_MIX.values()) == pytest.approx(1.0)


def test_a_share_of_nothing_is_unknown() -> None:
    assert str(Rate(0, 0)) == "none (n = 0)"
    assert Rate(0, 0).interval == (0.0, 1.0)
    # Clopper and Pearson's interval for none of n: up to 1 − 0.025^(1/n).
    assert Rate(0, 10).interval == pytest.approx((0.0, 1 - 0.025**0.1))
