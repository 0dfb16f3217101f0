"""Where the bytes of photos are kept: one small interface, files on disk by default."""

import os
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from carbpair.cases.error import NotFoundError

# Keys are made by us from identifiers, never from a sender's file name.
KEY = re.compile(r"[a-z0-9_-]+(/[a-z0-9_-]+)*(\.[a-z0-9]+)?")


class PhotoStore(Protocol):
    """Bytes under keys such as ``cases/ID/ID.jpg``; all calls are safe to repeat."""

    def put(self, key: str, data: bytes) -> None:
        """Keep `data` under `key`; on return it survives a power cut."""

    def get(self, key: str) -> bytes:
        """Return the bytes under `key`; raises NotFoundError."""

    def delete(self, key: str) -> None:
        """Remove `key`; no error if it is gone already."""

    def keys(self, prefix: str = "") -> Iterator[str]:
        """Yield all keys that start with `prefix`."""


def check_key(key: str) -> str:
    """Return `key`, or raise ValueError if it could point outside the store."""
    if not KEY.fullmatch(key):
        raise ValueError(f"not a store key: {key!r}")
    return key


class DiskPhotoStore:
    """Files below one folder, readable by the service's user only."""

    def __init__(self, root: Path) -> None:
        """Keep files below `root`, which is made when missing."""
        self.root = root
        root.mkdir(parents=True, exist_ok=True, mode=0o700)

    def put(self, key: str, data: bytes) -> None:
        """See PhotoStore: written aside, synced, then renamed, so never seen half-written."""
        path = self.root / check_key(key)
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".part-")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(temporary).replace(path)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
        _sync_folder(path.parent)

    def get(self, key: str) -> bytes:
        """See PhotoStore."""
        try:
            return (self.root / check_key(key)).read_bytes()
        except FileNotFoundError:
            raise NotFoundError(f"no file is kept as {key}") from None

    def delete(self, key: str) -> None:
        """See PhotoStore; folders left empty go too."""
        path = self.root / check_key(key)
        path.unlink(missing_ok=True)
        for folder in path.parents:
            if folder == self.root:
                break
            try:
                folder.rmdir()
            except OSError:
                break

    def keys(self, prefix: str = "") -> Iterator[str]:
        """See PhotoStore; files being written are left out."""
        for path in sorted(self.root.rglob("*")):
            key = path.relative_to(self.root).as_posix()
            if path.is_file() and not path.name.startswith(".") and key.startswith(prefix):
                yield key


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
