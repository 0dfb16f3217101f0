from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import open_workspace
from tests.cases.fixtures import database_url, postgres
from tests.http.conftest import recorded_analysis
from tests.web.live import Live, chromium

__all__ = ["database_url", "postgres", "recorded_analysis"]


# A shared machine may be busy: what is awaited comes, or the test fails after this long.
expect.set_options(timeout=30_000)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture
def live(tmp_path: Path, recorded_analysis: Callable[..., None]) -> Iterator[Live]:
    settings = ServiceSettings(data_dir=tmp_path / "data", rate_limits=False)
    workspace = open_workspace(settings)
    service = Live(workspace)
    yield service
    service.stop()
    workspace.close()


@pytest.fixture
def photo_file(tmp_path: Path) -> Path:
    """A 12-megapixel-like phone photo: seeded noise, about 1.5 MB, too big to arrive at once."""
    from tests.cases.pictures import jpeg

    path = tmp_path / "IMG_0001.jpg"
    path.write_bytes(jpeg(7, (2400, 1800)))
    return path
