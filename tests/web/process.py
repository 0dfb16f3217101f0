"""The service as people start it: its own process, with its workers."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx


class ServiceProcess:
    """``carbpair serve`` on a free port; output in ``log``."""

    def __init__(self, data_dir: Path, **settings: str) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.log = data_dir.parent / "serve.log"
        self._environment = os.environ | {"CARBPAIR_DATA_DIR": str(data_dir)} | settings
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, seconds: float = 60) -> None:
        command = [sys.executable, "-m", "carbpair.http", "serve", "--port", str(self.port)]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(command, env=self._environment, stdout=log, stderr=log)
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            assert self.process.poll() is None, self.log.read_text()
            try:
                if httpx.get(f"{self.url}/health", timeout=2).status_code == 200:
                    return
            except httpx.TransportError:
                time.sleep(0.1)
        raise AssertionError(f"the service did not start: {self.log.read_text()}")

    def setup_address(self) -> str:
        found = re.search(r"http://\S+/setup/\w+", self.log.read_text())
        assert found is not None
        return found.group(0)

    def workers(self) -> list[int]:
        """Process ids of the workers, from /proc."""
        assert self.process is not None
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        threads = Path(f"/proc/{self.process.pid}/task").glob("*/children")
        return [int(pid) for path in {children, *threads} for pid in path.read_text().split()]

    def kill(self) -> None:
        """SIGKILL to the server; its workers notice by themselves."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(10)

    def stop(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(30)
            except subprocess.TimeoutExpired:
                self.process.kill()
