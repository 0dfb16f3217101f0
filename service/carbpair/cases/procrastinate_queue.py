"""Queue on PostgreSQL: Procrastinate's tables, locks and heartbeats (optional extra)."""

import asyncio
import logging
from contextlib import suppress
from threading import Event
from typing import Any

import procrastinate
import sqlalchemy as sa
from procrastinate import exceptions

from carbpair.cases.database import Database
from carbpair.cases.queue import GiveUp, Job, Perform

TASK = "carbpair.analyse"
POLL_SECONDS = 1.0
RETRY_STALLED_EVERY = 3.0

log = logging.getLogger(__name__)


class ProcrastinateQueue:
    """See ``queue.Queue``."""

    def __init__(self, database: Database, *, lease_seconds: float, max_attempts: int) -> None:
        """Use Procrastinate's tables in `database`, which are made when missing."""
        self._database = database
        self._lease_seconds = lease_seconds
        self._max_attempts = max_attempts
        dsn = sa.make_url(database.url).set(drivername="postgresql")
        self._dsn = dsn.render_as_string(hide_password=False)
        self._app = procrastinate.App(
            connector=procrastinate.SyncPsycopgConnector(conninfo=self._dsn)
        )
        self._prepare()

    def defer(self, connection: sa.Connection, kind: str, target: str) -> None:
        """See Queue: the row is inserted on the caller's own connection."""
        table = sa.text(
            "SELECT 1 FROM procrastinate_jobs WHERE status IN ('todo', 'doing') "
            "AND queueing_lock = :lock"
        )
        lock = f"{kind}:{target}"
        if connection.scalar(table, {"lock": lock}) is not None:
            return
        task = self._app.configure_task(
            TASK,
            queueing_lock=lock,
            connection=connection.connection.driver_connection,
        )
        with suppress(exceptions.AlreadyEnqueued):
            task.defer(kind=kind, target=target)

    def depth(self, connection: sa.Connection) -> int:
        """See Queue."""
        statement = sa.text(
            "SELECT count(*) FROM procrastinate_jobs WHERE status IN ('todo', 'doing')"
        )
        return int(connection.scalar(statement) or 0)

    def run(self, perform: Perform, give_up: GiveUp, stop: Event, *, wait: bool = True) -> int:
        """See Queue."""
        return asyncio.run(self._run(perform, give_up, stop, wait=wait))

    async def _run(self, perform: Perform, give_up: GiveUp, stop: Event, *, wait: bool) -> int:
        app = procrastinate.App(connector=procrastinate.PsycopgConnector(conninfo=self._dsn))
        done = 0

        def analyse(context: procrastinate.JobContext, kind: str, target: str) -> None:
            nonlocal done
            done += 1
            job = Job(kind, target, context.job.attempts + 1)
            if job.attempt > self._max_attempts:
                give_up(job, f"the analysis stopped its worker {self._max_attempts} times")
                return
            try:
                perform(job)
            except Exception as error:
                log.exception("job %s %s failed at attempt %d", kind, target, job.attempt)
                if job.attempt >= self._max_attempts:
                    give_up(job, f"{type(error).__name__}: {error}")
                    return
                raise

        app.task(
            name=TASK,
            pass_context=True,
            retry=procrastinate.RetryStrategy(max_attempts=self._max_attempts, wait=1),
        )(analyse)
        async with app.open_async():
            worker = asyncio.create_task(
                app.run_worker_async(
                    concurrency=1,
                    wait=wait,
                    fetch_job_polling_interval=POLL_SECONDS,
                    update_heartbeat_interval=self._lease_seconds / 4,
                    stalled_worker_timeout=self._lease_seconds,
                    install_signal_handlers=False,
                    delete_jobs="successful",
                )
            )
            while not worker.done():
                await self._retry_stalled(app)
                for _ in range(int(RETRY_STALLED_EVERY / 0.1)):
                    if stop.is_set():
                        worker.cancel()
                    if worker.done():
                        break
                    await asyncio.sleep(0.1)
            with suppress(asyncio.CancelledError):
                await worker
        return done

    async def _retry_stalled(self, app: procrastinate.App) -> None:
        manager = app.job_manager
        for job in await manager.get_stalled_jobs(seconds_since_heartbeat=self._lease_seconds):
            log.warning("job %s of a lost worker is tried again", job.id)
            with suppress(exceptions.ConnectorException):
                await manager.retry_job(job)

    def _prepare(self) -> None:
        with self._database.write() as connection:
            # Several processes may start at once on an empty database.
            connection.execute(sa.text("SELECT pg_advisory_xact_lock(7204)"))
            if connection.scalar(sa.text("SELECT to_regclass('procrastinate_jobs')")) is not None:
                return
            driver: Any = connection.connection.driver_connection
            driver.execute(procrastinate.schema.SchemaManager.get_schema())
