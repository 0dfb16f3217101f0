"""The truth file: what is read, and what is refused with which words."""

import json
from pathlib import Path
from typing import Any

import pytest

from carbpair.evaluate.error import TruthError
from carbpair.evaluate.truth_file import entry_truth, folder_entries, load, photo_entry

FILE = Path("truth.json")


def one(**carb: Any) -> Any:
    entry = photo_entry(FILE, {"carbs": [carb]})
    return entry_truth(FILE, "a.jpg", entry, (1000, 800)).carbs[0]


def test_values_are_in_view_unless_hidden() -> None:
    carb = one(position="left", flange_holes=3, chamber="piston", hidden=["chamber"])
    assert carb.values == {"flange_holes": 3, "chamber": "piston"}
    assert carb.in_view == {"flange_holes"}
    assert carb.hidden == {"chamber"}
    assert carb.present


def test_a_fitted_filter_hides_the_holes() -> None:
    carb = one(filter_fitted=True, flange_holes=2)
    assert carb.in_view == {"filter_fitted"}
    assert "flange_holes" in carb.hidden


@pytest.mark.parametrize(("bearing", "verdict"), [(15.0, "faces_intake"), (-16, "turned")])
def test_the_verdict_follows_from_the_bearing(bearing: float, verdict: str) -> None:
    carb = one(mark_bearing_deg=bearing)
    assert carb.values["mark_verdict"] == verdict
    assert {"mark_bearing_deg", "mark_verdict"} <= carb.in_view
    assert "mark_verdict" in one(mark_bearing_deg=bearing, hidden=["mark_bearing_deg"]).hidden


def test_boxes_are_cut_to_the_photo_and_give_the_size() -> None:
    carb = one(box=[-50, 100, 450, 900])
    assert carb.box == (0.0, 100.0, 450.0, 800.0)
    assert carb.size == pytest.approx(0.68 * 500 / 1000)
    assert one(box=[0, 0, 100, 100], dashpot_px=80).size == 0.08
    assert one().size is None


def test_json_and_toml_say_the_same(tmp_path: Path) -> None:
    data = {"photos": {"a.jpg": {"pair": "7", "carbs": [{"position": "left", "flange_holes": 2}]}}}
    (tmp_path / "t.json").write_text(json.dumps(data))
    (tmp_path / "t.toml").write_text(
        '[photos."a.jpg"]\npair = "7"\n[[photos."a.jpg".carbs]]\n'
        'position = "left"\nflange_holes = 2\n'
    )
    entries = [folder_entries(p, load(p)) for p in (tmp_path / "t.json", tmp_path / "t.toml")]
    assert entries[0] == entries[1]
    assert entries[0]["a.jpg"].carbs[0].flange_holes == 2


@pytest.mark.parametrize(
    ("carb", "words"),
    [
        ({"flange_holes": 5}, "carbs → 0 → flange_holes"),
        ({"holes": 2}, "carbs → 0 → holes"),
        ({"bowl_side": "left"}, "bowl_side"),
        ({"mark_bearing_deg": 190}, "mark_bearing_deg"),
        ({"mark_bearing_deg": float("nan")}, "mark_bearing_deg"),
        ({"filter_fitted": "no"}, "filter_fitted"),
        ({"box": [0.1, 0.2, 0.5, 0.9]}, "pixels"),
        ({"box": [50, 50, 20, 90]}, "x0 < x1"),
        ({"box": [1, 2, 3]}, "box"),
        ({"mark_bearing_deg": 3, "mark_verdict": "turned"}, "contradicts"),
        ({"hidden": ["holes"]}, "hidden"),
    ],
)
def test_what_is_wrong_is_named(carb: dict[str, Any], words: str) -> None:
    with pytest.raises(TruthError) as caught:
        photo_entry(FILE, {"carbs": [carb]})
    message = str(caught.value)
    assert message.startswith("truth.json: ")
    assert words in message
    assert "docs/evaluate.md" in message


def test_carbs_must_be_told_apart() -> None:
    with pytest.raises(TruthError, match="same position"):
        photo_entry(FILE, {"carbs": [{"position": "left"}, {"position": "left"}]})
    with pytest.raises(TruthError, match="needs a box or a position"):
        photo_entry(FILE, {"carbs": [{"position": "left"}, {}]})


def test_a_box_outside_the_photo_names_photo_and_carb() -> None:
    with pytest.raises(TruthError, match=r"a.jpg → carbs → 0 → box.*1000 × 800"):
        one(box=[2000, 10, 2100, 90])


def test_files_that_are_not_text_or_not_json(tmp_path: Path) -> None:
    broken = tmp_path / "truth.json"
    broken.write_text('{"photos": \n{,}}')
    with pytest.raises(TruthError, match=r"not valid JSON.*line 2"):
        load(broken)
    broken.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TruthError, match="UTF-8"):
        load(broken)
    other = tmp_path / "truth.toml"
    other.write_text("photos = [")
    with pytest.raises(TruthError, match="not valid TOML"):
        load(other)
    with pytest.raises(TruthError, match="cannot be read"):
        load(tmp_path / "none.json")
    with pytest.raises(TruthError, match="schema"):
        folder_entries(FILE, {"schema": "carbpair/truth/9", "photos": {}})
