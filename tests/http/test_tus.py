"""The resumable upload protocol (tus 1.0.0, https://tus.io/protocols/resumable-upload)."""

import threading

import pytest

from carbpair.cases.workspace import open_workspace
from carbpair.http import uploads
from tests.cases.fixtures import MakeSettings
from tests.cases.pictures import jpeg
from tests.http.desk import Desk, tus_create, tus_patch, tus_send

HEAD = {"tus-resumable": "1.0.0"}


@pytest.fixture
def link(desk: Desk) -> str:
    return desk.new_link(desk.new_case())


def _photos(desk: Desk, link: str) -> int:
    return len(desk.visitor.get(f"{link}/state").json()["list"])


def test_options_tell_version_extensions_and_size(desk: Desk, link: str) -> None:
    answer = desk.visitor.options(f"{link}/uploads")
    assert answer.status_code == 204
    assert answer.headers["tus-version"] == "1.0.0"
    assert "creation" in answer.headers["tus-extension"]
    assert int(answer.headers["tus-max-size"]) == desk.workspace.settings.max_photo_bytes


def test_upload_in_pieces_becomes_a_photo_once(desk: Desk, link: str) -> None:
    data = jpeg(1)
    location = tus_create(desk.visitor, link, len(data)).headers["location"]
    cut = len(data) // 3
    first = tus_patch(desk.visitor, location, 0, data[:cut])
    assert (first.status_code, first.headers["upload-offset"]) == (204, str(cut))
    assert _photos(desk, link) == 0
    here = desk.visitor.head(location, headers=HEAD)
    assert here.headers["upload-offset"] == str(cut)
    last = tus_patch(desk.visitor, location, cut, data[cut:])
    assert (last.status_code, last.headers["upload-offset"]) == (204, str(len(data)))
    assert _photos(desk, link) == 1
    result = desk.visitor.get(f"{location}/result").json()
    assert result["state"] == "complete"


def test_lost_last_answer_is_made_good_by_asking_again(desk: Desk, link: str) -> None:
    # What "stalls at 99 %" elsewhere: all bytes arrived, the answer did not.
    data = jpeg(2)
    location = tus_create(desk.visitor, link, len(data)).headers["location"]
    tus_patch(desk.visitor, location, 0, data)
    again = desk.visitor.head(location, headers=HEAD)
    assert (again.status_code, again.headers["upload-offset"]) == (200, str(len(data)))
    assert _photos(desk, link) == 1


def test_whole_upload_left_by_a_crash_is_finished_at_the_next_question(
    desk: Desk, link: str
) -> None:
    data = jpeg(3)
    location = tus_create(desk.visitor, link, len(data)).headers["location"]
    path = uploads.part_path(desk.workspace, location.rpartition("/")[2])
    path.write_bytes(data)  # the server died before it looked at them
    assert _photos(desk, link) == 0
    assert desk.visitor.head(location, headers=HEAD).status_code == 200
    assert _photos(desk, link) == 1
    assert not path.exists()


def test_wrong_offset_is_a_conflict_and_changes_nothing(desk: Desk, link: str) -> None:
    location = tus_create(desk.visitor, link, 1000).headers["location"]
    tus_patch(desk.visitor, location, 0, b"x" * 10)
    assert tus_patch(desk.visitor, location, 5, b"y" * 10).status_code == 409
    assert desk.visitor.head(location, headers=HEAD).headers["upload-offset"] == "10"


def test_more_bytes_than_announced_are_refused(desk: Desk, link: str) -> None:
    location = tus_create(desk.visitor, link, 10).headers["location"]
    assert tus_patch(desk.visitor, location, 0, b"x" * 11).status_code == 422
    assert int(desk.visitor.head(location, headers=HEAD).headers["upload-offset"]) <= 10


