"""Kills server and workers with SIGKILL at random while photos come in; counts what was lost.

    python benchmarks/service_soak.py --kills 1000 --minutes 60

Bounded by whichever comes first. A round lets photos come in for up to two seconds and then kills
the server, a worker, or server and workers at once; photos are sent all the while, so that kills
meet them half-way. Every tenth round is for measuring: it kills a worker while work waits and then
nothing until a result is written. Prints accepted photos, lost ones, duplicate results and the
recoveries (kill of the server until it answers again; kill of a worker until a result is written),
with n. Exit code 1 when anything was lost or duplicated or a recovery took over 30 s.
"""

import argparse
import io
import os
import random
import signal
import sqlite3
import sys
import tempfile
import threading
import time
from contextlib import suppress
from http import HTTPStatus
from pathlib import Path

import httpx
import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1]))
from tests.web.process import ServiceProcess

RECOVERY_LIMIT_SECONDS = 30.0
PASSWORD = "three quiet carburettors"  # noqa: S105 - for this run only
DRAIN_SECONDS = 300.0
WORKERS = 2
SECONDS_BETWEEN = (0.2, 2.0)
MOST_WAITING = 20
MEASURE_EVERY = 10


def picture(rng: np.random.Generator) -> bytes:
    """A small JPEG that is different each time; what is on it does not matter here."""
    buffer = io.BytesIO()
    Image.fromarray(rng.integers(0, 256, (120, 160, 3), dtype=np.uint8)).save(buffer, "JPEG")
    return buffer.getvalue()


