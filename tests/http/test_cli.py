"""Starting the service and making logins from the command line."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

PASSWORD = "three quiet carburettors"  # noqa: S105 - for tests


def _run(
    tmp_path: Path, *arguments: str, stdin: str = "", **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "carbpair.http", *arguments],
        input=stdin, capture_output=True, text=True, timeout=60,
        env=os.environ | {"CARBPAIR_DATA_DIR": str(tmp_path / "data")} | environment,
    )  # fmt: skip


def test_network_address_needs_a_secret(tmp_path: Path) -> None:
    done = _run(tmp_path, "serve", "--host", "0.0.0.0", "--port", "0")  # noqa: S104 - refused
    assert done.returncode == 2
    assert "CARBPAIR_SECRET" in done.stderr


@pytest.mark.parametrize("secret", ["", "changeme", "a" * 64, "short-but-random-1"])
def test_production_refuses_secrets_that_can_be_guessed(tmp_path: Path, secret: str) -> None:
    environment = {"CARBPAIR_ENVIRONMENT": "production", "CARBPAIR_SECRET": secret}
    done = _run(tmp_path, "serve", "--port", "0", **environment)
    assert done.returncode == 2
    assert "CARBPAIR_SECRET" in done.stderr
    assert not (tmp_path / "data").exists()


def test_logins_and_tokens(tmp_path: Path) -> None:
    made = _run(tmp_path, "user", "add", "ann", "--password", PASSWORD)
    assert "ann can log in now" in made.stdout
    assert _run(tmp_path, "user", "add", "ann", "--password", PASSWORD).returncode == 2
    assert _run(tmp_path, "user", "add", "bob", "--password", "short").returncode == 2
    token = _run(tmp_path, "user", "token", "ann", "--password", PASSWORD).stdout.strip()
    assert len(token) >= 43
    assert _run(tmp_path, "user", "token", "ann", "--password", "wrong").returncode == 2
    assert _run(tmp_path, "user", "disable", "ann").returncode == 0
    assert _run(tmp_path, "user", "token", "ann", "--password", PASSWORD).returncode == 2


def test_local_secret_is_made_once_and_private(tmp_path: Path) -> None:
    from carbpair.cases.settings import ServiceSettings

    settings = ServiceSettings(data_dir=tmp_path)
    first = settings.resolved_secret()
    assert len(first) >= 32
    assert settings.resolved_secret() == first
    assert (tmp_path / "secret").stat().st_mode & 0o077 == 0
