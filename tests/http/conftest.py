import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from argon2 import PasswordHasher

from carbpair.cases import account, task
from carbpair.cases.source_photo import SourcePhoto
from carbpair.cases.workspace import Workspace, open_workspace
from tests.cases.fixtures import MakeSettings, database_url, make_settings, postgres
from tests.http.desk import Desk
from tests.http.recorded import inspection

__all__ = ["database_url", "make_settings", "postgres"]


@pytest.fixture(autouse=True)
def quick_hashing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Argon2's cost is meant to be felt; two hundred tests need not feel it."""
    monkeypatch.setattr(account, "_hasher", PasswordHasher(time_cost=1, memory_cost=64))


@pytest.fixture
def workspace(make_settings: MakeSettings) -> Iterator[Workspace]:
    opened = open_workspace(make_settings(rate_limits=False))
    yield opened
    opened.close()


@pytest.fixture
def desk(workspace: Workspace) -> Desk:
    return Desk.open(workspace)


@pytest.fixture
def recorded_analysis(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Let workers answer a recorded inspection; the analysis is tested elsewhere."""

    def install(holes: int = 3) -> None:
        def analyse(
            sources: list[SourcePhoto], settings: Any, on_photo: Any = None
        ) -> dict[str, Any]:
            for index, _ in enumerate(sources, 1):
                if on_photo:
                    on_photo(index)
            return inspection([source.name for source in sources], holes)

        monkeypatch.setattr(task, "analyse", analyse)

    install()
    return install


# Where the database takes part; the others run on PostgreSQL too with this variable set, which
# costs two minutes on two cores.
ON_BOTH_DATABASES = ("test_case_api", "test_tus", "test_inspect_api", "test_events")
ALL_DATABASES = "CARBPAIR_TEST_ALL_DATABASES"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if os.environ.get(ALL_DATABASES):
        return
    here = str(Path(__file__).parent)
    left_out = [
        item
        for item in items
        if str(item.path).startswith(here)
        and "[postgresql" in item.name
        and item.path.stem not in ON_BOTH_DATABASES
    ]
    config.hook.pytest_deselected(items=left_out)
    items[:] = [item for item in items if item not in left_out]
