"""Queue in the service's own database, for SQLite: jobs are leased and come back when leases end.

Shaped after Procrastinate (states, attempts, one waiting job per target), which needs PostgreSQL.
"""

import logging
import threading
import time
import uuid
from threading import Event

import sqlalchemy as sa

from carbpair.cases import schema
from carbpair.cases.database import Database
from carbpair.cases.queue import GiveUp, Job, Perform

POLL_SECONDS = 0.2
BEATS_PER_LEASE = 4
KEEP_DONE_SECONDS = 24 * 3600.0

log = logging.getLogger(__name__)


class LeaseQueue:
    """See ``queue.Queue``. `lease_seconds` bounds how long a killed worker's job is stuck."""

    def __init__(self, database: Database, *, lease_seconds: float, max_attempts: int) -> None:
        """Use the table ``job`` of `database`."""
        self._database = database
        self._lease_seconds = lease_seconds
        self._max_attempts = max_attempts
        self._owner = uuid.uuid4().hex

    def defer(self, connection: sa.Connection, kind: str, target: str) -> None:
        """See Queue; a job done or failed before is opened again."""
        table = schema.job
        here = (table.c.kind == kind) & (table.c.target == target)
        state = connection.scalar(sa.select(table.c.state).where(here))
        if state in ("todo", "doing"):
            return
        connection.execute(table.delete().where(here))
        connection.execute(
            table.insert().values(
                kind=kind, target=target, state="todo", attempts=0, queued_at=time.time()
            )
        )

    def depth(self, connection: sa.Connection) -> int:
        """See Queue."""
        table = schema.job
        statement = sa.select(sa.func.count()).where(table.c.state.in_(("todo", "doing")))
        return int(connection.scalar(statement) or 0)

    def run(self, perform: Perform, give_up: GiveUp, stop: Event, *, wait: bool = True) -> int:
        """See Queue."""
        done = 0
        while not stop.is_set():
            job = self._lease()
            if job is None:
                if not wait:
                    break
                stop.wait(POLL_SECONDS)
                continue
            self._work_off(job, perform, give_up)
            done += 1
        return done

    def _work_off(self, job: Job, perform: Perform, give_up: GiveUp) -> None:
        if job.attempt > self._max_attempts:
            # The worker died each time, so nobody could note an error.
            give_up(job, f"the analysis stopped its worker {self._max_attempts} times")
            self._release(job, "failed")
            return
        finished = Event()
        beat = threading.Thread(target=self._keep_lease, args=(job, finished), daemon=True)
        beat.start()
        try:
            perform(job)
        except Exception as error:
            log.exception("job %s %s failed at attempt %d", job.kind, job.target, job.attempt)
            if job.attempt < self._max_attempts:
                self._release(job, "todo")
            else:
                give_up(job, f"{type(error).__name__}: {error}")
                self._release(job, "failed")
        else:
            self._release(job, "done")
        finally:
            finished.set()
            beat.join()

    def _lease(self) -> Job | None:
        table = schema.job
        now = time.time()
        free = (table.c.state == "todo") | (
            (table.c.state == "doing") & (table.c.lease_until < now)
        )
        with self._database.read() as connection:
            # Looking needs no write lock; most looks find nothing.
            if connection.scalar(sa.select(table.c.id).where(free).limit(1)) is None:
                return None
        with self._database.write() as connection:
            row = connection.execute(
                sa.select(table).where(free).order_by(table.c.id).limit(1)
            ).first()
            if row is None:
                return None
            connection.execute(
                table.update()
                .where(table.c.id == row.id)
                .values(
                    state="doing",
                    attempts=row.attempts + 1,
                    owner=self._owner,
                    lease_until=now + self._lease_seconds,
                )
            )
        return Job(row.kind, row.target, row.attempts + 1)

    def _keep_lease(self, job: Job, finished: Event) -> None:
        table = schema.job
        while not finished.wait(self._lease_seconds / BEATS_PER_LEASE):
            with self._database.write() as connection:
                connection.execute(
                    table.update()
                    .where(self._is_mine(job))
                    .values(lease_until=time.time() + self._lease_seconds)
                )

    def _release(self, job: Job, state: str) -> None:
        table = schema.job
        now = time.time()
        with self._database.write() as connection:
            connection.execute(
                table.update()
                .where(self._is_mine(job))
                .values(
                    state=state,
                    owner=None,
                    lease_until=None,
                    finished_at=None if state == "todo" else now,
                )
            )
            connection.execute(
                table.delete().where(
                    table.c.state == "done", table.c.finished_at < now - KEEP_DONE_SECONDS
                )
            )

    def _is_mine(self, job: Job) -> sa.ColumnElement[bool]:
        # A worker that stalled past its lease must not close the job of its successor.
        table = schema.job
        return sa.and_(
            table.c.kind == job.kind,
            table.c.target == job.target,
            table.c.state == "doing",
            table.c.owner == self._owner,
        )
