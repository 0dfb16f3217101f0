"""What `carbpair export` writes is read back: both ends of the format in one test."""

import json
from pathlib import Path

import pytest

from carbpair.cases import analysis, case, case_files, correction
from carbpair.cases.coco_export import export_corrections
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import open_workspace
from carbpair.evaluate.truth_folder import folder_truths
from tests.cases.pictures import clean
from tests.http.recorded import inspection


@pytest.fixture
def exported(tmp_path: Path) -> Path:
    settings = ServiceSettings(data_dir=tmp_path / "data")
    workspace = open_workspace(settings)
    try:
        with workspace.database.write() as connection:
            made = case.create(connection, "ann", "A car", consent_learning=True)
        added = case_files.add_photo(workspace, "ann", made.id, clean(1))
        with workspace.database.write() as connection:
            waiting = analysis.latest(connection, made.id)
            assert waiting is not None
            analysis.finish(connection, waiting.id, inspection([added.file_name]))
            for feature, value in (("flange_holes", 2), ("chamber", "piston")):
                correction.make(
                    connection, "ann", made.id, position="left", feature=feature, value=value
                )
        export_corrections(workspace, tmp_path / "out")
    finally:
        workspace.close()
    return tmp_path / "out"


def test_an_export_is_truth(exported: Path) -> None:
    (truth,) = [t((400, 300)) for t in folder_truths(exported).values()]
    (carb,) = truth.carbs
    assert carb.position == "left"
    assert carb.values == {"flange_holes": 2, "chamber": "piston"}
    notes = json.loads((exported / "annotations.json").read_text())["annotations"]
    x, y, w, h = next(n["bbox"] for n in notes if n["category_id"] == 1)
    assert carb.box == pytest.approx((x, y, x + w, y + h))
