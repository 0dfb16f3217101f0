"""Corrections as COCO; the format's own rules are checked by reading it as a COCO reader does."""

import json
from pathlib import Path

import pytest
from PIL import Image

from carbpair.cases import analysis, case, case_files, correction, photo
from carbpair.cases.coco_export import export_corrections
from carbpair.cases.workspace import Workspace
from tests.cases.pictures import clean
from tests.http.recorded import inspection


def _corrected_case(workspace: Workspace, *, consent: bool) -> str:
    with workspace.database.write() as connection:
        made = case.create(connection, "ann", "Mill Lane", consent_learning=consent)
    added = case_files.add_photo(workspace, "ann", made.id, clean(1))
    with workspace.database.write() as connection:
        waiting = analysis.latest(connection, made.id)
        assert waiting is not None
        analysis.finish(connection, waiting.id, inspection([added.file_name]))
        correction.make(
            connection, "ann", made.id, position="left", feature="flange_holes", value=2,
            photo_id=added.id, drawing={"kind": "hole", "points": [[60, 70], [90, 70]]},
            note="Mill Lane",
        )  # fmt: skip
    return made.id


def test_only_consented_cases_go_out_and_nothing_personal(
    workspace: Workspace, tmp_path: Path
) -> None:
    _corrected_case(workspace, consent=True)
    _corrected_case(workspace, consent=False)
    assert export_corrections(workspace, tmp_path / "out") == (1, 3)
    text = (tmp_path / "out/annotations.json").read_text()
    assert "Mill Lane" not in text
    data = json.loads(text)
    categories = {one["id"]: one["name"] for one in data["categories"]}
    images = {one["id"]: one for one in data["images"]}
    assert len({one["id"] for one in data["annotations"]}) == 3
    for one in data["annotations"]:
        image = images[one["image_id"]]
        x, y, width, height = one["bbox"]
        assert 0 <= x <= x + width <= image["width"]
        assert 0 <= y <= y + height <= image["height"]
    holes = [one for one in data["annotations"] if categories[one["category_id"]] == "bolt_hole"]
    assert [one["keypoints"] for one in holes] == [[60, 70, 2], [90, 70, 2]]
    with Image.open(tmp_path / "out/images" / data["images"][0]["file_name"]) as opened:
        assert opened.size == (data["images"][0]["width"], data["images"][0]["height"])


def test_drawn_carburettor_goes_out_once_with_its_box_and_what_was_corrected(
    workspace: Workspace, tmp_path: Path
) -> None:
    case_id = _corrected_case(workspace, consent=True)
    with workspace.database.write() as connection:
        (added,) = photo.of_case(connection, case_id)
        case_files.correct(
            workspace, connection, "ann", case_id, position="left", feature="carb", value=True,
            photo_id=added.id, drawing={"kind": "box", "box": [5, 6, 155, 206]},
        )  # fmt: skip
    export_corrections(workspace, tmp_path / "out")
    data = json.loads((tmp_path / "out/annotations.json").read_text())
    names = {one["id"]: one["name"] for one in data["categories"]}
    (carb,) = [one for one in data["annotations"] if names[one["category_id"]] == "carburettor"]
    assert carb["bbox"] == [5, 6, 150, 200]
    assert carb["attributes"] == {"position": "left", "flange_holes": 2}
    assert [names[one["category_id"]] for one in data["annotations"]].count("missed") == 0


def test_folder_with_something_in_it_is_left_alone(workspace: Workspace, tmp_path: Path) -> None:
    (tmp_path / "x").write_text("mine")
    with pytest.raises(FileExistsError, match="not empty"):
        export_corrections(workspace, tmp_path)
