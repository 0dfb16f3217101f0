"""docs/inspection.md and its JSON Schema say what the program prints."""

import json
from pathlib import Path
from typing import Any, get_args

import cv2
import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from carbpair.feature_text import REASON_WORDS
from carbpair.inspection import inspect_photos
from carbpair.pair import NAMES
from carbpair.photo.errors import ErrorKind
from carbpair.photo.quality import Kind
from tests.inspection_example import inspection

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs/inspection.schema.json").read_text(encoding="utf-8"))
PAGE = (ROOT / "docs/inspection.md").read_text(encoding="utf-8")
CHECK = Draft202012Validator(SCHEMA)


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """A good photo, a mirror image, one without carbs and a broken file."""
    folder = tmp_path_factory.mktemp("photos")
    sample = ROOT / "sample_images/mixed-pair.jpg"
    picture = cv2.resize(cv2.imread(str(sample))[..., ::-1], (1200, 800))
    exif = Image.Exif()
    exif[0x0112] = 2
    Image.fromarray(picture[:, ::-1]).save(folder / "mirror.jpg", exif=exif)
    Image.fromarray(np.full((400, 600, 3), 90, np.uint8)).save(folder / "grey.png")
    (folder / "cut.jpg").write_bytes(sample.read_bytes()[:90_000])
    files = [sample, *(folder / n for n in ("mirror.jpg", "grey.png", "cut.jpg", "gone.jpg"))]
    return inspect_photos(files).to_json()


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(SCHEMA)


def test_what_is_printed_fits_the_schema(real: dict[str, Any]) -> None:
    printed = json.loads(json.dumps(real))
    assert [e.message for e in CHECK.iter_errors(printed)] == []
    assert [len(p["carbs"]) for p in printed["photos"]] == [2, 2, 0, 0, 0]
    assert [p["error"] and p["error"]["kind"] for p in printed["photos"]] == [
        None, None, None, "truncated", "not_found",
    ]  # fmt: skip


def test_the_example_of_the_tests_fits_the_schema() -> None:
    assert [e.message for e in CHECK.iter_errors(inspection())] == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("status",), "perhaps"),
        (("value",), None),
        (("value",), 5),
        (("reason",), "too_small"),
        (("probability",), 1.2),
    ],
)
def test_the_schema_refuses_what_is_not_allowed(path: tuple[str, ...], value: object) -> None:
    report = inspection()
    report["photos"][0]["carbs"][0]["features"]["flange_holes"][path[0]] = value
    assert list(CHECK.iter_errors(report))


def test_the_schema_knows_every_kind() -> None:
    photo = SCHEMA["$defs"]["photo"]["properties"]
    kinds = photo["error"]["anyOf"][1]["properties"]["kind"]["enum"]
    assert kinds == list(get_args(ErrorKind))
    finding = photo["quality"]["anyOf"][1]["properties"]["findings"]["items"]["properties"]
    assert finding["kind"]["enum"] == list(get_args(Kind))
    features = SCHEMA["$defs"]["features"]
    assert set(features["properties"]) == set(NAMES)
    # Inspections that were kept before this feature came are inspections still.
    assert set(NAMES) - set(features["required"]) == {"hole_layout"}


def test_the_page_names_everything(real: dict[str, Any]) -> None:
    words = {*REASON_WORDS, *NAMES, *get_args(ErrorKind), *get_args(Kind), *SCHEMA["properties"]}
    for name in ("photo", "carb", "pair", "feature"):
        words |= set(SCHEMA["$defs"][name]["properties"])
    words |= set(real["photos"][1]["notes"])
    words |= set(SCHEMA["$defs"]["carb"]["properties"]["evidence"]["properties"])
    assert {w for w in words if f"`{w}`" not in PAGE} == set()