class Soak:
    """One run on a fresh folder."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)  # noqa: S311 - no secret
        self.rng = np.random.default_rng(seed)
        self.data = Path(tempfile.mkdtemp(prefix="carbpair-soak-")) / "data"
        self.service = ServiceProcess(
            self.data,
            CARBPAIR_RATE_LIMITS="false",
            CARBPAIR_WORKERS=str(WORKERS),
            # Kills come far more often than in life: a job may meet many.
            CARBPAIR_MAX_ATTEMPTS="1000",
        )
        self.accepted: set[tuple[str, str]] = set()
        self.refused = 0
        self.server_recoveries: list[float] = []
        self.worker_recoveries: list[float] = []
        self.kills = 0
        self.rounds = 0
        self.token = ""
        self.stop = threading.Event()

    def start(self) -> None:
        """Start the service, get a token for its API, and let photos come in."""
        from carbpair.cases import account
        from carbpair.cases.settings import ServiceSettings
        from carbpair.cases.workspace import open_workspace

        workspace = open_workspace(ServiceSettings(data_dir=self.data))
        with workspace.database.write() as connection:
            user = account.create_user(connection, "soak", "ann", PASSWORD)
            self.token = account.open_session(connection, user, 86400, kind="bearer")
        workspace.close()
        self.service.start()
        threading.Thread(target=self.keep_sending, daemon=True).start()

    def keep_sending(self) -> None:
        """Send photos, one after the other, while the queue is short."""
        while not self.stop.is_set():
            if self.waiting() >= MOST_WAITING:
                time.sleep(0.2)
            else:
                self.send()
                time.sleep(0.05)

    def send(self) -> None:
        """Send a photo into a new case; what was answered 201 must never be lost."""
        headers = {"authorization": f"Bearer {self.token}"}
        address = self.service.url
        try:
            made = httpx.post(f"{address}/api/cases", json={"title": "soak"}, headers=headers)
            case_id = made.json()["id"]
            answer = httpx.post(
                f"{address}/api/cases/{case_id}/photos", headers=headers, timeout=20,
                files={"photo": ("x.jpg", picture(self.rng), "image/jpeg")},
            )  # fmt: skip
        except (httpx.TransportError, KeyError, ValueError):
            self.refused += 1
            return
        if answer.status_code == HTTPStatus.CREATED:
            self.accepted.add((case_id, answer.json()["id"]))
        else:
            self.refused += 1

    def round(self) -> None:
        """Let it work for a moment, then kill something at a random moment of its work."""
        self.rounds += 1
        if self.rounds % MEASURE_EVERY == 0:
            self.measure_worker()
            return
        time.sleep(self.random.uniform(*SECONDS_BETWEEN))
        chosen = self.random.choices(("worker", "server", "all"), weights=(5, 2, 3))[0]
        workers = self.service.workers()
        if chosen == "worker":
            if workers:
                self.kill(self.random.choice(workers))
            return
        if chosen == "all":
            for worker in workers:
                self.kill(worker)
        begun = time.monotonic()
        self.service.kill()
        self.kills += 1
        self.service.start()
        self.server_recoveries.append(time.monotonic() - begun)

    def measure_worker(self) -> None:
        """Kill a worker while work waits; time until a result is written, with no other kill."""
        workers = self.service.workers()
        if not workers or not self.waiting():
            return
        done, begun = self.count("analysis", "state = 'done'"), time.monotonic()
        self.kill(self.random.choice(workers))
        while self.count("analysis", "state = 'done'") == done:
            if time.monotonic() - begun > 2 * RECOVERY_LIMIT_SECONDS:
                break
            time.sleep(0.1)
        self.worker_recoveries.append(time.monotonic() - begun)

    def kill(self, pid: int) -> None:
        """SIGKILL to a worker of ours; one that has just ended by itself is no kill."""
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
            self.kills += 1

    def waiting(self) -> int:
        """Count analyses that are not done yet."""
        return self.count("analysis", "state IN ('queued', 'running')")

    def count(self, table: str, where: str = "1 = 1") -> int:
        """Count rows, past the service."""
        connection = sqlite3.connect(self.data / "carbpair.sqlite3", timeout=20)
        try:
            row = connection.execute(f"SELECT count(*) FROM {table} WHERE {where}").fetchone()  # noqa: S608
            return int(row[0])
        finally:
            connection.close()

    def verdict(self) -> bool:
        """Wait for the queue to drain, then compare what was accepted with what is there."""
        self.stop.set()
        end = time.monotonic() + DRAIN_SECONDS
        while self.waiting() and time.monotonic() < end:
            time.sleep(0.5)
        connection = sqlite3.connect(self.data / "carbpair.sqlite3")
        rows = set(connection.execute("SELECT case_id, id FROM photo"))
        files = {path.stem for path in (self.data / "photos").rglob("*.jpg")}
        results = connection.execute(
            "SELECT case_id, revision, count(*) FROM analysis GROUP BY 1, 2"
        ).fetchall()
        finished = {row[0] for row in connection.execute(
            "SELECT case_id FROM analysis WHERE state = 'done'")}  # fmt: skip
        events = connection.execute(
            "SELECT case_id, count(*) FROM audit_event WHERE action = 'analysis_done' GROUP BY 1"
        ).fetchall()
        connection.close()
        lost = [pair for pair in self.accepted if pair not in rows or pair[1] not in files]
        unanalysed = [pair for pair in self.accepted if pair[0] not in finished]
        double = sum(1 for row in results if row[2] > 1) + sum(1 for row in events if row[1] > 1)
        accepted = len(self.accepted)
        print(f"kills: {self.kills} in {self.rounds} rounds; accepted photos: {accepted}; "
              f"requests that a kill cut off or refused: {self.refused}")  # fmt: skip
        if accepted:
            # With none of n lost, the true share lost is below this in 95 % (exact binomial).
            print(f"share lost, 95 % upper limit if none was: {1 - 0.05 ** (1 / accepted):.2%}")
        print(f"lost: {len(lost)}; without result: {len(unanalysed)}; duplicate results: {double}")
        for name, times in (
            ("server", self.server_recoveries), ("worker", self.worker_recoveries),
        ):  # fmt: skip
            if times:
                middle = sorted(times)[len(times) // 2]
                print(f"{name} recovery: median {middle:.1f} s, longest {max(times):.1f} s, "
                      f"n = {len(times)}")  # fmt: skip
        slowest = max([0.0, *self.server_recoveries, *self.worker_recoveries])
        return not (lost or unanalysed or double) and slowest <= RECOVERY_LIMIT_SECONDS


def main() -> int:
    """Run the soak from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    soak = Soak(options.seed)
    soak.start()
    end = time.monotonic() + options.minutes * 60
    shown = 0
    try:
        while soak.kills < options.kills and time.monotonic() < end:
            soak.round()
            if soak.kills // 100 != shown:
                shown = soak.kills // 100
                print(f"{soak.kills} kills, {len(soak.accepted)} photos accepted", flush=True)
        good = soak.verdict()
    finally:
        soak.service.stop()
    print("passed" if good else "FAILED")
    return 0 if good else 1


if __name__ == "__main__":
    raise SystemExit(main())
