"""Which pictures a measurement reads."""

from pathlib import Path

import pytest
from models.training.evaluation.packed import packed_parser, packed_pictures


@pytest.mark.parametrize(("limit", "names"), [([], ["1.jpg", "3.jpg"]), (["1"], ["1.jpg"])])
def test_pictures_with_a_truth_in_order(tmp_path: Path, limit: list[str], names: list[str]) -> None:
    for name in ("3.jpg", "3.json", "2.jpg", "1.jpg", "1.json", "4.json"):
        (tmp_path / name).touch()
    options = ["--pictures", str(tmp_path), *(["--limit", *limit] if limit else [])]
    a = packed_parser("text").parse_args(options)
    assert [f.name for f in packed_pictures(a)] == names
