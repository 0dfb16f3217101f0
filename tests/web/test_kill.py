"""One SIGKILL each of worker and server; benchmarks/service_soak.py does it a thousand times."""

import os
import signal
import time
from pathlib import Path

import httpx
import sqlalchemy as sa

from carbpair.cases import account, schema
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import Workspace, open_workspace
from tests.cases.pictures import jpeg
from tests.web.live import PASSWORD
from tests.web.process import ServiceProcess


def _states(workspace: Workspace) -> list[str]:
    table = schema.analysis
    with workspace.database.read() as connection:
        return list(connection.scalars(sa.select(table.c.state).order_by(table.c.queued_at)))


def test_no_photo_is_lost_and_no_result_doubled(tmp_path: Path, database_url: str) -> None:
    data = tmp_path / "data"
    workspace = open_workspace(ServiceSettings(data_dir=data, database_url=database_url))
    with workspace.database.write() as connection:
        user = account.create_user(connection, "test", "ann", PASSWORD)
        token = account.open_session(connection, user, 3600, kind="bearer")
    service = ServiceProcess(data, CARBPAIR_DATABASE_URL=database_url, CARBPAIR_LEASE_SECONDS="2")
    service.start()
    try:
        headers = {"authorization": f"Bearer {token}"}
        for number in range(2):
            with httpx.Client(base_url=service.url, headers=headers, timeout=30) as client:
                case_id = client.post("/api/cases", json={"title": "t"}).json()["id"]
                files = {"photo": ("x.jpg", jpeg(number, (1600, 1200)), "image/jpeg")}
                sent = client.post(f"/api/cases/{case_id}/photos", files=files)
                assert sent.status_code == 201
            if number == 0:
                for worker in service.workers():
                    os.kill(worker, signal.SIGKILL)
            else:
                service.kill()
                service.start()
        end = time.monotonic() + 60
        while _states(workspace) != ["done", "done"] and time.monotonic() < end:
            time.sleep(0.2)
        assert _states(workspace) == ["done", "done"]
        assert len(list((data / "photos").rglob("*.jpg"))) == 2
        with workspace.database.read() as connection:
            ended = sa.select(sa.func.count()).where(schema.audit_event.c.action == "analysis_done")
            assert connection.scalar(ended) == 2
    finally:
        service.stop()
        workspace.close()
