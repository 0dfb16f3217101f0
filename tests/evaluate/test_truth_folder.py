"""Which truth belongs to which photo, and what is said when something is missing."""

import json
import shutil
from pathlib import Path

import pytest

from carbpair.evaluate.error import TruthError
from carbpair.evaluate.truth_folder import folder_truths

SAMPLES = Path(__file__).parents[2] / "sample_images"
SIZE = (3000, 2000)


def put(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"a photo, which is not opened here")


def write(path: Path, data: object) -> None:
    path.write_text(json.dumps(data))


def test_one_file_for_the_folder(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg", "day two/b.png")
    carbs = [{"position": "left", "flange_holes": 4}]
    write(
        tmp_path / "truth.json",
        {"photos": {"a.jpg": {"carbs": carbs}, "day two/b.png": {"carbs": []}}},
    )
    truths = folder_truths(tmp_path)
    assert [p.name for p in truths] == ["a.jpg", "b.png"]
    first, second = (t(SIZE) for t in truths.values())
    assert first.carbs[0].values == {"flange_holes": 4}
    assert second.carbs == ()
    assert second.file == "day two/b.png"


def test_a_file_beside_each_photo_of_any_kind(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg", "b.heic", "c.jpg", "d.jpg")
    write(tmp_path / "a.json", {"carbs": [{"chamber": "piston"}]})
    (tmp_path / "b.toml").write_text("carbs = []\n")
    shutil.copy(SAMPLES / "mixed-pair.truth.json", tmp_path / "c.truth.json")
    write(tmp_path / "d.json", {"seed": 3, "carbs": []})
    a, b, c, d = (t(SIZE) for t in folder_truths(tmp_path).values())
    assert a.carbs[0].values == {"chamber": "piston"}
    assert b.carbs == d.carbs == ()
    assert len(c.carbs) == 2


def test_photos_without_truth_are_named(tmp_path: Path) -> None:
    put(tmp_path, *(f"{k}.jpg" for k in range(5)))
    with pytest.raises(TruthError, match="holds no truth"):
        folder_truths(tmp_path)
    write(tmp_path / "1.json", {"carbs": []})
    with pytest.raises(
        TruthError, match=r"4 of 5 photos have no truth: 0.jpg, 2.jpg, 3.jpg, …"
    ) as e:
        folder_truths(tmp_path)
    assert "--only-with-truth" in e.value.remedy
    assert [p.name for p in folder_truths(tmp_path, only_with_truth=True)] == ["1.jpg"]


def test_truth_for_a_photo_that_is_not_there(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg")
    write(tmp_path / "truth.json", {"photos": {"A.jpg": {"carbs": []}}})
    with pytest.raises(TruthError, match=r"A.jpg: no such photo.*capitals count"):
        folder_truths(tmp_path)


def test_two_truths_for_one_photo(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg")
    write(tmp_path / "truth.json", {"photos": {"a.jpg": {"carbs": []}}})
    write(tmp_path / "a.json", {"carbs": []})
    with pytest.raises(TruthError, match="more than one truth"):
        folder_truths(tmp_path)
    (tmp_path / "truth.toml").write_text("")
    with pytest.raises(TruthError, match="Keep one of them"):
        folder_truths(tmp_path)


def test_no_folder_and_no_photos(tmp_path: Path) -> None:
    with pytest.raises(TruthError, match="is not a folder"):
        folder_truths(tmp_path / "x")
    with pytest.raises(TruthError, match="no JPEG"):
        folder_truths(tmp_path)


def test_a_damaged_render_truth(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg")
    data = json.loads((SAMPLES / "mixed-pair.truth.json").read_text())
    del data["carbs"][0]["seen"]
    write(tmp_path / "a.json", data)
    with pytest.raises(TruthError, match="packed render"):
        folder_truths(tmp_path)[tmp_path / "a.jpg"](SIZE)


def coco(tmp_path: Path, *annotations: dict) -> None:
    put(tmp_path, "images/000001.jpg", "images/000002.jpg")
    names = ("carburettor", "bolt_hole", "missed")
    write(
        tmp_path / "annotations.json",
        {
            "images": [
                {"id": 1, "file_name": "000001.jpg", "width": 400, "height": 300},
                {"id": 2, "file_name": "000002.jpg", "width": 400, "height": 300},
            ],
            "annotations": list(annotations),
            "categories": [{"id": k, "name": n} for k, n in enumerate(names, 1)],
        },
    )


def test_corrections_as_coco(tmp_path: Path) -> None:
    coco(
        tmp_path,
        {"image_id": 1, "category_id": 1, "bbox": [10, 20, 100, 50],
         "attributes": {"position": "left", "flange_holes": 3, "chamber": None, "mark_bearing_deg": 30.0}},  # noqa: E501
        {"image_id": 1, "category_id": 2, "bbox": [1, 1, 0, 0],
         "attributes": {"position": "left", "flange_holes": 3}},
        {"image_id": 1, "category_id": 3, "bbox": [200, 20, 90, 50],
         "attributes": {"position": "right", "filter_fitted": True}},
    )  # fmt: skip
    truths = folder_truths(tmp_path)
    assert [p.name for p in truths] == ["000001.jpg"]  # the other has no correction
    left, right = truths[tmp_path / "images/000001.jpg"](SIZE).carbs
    assert left.box == (10.0, 20.0, 110.0, 70.0)
    assert left.values == {"flange_holes": 3, "mark_bearing_deg": 30.0, "mark_verdict": "turned"}
    assert left.hidden == {"chamber"}
    assert left.size == pytest.approx(0.68 * 100 / 400)
    assert (right.box, right.values) == (None, {"filter_fitted": True})
    assert "flange_holes" in right.hidden


def test_coco_without_what_is_needed(tmp_path: Path) -> None:
    coco(tmp_path)
    with pytest.raises(TruthError, match="no corrected carb"):
        folder_truths(tmp_path)
    coco(
        tmp_path,
        {"image_id": 9, "category_id": 1, "bbox": [1, 2, 3, 4], "attributes": {"position": "left"}},
    )
    with pytest.raises(TruthError, match="Export the corrections again"):
        folder_truths(tmp_path)
    coco(
        tmp_path,
        {"image_id": 1, "category_id": 1, "bbox": [1, 2, 3, 4], "attributes": {"position": "left"}},
    )
    (tmp_path / "images/000001.jpg").unlink()
    with pytest.raises(TruthError, match=r"Keep annotations\.json and images/ together"):
        folder_truths(tmp_path)
