"""A throw-away PostgreSQL server for tests, from the Debian package."""

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path

import sqlalchemy as sa

from carbpair.cases import migrate


def bin_folder() -> Path | None:
    """Folder of the newest installed server's programs, None when there is no server."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[4]))
    return found[-1].parent if found else None


class PostgresServer:
    """Listens on a Unix socket in its own folder only."""

    def __init__(self) -> None:
        folder = bin_folder()
        assert folder is not None
        self._bin = folder
        self.root = Path(tempfile.mkdtemp(prefix="carbpair-pg-"))
        # The server refuses to run as root.
        self._prefix: list[str] = []
        if os.getuid() == 0:
            owner = pwd.getpwnam("postgres")
            os.chown(self.root, owner.pw_uid, owner.pw_gid)
            self._prefix = ["runuser", "-u", "postgres", "--"]

    def start(self) -> None:
        data = str(self.root / "data")
        options = (
            f"-c listen_addresses='' -c unix_socket_directories={self.root} "
            "-c fsync=off -c full_page_writes=off -c max_connections=200"
        )
        self._run("initdb", "-D", data, "-U", "carbpair", "-A", "trust", "-N")
        self._run("pg_ctl", "-D", data, "-w", "-l", str(self.root / "log"), "-o", options, "start")

    def stop(self) -> None:
        self._run("pg_ctl", "-D", str(self.root / "data"), "-m", "immediate", "stop")
        shutil.rmtree(self.root, ignore_errors=True)

    def empty_database(self) -> str:
        """SQLAlchemy URL of the one database, without any rows; its tables stay.

        Making a database for each test takes a second and 10 MB.
        """
        url = self._url("postgres")
        engine = sa.create_engine(url)
        with engine.begin() as connection:
            names = sa.inspect(connection).get_table_names()
            if "alembic_version" in names and self._is_current(connection):
                tables = ", ".join(name for name in names if name != "alembic_version")
                connection.execute(sa.text(f"TRUNCATE {tables} RESTART IDENTITY CASCADE"))
            else:
                connection.execute(sa.text("DROP SCHEMA public CASCADE"))
                connection.execute(sa.text("CREATE SCHEMA public"))
        engine.dispose()
        return url

    def _is_current(self, connection: sa.Connection) -> bool:
        version = connection.scalar(sa.text("SELECT version_num FROM alembic_version"))
        return version == migrate.newest_version()

    def _url(self, name: str) -> str:
        return f"postgresql+psycopg://carbpair@/{name}?host={self.root}"

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [*self._prefix, str(self._bin / program), *arguments],
            check=True, capture_output=True, cwd="/", timeout=60,
        )  # fmt: skip
