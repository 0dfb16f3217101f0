"""Answers under load, and a queue that drains in order without growing.

    python benchmarks/service_load.py [--clients 50] [--seconds 20] [--queue 200] [--photo FILE]

Starts the service on a fresh folder, queues photos, and while they are analysed lets clients
read the inbox, cases and the API. Prints p50, p95 and p99 with n; then waits for the queue and
prints its order, time and the memory (PSS, from /proc) of server and workers together.
"""

import argparse
import asyncio
import os
import random
import shutil
import sqlite3
import sys
import tempfile
import time
from http import HTTPStatus
from pathlib import Path
from urllib.parse import urlsplit

sys.path.insert(0, str(Path(__file__).parents[1]))
from tests.web.process import ServiceProcess

from carbpair.cases import account, case_files
from carbpair.cases import case as cases
from carbpair.cases.photo_intake import clean_photo
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import open_workspace

PASSWORD = "three quiet carburettors"  # noqa: S105 - for this run only
THINK_SECONDS = (0.5, 1.5)  # between a client's requests, as of people


class Client:
    """One kept connection that reads whole answers and does nothing else.

    A full HTTP client spends as much time on a request as the service does, and with 50 of them
    in one process that waiting would be measured, too.
    """

    def __init__(self, streams: tuple[asyncio.StreamReader, asyncio.StreamWriter], head: str):
        self._reader, self._writer = streams
        self._head = head

    @classmethod
    async def connect(cls, url: str, token: str) -> "Client":
        """Open a connection to ``http://host:port`` with a bearer token."""
        host = urlsplit(url).netloc
        streams = await asyncio.open_connection(*host.split(":"))
        return cls(streams, f"Host: {host}\r\nAuthorization: Bearer {token}\r\n\r\n")

    async def get(self, path: str) -> int:
        """Send a GET, read the answer to its end and return its status."""
        self._writer.write(f"GET {path} HTTP/1.1\r\n{self._head}".encode())
        head = (await self._reader.readuntil(b"\r\n\r\n")).decode("latin-1").lower()
        length = int(head.partition("content-length: ")[2].split("\r\n")[0])
        await self._reader.readexactly(length)
        return int(head.split()[1])

    def close(self) -> None:
        """Hang up."""
        self._writer.close()


def memory_mb(pids: list[int]) -> float:
    """Proportional set size of processes, in MB: shared pages are counted once."""
    total = 0
    for pid in pids:
        try:
            text = Path(f"/proc/{pid}/smaps_rollup").read_text()
        except OSError:
            continue
        total += int(text.partition("Pss:")[2].split()[0])
    return total / 1024


def prepare(data: Path, photo: Path, count: int) -> tuple[str, list[str]]:
    """Queue `count` photos, each in a case of its own; returns a token and the cases."""
    settings = ServiceSettings(data_dir=data, queue_limit=count + 1)
    workspace = open_workspace(settings)
    with workspace.database.write() as connection:
        user = account.create_user(connection, "bench", "ann", PASSWORD)
        token = account.open_session(connection, user, 86400, kind="bearer")
    clean = clean_photo(photo.read_bytes(), settings)
    ids = []
    for number in range(count):
        with workspace.database.write() as connection:
            made = cases.create(connection, "ann", f"case {number}")
        case_files.add_photo(workspace, "ann", made.id, clean)
        ids.append(made.id)
    workspace.close()
    return token, ids


async def load(url: str, token: str, ids: list[str], clients: int, seconds: float) -> list[float]:
    """Let `clients` read pages and the API; returns the times of all answers, in ms."""
    times: list[float] = []
    slow: dict[str, list[float]] = {}
    end = time.monotonic() + seconds

    async def one(number: int) -> None:
        rng = random.Random(number)  # noqa: S311 - no secret
        await asyncio.sleep(rng.uniform(0, THINK_SECONDS[1]))
        client = await Client.connect(url, token)
        while time.monotonic() < end:
            case_id = rng.choice(ids)
            path = rng.choice(
                ["/desk", f"/desk/cases/{case_id}", "/api/cases?limit=20",
                 f"/api/cases/{case_id}", f"/api/cases/{case_id}/analysis", "/css/base.css"]
            )  # fmt: skip
            begun = time.perf_counter()
            status = await client.get(path)
            times.append((time.perf_counter() - begun) * 1e3)
            slow.setdefault(path.replace(case_id, "ID"), []).append(times[-1])
            if status != HTTPStatus.OK:
                raise RuntimeError(f"{path} answered {status}")
            await asyncio.sleep(rng.uniform(*THINK_SECONDS))
        client.close()

    await asyncio.gather(*(one(number) for number in range(clients)))
    for path, each in sorted(slow.items()):
        each.sort()
        print(f"  {path}: p50 {each[len(each) // 2]:.0f} ms, "
              f"p95 {each[int(len(each) * 0.95)]:.0f} ms, n = {len(each)}")  # fmt: skip
    return times


def drain(data: Path, service: ServiceProcess) -> None:
    """Wait for the queue; print order, time and memory."""
    peak = first = 0.0
    begun = time.monotonic()
    connection = sqlite3.connect(data / "carbpair.sqlite3", timeout=30)
    while True:
        waiting = connection.execute(
            "SELECT count(*) FROM analysis WHERE state IN ('queued', 'running')"
        ).fetchone()[0]
        server = [service.process.pid] if service.process else []
        now = memory_mb(server + service.workers())
        first, peak = first or now, max(peak, now)
        if not waiting:
            break
        time.sleep(1)
    rows = connection.execute(
        "SELECT a.state, a.finished_at FROM analysis a ORDER BY a.queued_at"
    ).fetchall()
    finished = [row[1] for row in rows if row[0] == "done"]
    ordered = finished == sorted(finished)
    print(f"queue: {len(finished)} of {len(rows)} done, in order: {ordered}, "
          f"{time.monotonic() - begun:.0f} s after the load")  # fmt: skip
    print(f"memory of server and workers: first {first:.0f} MB, peak {peak:.0f} MB (limit 1024)")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--queue", type=int, default=200)
    root = Path(__file__).parents[1]
    default = root / "sample_images" / "two-hole-inboard.jpg"
    parser.add_argument("--photo", type=Path, default=default)
    options = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="carbpair-load-"))
    data = folder / "data"
    token, ids = prepare(data, options.photo, options.queue)
    service = ServiceProcess(data, CARBPAIR_RATE_LIMITS="false")
    service.start()
    try:
        time.sleep(3)
        times = sorted(asyncio.run(load(service.url, token, ids, options.clients, options.seconds)))
        count = len(times)
        shown = {part: times[min(count - 1, int(count * part))] for part in (0.5, 0.95, 0.99)}
        text = ", ".join(f"p{part * 100:.0f} {value:.0f} ms" for part, value in shown.items())
        load_average = ", ".join(f"{value:.1f}" for value in os.getloadavg())
        print(f"{options.clients} clients, {options.seconds:.0f} s: {text}, n = {count}; "
              f"load average {load_average}")  # fmt: skip
        drain(data, service)
    finally:
        service.stop()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
