"""One SIGKILL each of worker and server; benchmarks/service_soak.py does it a thousand times."""

import os
import signal
import sqlite3
import time
from pathlib import Path

import httpx

from carbpair.cases import account
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import open_workspace
from tests.cases.pictures import jpeg
from tests.web.live import PASSWORD
from tests.web.process import ServiceProcess


def _states(data: Path) -> list[str]:
    connection = sqlite3.connect(data / "carbpair.sqlite3", timeout=20)
    rows = connection.execute("SELECT state FROM analysis ORDER BY queued_at").fetchall()
    connection.close()
    return [row[0] for row in rows]


def test_no_photo_is_lost_and_no_result_doubled(tmp_path: Path) -> None:
    data = tmp_path / "data"
    workspace = open_workspace(ServiceSettings(data_dir=data))
    with workspace.database.write() as connection:
        user = account.create_user(connection, "test", "ann", PASSWORD)
        token = account.open_session(connection, user, 3600, kind="bearer")
    workspace.close()
    service = ServiceProcess(data, CARBPAIR_LEASE_SECONDS="2")
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
        while _states(data) != ["done", "done"] and time.monotonic() < end:
            time.sleep(0.2)
        assert _states(data) == ["done", "done"]
        assert len(list((data / "photos").rglob("*.jpg"))) == 2
    finally:
        service.stop()
