"""A running service in this process, and Debian's Chromium to drive it."""

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event

import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from carbpair.cases import account, case, link
from carbpair.cases.task import giver_up, performer
from carbpair.cases.workspace import Workspace
from carbpair.http.app import create_app

PASSWORD = "three quiet carburettors"  # noqa: S105 - for tests
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    # A moving test picture as camera, allowed without asking; Chromium's own, for tests.
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
         "device_scale_factor": 2}  # fmt: skip
DESKTOP = {"viewport": {"width": 1280, "height": 900}}
SIZES = {"phone": PHONE, "desktop": DESKTOP}


class Live:
    """Server and worker on a workspace; `url` is the server's address."""

    def __init__(self, workspace: Workspace) -> None:
        self.workspace = workspace
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self._port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self._port}"
        self._stop = Event()
        self._start_server()
        self._worker = threading.Thread(target=self._work, daemon=True)
        self._worker.start()
        with workspace.database.write() as connection:
            account.create_user(connection, "test", "ann", PASSWORD)

    def _start_server(self) -> None:
        config = uvicorn.Config(
            create_app(self.workspace), host="127.0.0.1", port=self._port, log_level="error",
            access_log=False, timeout_graceful_shutdown=1,
        )  # fmt: skip
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        end = time.monotonic() + 20
        while not self._server.started and time.monotonic() < end:
            time.sleep(0.02)
        assert self._server.started

    def _work(self) -> None:
        self.workspace.queue.run(performer(self.workspace), giver_up(self.workspace), self._stop)

    def stop_server(self) -> None:
        self._server.should_exit = True
        self._server.force_exit = True
        self._thread.join(20)

    def restart_server(self) -> None:
        self._start_server()

    def stop(self) -> None:
        self._stop.set()
        self.stop_server()
        self._worker.join(20)

    def new_case(self, title: str = "Blue two-seater") -> tuple[str, str]:
        """(case id, address of a fresh customer link)."""
        with self.workspace.database.write() as connection:
            made = case.create(connection, "ann", title)
            token, _ = link.create(connection, "ann", made.id, 3600)
        return made.id, f"{self.url}/l/{token}"


@contextmanager
def chromium() -> Iterator[Browser]:
    program = shutil.which("chromium")
    assert program is not None, "Chromium is not installed (tests/run installs it)"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, headless=True, args=FLAGS)
        yield browser
        browser.close()


def open_context(browser: Browser, size: str = "phone", **more: object) -> BrowserContext:
    """A fresh profile that fails the test on script errors and refused resources."""
    context = browser.new_context(locale="en-GB", **(SIZES[size] | more))  # type: ignore[arg-type]
    context.set_default_timeout(20_000)
    return context


def watch(page: Page) -> list[str]:
    """Collect script errors and policy violations of a page."""
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(f"script: {error}"))

    def on_console(message: object) -> None:
        text = str(getattr(message, "text", ""))
        if getattr(message, "type", "") == "error" and "Failed to load resource" not in text:
            faults.append(f"console: {text}")

    page.on("console", on_console)
    return faults


def slow(page: Page, bits_per_second: float, latency_ms: int = 40) -> None:
    """Throttle a page's network, both ways."""
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    rate = bits_per_second / 8
    session.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": latency_ms, "downloadThroughput": rate,
         "uploadThroughput": rate},
    )  # fmt: skip


def log_in(page: Page, url: str) -> None:
    page.goto(f"{url}/login")
    page.get_by_label("Name").fill("ann")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    page.get_by_role("heading", name="Cases").wait_for()
