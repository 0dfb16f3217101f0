"""The queue of analyses, as the rest sees it; one kind per database."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from threading import Event
from typing import Protocol

import sqlalchemy as sa

from carbpair.cases import schema
from carbpair.cases.database import Database
from carbpair.cases.error import BusyError

# Shown as "try again in N s" before any analysis has been timed on this installation.
FIRST_GUESS_SECONDS = 2.0
TIMED_ANALYSES = 20
RETRY_BOUNDS = (2, 600)


@dataclass(frozen=True)
class Job:
    """One piece of work: `kind` is ``case`` or ``one_shot``; attempts count from 1.

    `target` is the id of the analysis or of the one-shot inspection.
    """

    kind: str
    target: str
    attempt: int


Perform = Callable[[Job], None]
GiveUp = Callable[[Job, str], None]


class Queue(Protocol):
    """Hands jobs to workers in order; a job of a killed worker is handed out again."""

    def defer(self, connection: sa.Connection, kind: str, target: str) -> None:
        """Add a job in the caller's transaction; the same kind and target only once."""

    def depth(self, connection: sa.Connection) -> int:
        """Return how many jobs wait or run."""

    def run(self, perform: Perform, give_up: GiveUp, stop: Event, *, wait: bool = True) -> int:
        """Work off jobs until `stop` is set (or, without `wait`, the queue is empty).

        `give_up` is called when a job has failed, or killed its worker, too often. Returns how
        many jobs were worked off.
        """


def check_room(connection: sa.Connection, queue: Queue, limit: int, workers: int) -> None:
    """Raise BusyError, saying when to try again, when `limit` jobs wait already."""
    depth = queue.depth(connection)
    if depth < limit:
        return
    analysis = schema.analysis
    rows = connection.execute(
        sa.select(analysis.c.started_at, analysis.c.finished_at)
        .where(analysis.c.state == "done")
        .order_by(analysis.c.finished_at.desc())
        .limit(TIMED_ANALYSES)
    ).all()
    spent = [row.finished_at - row.started_at for row in rows if row.started_at is not None]
    each = sum(spent) / len(spent) if spent else FIRST_GUESS_SECONDS
    # Room comes when the excess has been worked off, not when the whole queue is empty.
    seconds = math.ceil((depth - limit + 1) * each / max(1, workers))
    raise BusyError(min(max(seconds, RETRY_BOUNDS[0]), RETRY_BOUNDS[1]))


def defer_lost(database: Database, queue: Queue) -> int:
    """Defer every waiting analysis again; the queue drops those it has. Returns how many wait.

    Needed only after a restored backup or a cleared queue: accepting a photo and deferring its
    job are one transaction.
    """
    analysis = schema.analysis
    with database.write() as connection:
        waiting = connection.scalars(
            sa.select(analysis.c.id)
            .where(analysis.c.state.in_(("queued", "running")))
            .order_by(analysis.c.queued_at)
        ).all()
        for target in waiting:
            queue.defer(connection, "case", target)
    return len(waiting)
