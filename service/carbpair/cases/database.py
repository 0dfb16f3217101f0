"""Connections: SQLite in WAL mode by default, PostgreSQL by setting."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event

BUSY_TIMEOUT_MS = 15_000
# One connection per thread of the server's pool (40) and some: opening one costs several ms.
POOL_SIZE = 48


class Database:
    """One engine with explicit read and write transactions; share it between threads."""

    def __init__(self, url: str) -> None:
        """Open `url` (SQLAlchemy form); folders of a SQLite file are made."""
        parsed = sa.make_url(url)
        self.url = url
        self.is_sqlite = parsed.get_backend_name() == "sqlite"
        if self.is_sqlite:
            if parsed.database in (None, "", ":memory:"):
                raise ValueError("the database must be a file: worker processes share it")
            Path(str(parsed.database)).parent.mkdir(parents=True, exist_ok=True)
            self.engine = sa.create_engine(url, pool_size=POOL_SIZE)
            _make_sqlite_safe(self.engine)
        else:
            self.engine = sa.create_engine(
                url, pool_pre_ping=True, pool_size=8, max_overflow=POOL_SIZE
            )

    @contextmanager
    def write(self) -> Iterator[sa.Connection]:
        """Open a transaction that may change rows; commits unless an exception leaves it."""
        writing = self.engine.connect().execution_options(carbpair_write=True)
        with writing as connection, connection.begin():
            yield connection

    @contextmanager
    def read(self) -> Iterator[sa.Connection]:
        """Open a transaction that sees one consistent state and changes nothing."""
        with self.engine.connect() as connection, connection.begin():
            yield connection

    def close(self) -> None:
        """Close the pooled connections."""
        self.engine.dispose()


def _make_sqlite_safe(engine: sa.Engine) -> None:
    @event.listens_for(engine, "connect")
    def on_connect(connection: sqlite3.Connection, _record: Any) -> None:
        # The driver's own implicit BEGIN would start every transaction as a reader, and a
        # reader that turns writer fails at once under load instead of waiting its turn.
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        if cursor.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            # Asking costs nothing; setting it waits for every writer.
            cursor.execute("PRAGMA journal_mode = WAL")
        # FULL: an accepted photo must survive a power cut, not only a crash of the process.
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA secure_delete = ON")
        cursor.close()

    @event.listens_for(engine, "begin")
    def on_begin(connection: sa.Connection) -> None:
        writes = connection.get_execution_options().get("carbpair_write", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