def test_file_that_is_no_photo_is_refused_with_what_to_do(desk: Desk, link: str) -> None:
    answer = tus_send(desk.visitor, link, b"<html>" + b"x" * 500)
    assert answer.status_code == 422
    problem = answer.json()
    assert problem["kind"] == "not_an_image"
    assert problem["remedy"]
    assert _photos(desk, link) == 0
    folder = desk.workspace.settings.data_dir
    assert list((folder / "uploads").iterdir()) == []


def test_too_large_is_refused_before_a_byte_is_sent(desk: Desk, link: str) -> None:
    limit = desk.workspace.settings.max_photo_bytes
    answer = tus_create(desk.visitor, link, limit + 1)
    assert answer.status_code == 413
    assert "MB" in answer.json()["detail"]


@pytest.mark.parametrize("length", ["-1", "abc", "", "1e3", "9" * 30, "０"])
def test_broken_length_is_refused(desk: Desk, link: str, length: str) -> None:
    headers = {"tus-resumable": "1.0.0", "upload-length": length.encode()}
    assert desk.visitor.post(f"{link}/uploads", headers=headers).status_code == 422


def test_upload_of_another_link_is_not_found(desk: Desk, link: str) -> None:
    location = tus_create(desk.visitor, link, 100).headers["location"]
    other = desk.new_link(desk.new_case())
    stolen = f"{other}/uploads/{location.rpartition('/')[2]}"
    assert desk.visitor.head(stolen, headers=HEAD).status_code == 404
    assert tus_patch(desk.visitor, stolen, 0, b"x").status_code == 404
    assert desk.visitor.delete(stolen).status_code == 404


def test_given_up_upload_leaves_nothing(desk: Desk, link: str) -> None:
    location = tus_create(desk.visitor, link, 100).headers["location"]
    tus_patch(desk.visitor, location, 0, b"x" * 50)
    assert desk.visitor.delete(location).status_code == 204
    assert desk.visitor.head(location, headers=HEAD).status_code == 404
    assert list((desk.workspace.settings.data_dir / "uploads").iterdir()) == []


def test_same_photo_sent_twice_at_once_is_kept_once(desk: Desk, link: str) -> None:
    data = jpeg(4)
    threads = [threading.Thread(target=tus_send, args=(desk.visitor, link, data)) for _ in range(4)]
    with desk.visitor:  # entered, the client runs all requests in one event loop, as a server does
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
    assert _photos(desk, link) == 1


def test_file_name_and_path_in_the_metadata_are_never_used(desk: Desk, link: str) -> None:
    import base64

    data = jpeg(5)
    name = base64.b64encode(b"../../../home/me/5 Mill Lane.jpg").decode()
    headers = {
        "tus-resumable": "1.0.0",
        "upload-length": str(len(data)),
        "upload-metadata": f"filename {name},view dG9w",
    }
    location = desk.visitor.post(f"{link}/uploads", headers=headers).headers["location"]
    tus_patch(desk.visitor, location, 0, data)
    photo = desk.visitor.get(f"{link}/state").json()["list"][0]
    assert photo["view"] == "top"
    image = desk.visitor.get(f"{link}/photos/{photo['id']}.jpg")
    assert "Mill Lane" not in str(image.headers)
    for path in desk.workspace.settings.data_dir.rglob("*"):
        assert "Mill" not in path.name


def test_expired_parts_are_swept(make_settings: MakeSettings) -> None:
    import os
    import time

    workspace = open_workspace(make_settings(upload_hours=0.00001, rate_limits=False))
    desk = Desk.open(workspace)
    link = desk.new_link(desk.new_case())
    location = tus_create(desk.visitor, link, 100).headers["location"]
    path = uploads.part_path(workspace, location.rpartition("/")[2])
    os.utime(path, (time.time() - 3600,) * 2)
    time.sleep(0.1)
    assert desk.visitor.head(location, headers=HEAD).status_code == 410
    assert uploads.drop_expired(workspace) == 1
    assert not path.exists()
    workspace.close()
