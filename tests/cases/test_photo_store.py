from pathlib import Path

import pytest

from carbpair.cases.error import NotFoundError
from carbpair.cases.object_photo_store import ObjectPhotoStore
from carbpair.cases.photo_store import DiskPhotoStore, PhotoStore


@pytest.fixture(params=["disk", "object"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> PhotoStore:
    if request.param == "disk":
        return DiskPhotoStore(tmp_path / "photos")
    obstore = pytest.importorskip("obstore")
    return ObjectPhotoStore(obstore.store.MemoryStore())


def test_round_trip_and_overwrite(store: PhotoStore) -> None:
    store.put("cases/abc/one.jpg", b"first")
    store.put("cases/abc/one.jpg", b"second")
    assert store.get("cases/abc/one.jpg") == b"second"


def test_delete_is_final_and_repeatable(store: PhotoStore) -> None:
    store.put("cases/abc/one.jpg", b"x")
    store.delete("cases/abc/one.jpg")
    store.delete("cases/abc/one.jpg")
    with pytest.raises(NotFoundError):
        store.get("cases/abc/one.jpg")
    assert list(store.keys()) == []


def test_keys_by_prefix(store: PhotoStore) -> None:
    for key in ("cases/a/1.jpg", "cases/a/2.jpg", "cases/b/1.jpg", "one-shot/a/1"):
        store.put(key, b"x")
    assert sorted(store.keys("cases/a")) == ["cases/a/1.jpg", "cases/a/2.jpg"]
    assert len(list(store.keys())) == 4


@pytest.mark.parametrize(
    "key", ["../x.jpg", "/etc/passwd", "a/../../b", "a//b", "", "A.jpg", "a\x00b", "a/.part-x"]
)
def test_keys_that_could_leave_the_store_are_refused(store: PhotoStore, key: str) -> None:
    for call in (lambda: store.put(key, b"x"), lambda: store.get(key), lambda: store.delete(key)):
        with pytest.raises(ValueError, match="store key"):
            call()


def test_files_on_disk_are_private_and_empty_folders_go(tmp_path: Path) -> None:
    store = DiskPhotoStore(tmp_path / "photos")
    store.put("cases/abc/one.jpg", b"x")
    assert (tmp_path / "photos/cases/abc/one.jpg").stat().st_mode & 0o077 == 0
    store.delete("cases/abc/one.jpg")
    assert list((tmp_path / "photos").iterdir()) == []
