"""The one-shot inspection: queue, answer, and nothing kept. The analysis is a recorded one."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Event

import sqlalchemy as sa

from carbpair.cases import schema
from carbpair.cases.task import giver_up, performer, tidy
from carbpair.cases.workspace import Workspace, open_workspace
from tests.cases.fixtures import MakeSettings
from tests.cases.pictures import jpeg
from tests.http.desk import Desk


@contextmanager
def _worker(workspace: Workspace) -> Iterator[None]:
    stop = Event()
    thread = threading.Thread(
        target=workspace.queue.run, args=(performer(workspace), giver_up(workspace), stop)
    )
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(30)


def _send(desk: Desk, count: int = 2, **form: object) -> object:
    files = [("photos", (f"p{index}.jpg", jpeg(index), "image/jpeg")) for index in range(count)]
    return desk.visitor.post("/inspect", files=files, data=form)


def test_answer_is_the_inspection_with_identification(
    desk: Desk, recorded_analysis: Callable[..., None]
) -> None:
    with _worker(desk.workspace):
        answer = _send(desk, car="Varnley Ostrene GT", symptom=["flooding"])
    body = answer.json()  # type: ignore[attr-defined]
    assert body["schema"] == "carbpair/inspection/1"
    assert [photo["file"] for photo in body["photos"]] == ["p0.jpg", "p1.jpg"]
    assert body["identification"]["facts"]["car"] == "Varnley Ostrene GT"
    assert body["identification"]["candidates"]


def test_nothing_is_kept(desk: Desk, recorded_analysis: Callable[..., None]) -> None:
    with _worker(desk.workspace):
        _send(desk)
    assert list(desk.workspace.store.keys()) == []
    with desk.workspace.database.read() as connection:
        for table in (schema.one_shot, schema.doomed_file, schema.case_file):
            assert connection.scalar(sa.select(sa.func.count()).select_from(table)) == 0


def test_without_a_worker_the_sender_is_told_when_to_try_again(
    make_settings: MakeSettings,
) -> None:
    workspace = open_workspace(make_settings(one_shot_wait_seconds=0.2, rate_limits=False))
    desk = Desk.open(workspace)
    answer = _send(desk)
    assert answer.status_code == 503  # type: ignore[attr-defined]
    assert int(answer.headers["retry-after"]) > 0  # type: ignore[attr-defined]
    assert list(workspace.store.keys()) == []
    workspace.close()


def test_too_many_photos_are_refused(desk: Desk) -> None:
    answer = _send(desk, count=desk.workspace.settings.max_photos_per_inspection + 1)
    assert answer.status_code == 422  # type: ignore[attr-defined]


def test_closed_inspection_needs_a_login(make_settings: MakeSettings) -> None:
    workspace = open_workspace(make_settings(open_inspect=False, rate_limits=False))
    desk = Desk.open(workspace)
    assert _send(desk).status_code == 401  # type: ignore[attr-defined]
    workspace.close()


def test_requests_left_by_a_crash_are_tidied_away(desk: Desk, monkeypatch: object) -> None:
    import time

    from carbpair.cases import one_shot

    desk.workspace.store.put("one-shot/abc/0", jpeg(1))
    with desk.workspace.database.write() as connection:
        one_shot.create(connection, "abc", [{"name": "x", "key": "one-shot/abc/0"}], {})
        old = time.time() - one_shot.KEEP_SECONDS - 1
        connection.execute(schema.one_shot.update().values(created_at=old))
    tidy(desk.workspace)
    assert list(desk.workspace.store.keys()) == []
