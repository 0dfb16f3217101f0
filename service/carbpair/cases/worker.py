"""A worker process: takes jobs until told to stop, or until its server is gone."""

import logging
import os
import signal
import threading
from collections.abc import Callable
from contextlib import suppress
from threading import Event

from carbpair.cases.queue import defer_lost
from carbpair.cases.task import giver_up, performer, tidy
from carbpair.cases.workspace import Workspace

TIDY_SECONDS = 30.0
PARENT_CHECK_SECONDS = 1.0
WORKER_NICENESS = 10

log = logging.getLogger(__name__)


def yield_to_pages(pid: int) -> None:
    """Lower a process's priority (0: this one's), where the system lets us."""
    if hasattr(os, "setpriority"):
        with suppress(OSError):
            lowest = max(os.getpriority(os.PRIO_PROCESS, pid), WORKER_NICENESS)
            os.setpriority(os.PRIO_PROCESS, pid, lowest)


def run_worker(workspace: Workspace, stop: Event, *, parent: int | None = None) -> int:
    """Work off jobs until `stop` is set or process `parent` is gone; returns how many."""
    # On a machine that both share, a person's page goes before an analysis.
    yield_to_pages(0)
    defer_lost(workspace.database, workspace.queue)
    threads = [threading.Thread(target=_tidy_now_and_then, args=(workspace, stop), daemon=True)]
    if parent is not None:
        threads.append(threading.Thread(target=_watch, args=(parent, stop), daemon=True))
    for thread in threads:
        thread.start()
    done = workspace.queue.run(performer(workspace), giver_up(workspace), stop)
    stop.set()
    return done


def stop_on_signals(stop: Event) -> None:
    """Let SIGTERM and SIGINT end the worker after its present job."""

    def on_signal(number: int, _frame: object) -> None:
        log.info("signal %d: stopping after the present job", number)
        stop.set()

    handler: Callable[[int, object], None] = on_signal
    signal.signal(signal.SIGTERM, handler)
    signal.signal(signal.SIGINT, handler)


def _watch(parent: int, stop: Event) -> None:
    # A server killed with SIGKILL cannot stop its workers; they notice by being adopted.
    while not stop.wait(PARENT_CHECK_SECONDS):
        if os.getppid() != parent:
            log.warning("the server is gone: stopping")
            stop.set()


def _tidy_now_and_then(workspace: Workspace, stop: Event) -> None:
    while True:
        try:
            tidy(workspace)
        except Exception:
            log.exception("tidying failed; it is tried again")
        if stop.wait(TIDY_SECONDS):
            return
