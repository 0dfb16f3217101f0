"""The same promises from both queues: order, leases, attempts, one job per target."""

import threading
import time
from threading import Event

import pytest

from carbpair.cases.queue import Job
from carbpair.cases.workspace import Workspace, open_workspace
from tests.cases.fixtures import MakeSettings


@pytest.fixture
def quick(make_settings: MakeSettings) -> Workspace:
    return open_workspace(make_settings(lease_seconds=1.0, max_attempts=3))


def _defer(workspace: Workspace, *targets: str) -> None:
    for target in targets:
        with workspace.database.write() as connection:
            workspace.queue.defer(connection, "case", target)


def _depth(workspace: Workspace) -> int:
    with workspace.database.read() as connection:
        return workspace.queue.depth(connection)


def _no_failure(job: Job, error: str) -> None:
    raise AssertionError(f"{job} was given up: {error}")


def test_jobs_run_in_the_order_in_which_they_came(quick: Workspace) -> None:
    targets = [f"t{index:03d}" for index in range(30)]
    _defer(quick, *targets)
    done: list[str] = []
    quick.queue.run(lambda job: done.append(job.target), _no_failure, Event(), wait=False)
    assert done == targets
    assert _depth(quick) == 0


def test_the_same_target_waits_once(quick: Workspace) -> None:
    _defer(quick, "a", "a", "b", "a")
    assert _depth(quick) == 2


def test_rolled_back_transaction_leaves_no_job(quick: Workspace) -> None:
    def defer_then_fail() -> None:
        with quick.database.write() as connection:
            quick.queue.defer(connection, "case", "a")
            raise KeyError

    with pytest.raises(KeyError):
        defer_then_fail()
    assert _depth(quick) == 0


def test_failing_job_is_tried_again_then_given_up_with_its_error(quick: Workspace) -> None:
    _defer(quick, "bad")
    attempts: list[int] = []
    given_up: list[str] = []
    stop = Event()

    def perform(job: Job) -> None:
        attempts.append(job.attempt)
        raise OSError("no such lens")

    def give_up(job: Job, error: str) -> None:
        given_up.append(error)
        stop.set()

    runner = threading.Thread(target=quick.queue.run, args=(perform, give_up, stop))
    runner.start()
    runner.join(30)
    stop.set()
    assert attempts == [1, 2, 3]
    assert given_up == ["OSError: no such lens"]
    assert _depth(quick) == 0


def test_two_workers_never_do_the_same_job(quick: Workspace, make_settings: MakeSettings) -> None:
    targets = [f"t{index:03d}" for index in range(24)]
    _defer(quick, *targets)
    other = open_workspace(make_settings(lease_seconds=1.0))
    done: list[str] = []

    def perform(job: Job) -> None:
        time.sleep(0.01)
        done.append(job.target)

    threads = [
        threading.Thread(
            target=workspace.queue.run,
            args=(perform, _no_failure, Event()),
            kwargs={"wait": False},
        )
        for workspace in (quick, other)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(done) == targets


def test_long_job_keeps_its_lease(quick: Workspace, make_settings: MakeSettings) -> None:
    _defer(quick, "long")
    other = open_workspace(make_settings(lease_seconds=1.0))
    runs: list[str] = []
    stop = Event()

    def perform(job: Job) -> None:
        runs.append(job.target)
        time.sleep(2.5)
        stop.set()

    threads = [
        threading.Thread(target=workspace.queue.run, args=(perform, _no_failure, stop))
        for workspace in (quick, other)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert runs == ["long"]
