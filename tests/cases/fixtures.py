"""Workspaces for tests, on SQLite and on PostgreSQL."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import Workspace, open_workspace
from tests.cases.postgres import PostgresServer, bin_folder


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    if bin_folder() is None:
        pytest.skip("PostgreSQL is not installed (tests/run installs it)")
    server = PostgresServer()
    server.start()
    yield server
    server.stop()


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/data/carbpair.sqlite3"
    server: PostgresServer = request.getfixturevalue("postgres")
    return server.empty_database()


MakeSettings = Callable[..., ServiceSettings]


@pytest.fixture
def make_settings(tmp_path: Path, database_url: str) -> MakeSettings:
    def make(**values: Any) -> ServiceSettings:
        return ServiceSettings(
            **{"data_dir": tmp_path / "data", "database_url": database_url, **values}
        )

    return make


@pytest.fixture
def workspace(make_settings: MakeSettings) -> Iterator[Workspace]:
    opened = open_workspace(make_settings())
    yield opened
    opened.close()
