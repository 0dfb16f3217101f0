"""Photos in and out of a case: bytes, rows, jobs."""

from pathlib import Path

import pytest
import sqlalchemy as sa

from carbpair.cases import analysis, audit, case, case_files, doomed, photo, schema
from carbpair.cases.case import Case
from carbpair.cases.error import BusyError, ConflictError, NotFoundError
from carbpair.cases.workspace import Workspace, open_workspace
from tests.cases.fixtures import MakeSettings
from tests.cases.pictures import clean, jpeg


def _new_case(workspace: Workspace) -> Case:
    with workspace.database.write() as connection:
        return case.create(connection, "ann", "t")


def _files(workspace: Workspace) -> list[Path]:
    folder = workspace.settings.data_dir / "photos"
    return [path for path in folder.rglob("*") if path.is_file()]


def _jobs(workspace: Workspace) -> int:
    with workspace.database.read() as connection:
        return workspace.queue.depth(connection)


def test_photo_is_stored_and_its_analysis_queued(workspace: Workspace) -> None:
    made = _new_case(workspace)
    added = case_files.add_photo(workspace, "ann", made.id, clean(1), view="top")
    assert workspace.store.get(added.store_key) == jpeg(1)
    with workspace.database.read() as connection:
        waiting = analysis.latest(connection, made.id)
        assert waiting is not None
        assert (waiting.state, list(waiting.photo_ids)) == ("queued", [added.id])
        assert case.get(connection, made.id).state == "analysing"
    assert _jobs(workspace) == 1


def test_newer_photos_supersede_a_waiting_analysis(workspace: Workspace) -> None:
    made = _new_case(workspace)
    for seed in range(3):
        case_files.add_photo(workspace, "ann", made.id, clean(seed))
    with workspace.database.read() as connection:
        states = connection.scalars(
            sa.select(schema.analysis.c.state).order_by(schema.analysis.c.revision)
        ).all()
    assert states == ["superseded", "superseded", "queued"]


def test_same_picture_twice_is_kept_once(workspace: Workspace) -> None:
    made = _new_case(workspace)
    first = case_files.add_photo(workspace, "ann", made.id, clean(1))
    second = case_files.add_photo(workspace, "ann", made.id, clean(1))
    assert second.id == first.id
    assert len(_files(workspace)) == 1
    with workspace.database.read() as connection:
        assert case.get(connection, made.id).revision == 1


def test_deleted_case_leaves_no_file_and_no_row(make_settings: MakeSettings) -> None:
    workspace = open_workspace(make_settings(keep_originals=True))
    made, other = _new_case(workspace), _new_case(workspace)
    for seed in range(3):
        case_files.add_photo(workspace, "ann", made.id, clean(seed), original=b"raw %d" % seed)
    kept = case_files.add_photo(workspace, "ann", other.id, clean(9))
    assert len(_files(workspace)) == 7
    case_files.delete_case(workspace, "ann", made.id)
    assert [path.name for path in _files(workspace)] == [f"{kept.id}.jpg"]
    with workspace.database.read() as connection:
        with pytest.raises(NotFoundError):
            case.get(connection, made.id)
        for table in schema.metadata.sorted_tables:
            if "case_id" in table.c and table.name != "audit_event":
                rows = sa.select(sa.func.count()).where(table.c.case_id == made.id)
                assert connection.scalar(rows) == 0, table.name
        trail = audit.history(connection, made.id)
        assert trail[-1].action == "case_deleted"
        assert all(event.detail == {} for event in trail[:-1])
    assert not (workspace.settings.data_dir / "photos" / "cases" / made.id).exists()
    workspace.close()


def test_files_of_a_case_go_even_after_a_crash_in_between(workspace: Workspace) -> None:
    made = _new_case(workspace)
    case_files.add_photo(workspace, "ann", made.id, clean(1))
    with workspace.database.write() as connection:
        case.delete(connection, "ann", made.id)
    # The process died here: rows gone, file still there.
    assert len(_files(workspace)) == 1
    assert doomed.sweep(workspace.database, workspace.store) == 1
    assert _files(workspace) == []


def test_deleting_the_last_photo_waits_for_photos_again(workspace: Workspace) -> None:
    made = _new_case(workspace)
    added = case_files.add_photo(workspace, "ann", made.id, clean(1))
    case_files.delete_photo(workspace, "ann", made.id, added.id)
    with workspace.database.read() as connection:
        assert case.get(connection, made.id).state == "awaiting_photos"
    assert _files(workspace) == []


def test_photo_of_another_case_is_not_found(workspace: Workspace) -> None:
    mine, theirs = _new_case(workspace), _new_case(workspace)
    added = case_files.add_photo(workspace, "ann", theirs.id, clean(1))
    with pytest.raises(NotFoundError):
        case_files.delete_photo(workspace, "eve", mine.id, added.id)
    with workspace.database.read() as connection, pytest.raises(NotFoundError):
        photo.get(connection, mine.id, added.id)


def test_full_case_refuses_and_keeps_no_bytes(make_settings: MakeSettings) -> None:
    workspace = open_workspace(make_settings(max_photos_per_case=2))
    made = _new_case(workspace)
    for seed in range(2):
        case_files.add_photo(workspace, "ann", made.id, clean(seed))
    with pytest.raises(ConflictError, match="2 photos"):
        case_files.add_photo(workspace, "ann", made.id, clean(3))
    assert len(_files(workspace)) == 2
    workspace.close()


def test_full_queue_says_when_to_try_again(make_settings: MakeSettings) -> None:
    workspace = open_workspace(make_settings(queue_limit=2))
    for seed in range(2):
        case_files.add_photo(workspace, "ann", _new_case(workspace).id, clean(seed))
    with pytest.raises(BusyError) as caught:
        case_files.add_photo(workspace, "ann", _new_case(workspace).id, clean(5))
    assert 2 <= caught.value.retry_after <= 600
    assert len(_files(workspace)) == 2
    workspace.close()


def test_closed_case_takes_no_photo(workspace: Workspace) -> None:
    made = _new_case(workspace)
    with workspace.database.write() as connection:
        case.set_state(connection, made.id, "closed")
    with pytest.raises(ConflictError, match="closed"):
        case_files.add_photo(workspace, "ann", made.id, clean(1))
