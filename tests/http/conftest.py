from collections.abc import Callable, Iterator
from typing import Any

import pytest

from carbpair.cases import task
from carbpair.cases.source_photo import SourcePhoto
from carbpair.cases.workspace import Workspace, open_workspace
from tests.cases.fixtures import MakeSettings, database_url, make_settings, postgres
from tests.http.desk import Desk
from tests.http.recorded import inspection

__all__ = ["database_url", "make_settings", "postgres"]


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
