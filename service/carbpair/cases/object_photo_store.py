"""Photos in an S3-compatible (or other object) store, through obstore (optional extra)."""

from collections.abc import Iterator
from typing import Any

from carbpair.cases.error import NotFoundError
from carbpair.cases.photo_store import check_key


class ObjectPhotoStore:
    """Photos as objects; needs ``pip install 'carbpair[s3]'``."""

    def __init__(self, store: Any) -> None:
        """Keep objects in `store`, any of obstore's stores."""
        self._store = store

    @classmethod
    def from_url(cls, url: str) -> "ObjectPhotoStore":
        """Open `url`, e.g. ``s3://bucket/prefix``; credentials come from the environment.

        Raises RuntimeError when the optional package is missing.
        """
        try:
            from obstore.store import from_url
        except ImportError:
            raise RuntimeError(
                "the photo store is set to a URL, which needs: pip install 'carbpair[s3]'"
            ) from None
        return cls(from_url(url))

    def put(self, key: str, data: bytes) -> None:
        """See PhotoStore."""
        self._store.put(check_key(key), data)

    def get(self, key: str) -> bytes:
        """See PhotoStore."""
        try:
            return bytes(self._store.get(check_key(key)).bytes())
        except FileNotFoundError:
            raise NotFoundError(f"no file is kept as {key}") from None

    def delete(self, key: str) -> None:
        """See PhotoStore."""
        try:
            self._store.delete(check_key(key))
        except FileNotFoundError:
            return

    def keys(self, prefix: str = "") -> Iterator[str]:
        """See PhotoStore; obstore lists by whole folder names, so the prefix is checked here."""
        folder = prefix.rpartition("/")[0]
        for chunk in self._store.list(folder or None):
            for entry in chunk:
                if entry["path"].startswith(prefix):
                    yield entry["path"]
