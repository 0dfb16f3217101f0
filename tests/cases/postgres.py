"""A throw-away PostgreSQL server for tests, from the Debian package."""

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path

import sqlalchemy as sa


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
        self._count = 0
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

    def new_database(self) -> str:
        """Make an empty database; returns its SQLAlchemy URL."""
        self._count += 1
        name = f"t{self._count}"
        admin = sa.create_engine(self._url("postgres"), isolation_level="AUTOCOMMIT")
        with admin.connect() as connection:
            connection.execute(sa.text(f"CREATE DATABASE {name}"))
        admin.dispose()
        return self._url(name)

    def _url(self, name: str) -> str:
        return f"postgresql+psycopg://carbpair@/{name}?host={self.root}"

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [*self._prefix, str(self._bin / program), *arguments],
            check=True, capture_output=True, cwd="/", timeout=60,
        )  # fmt: skip
