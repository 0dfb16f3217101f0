from pathlib import Path

import pytest

from carbpair.photo_files import expand_photos


def test_folders_are_searched_in_order_and_files_kept(tmp_path: Path) -> None:
    for name in ("b.JPG", "a.heic", "notes.txt", "deep/c.png", ".thumbs/d.jpg"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    given = [tmp_path / "odd.name", tmp_path, tmp_path / "b.JPG"]
    found = expand_photos(given)
    assert found == [tmp_path / n for n in ("odd.name", "a.heic", "b.JPG", "deep/c.png")]


def test_a_folder_without_photos_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="holds no JPEG"):
        expand_photos([tmp_path])
