from collections.abc import Iterator
from pathlib import Path
from threading import Event

import obstore
import pytest

from carbpair.cases import case, case_files, task
from carbpair.cases.error import NotFoundError
from carbpair.cases.object_photo_store import ObjectPhotoStore
from carbpair.cases.photo_intake import clean_photo
from carbpair.cases.photo_store import DiskPhotoStore, PhotoStore
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.source_photo import SourcePhoto
from carbpair.cases.task import giver_up, performer
from carbpair.cases.workspace import open_workspace
from tests.cases.pictures import jpeg
from tests.cases.s3_server import objects, s3_url
from tests.http.recorded import inspection


@pytest.fixture(params=["disk", "object", "s3"])
def store(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[PhotoStore]:
    if request.param == "disk":
        yield DiskPhotoStore(tmp_path / "photos")
    elif request.param == "object":
        yield ObjectPhotoStore(obstore.store.MemoryStore())
    else:
        with s3_url(monkeypatch) as url:
            yield ObjectPhotoStore.from_url(url)


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


def test_case_on_s3_is_analysed_and_deleted_for_good(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole way of a photo with the setting that an installation would use."""
    given: list[bytes] = []

    def analyse(sources: list[SourcePhoto], *_: object) -> dict[str, object]:
        given.extend(source.data for source in sources)
        return inspection([source.name for source in sources])

    monkeypatch.setattr(task, "analyse", analyse)
    with s3_url(monkeypatch) as url:
        settings = ServiceSettings(data_dir=tmp_path, photo_store_url=url, keep_originals=True)
        workspace = open_workspace(settings)
        with workspace.database.write() as connection:
            case_id = case.create(connection, "ann", "on S3").id
        sent = jpeg(1)
        clean = clean_photo(sent, settings)
        case_files.add_photo(workspace, "ann", case_id, clean, original=sent)
        kept = objects(url)
        assert len(kept) == 2
        assert all(key.startswith("workshop/") for key in kept)
        assert not (tmp_path / "photos").exists()
        workspace.queue.run(performer(workspace), giver_up(workspace), Event(), wait=False)
        assert given == [clean.jpeg]
        case_files.delete_case(workspace, "ann", case_id)
        assert objects(url) == []
        workspace.close()
