"""An S3 endpoint on loopback: moto's server, spoken to over HTTP like any other."""

from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest
from moto.server import ThreadedMotoServer

BUCKET = "photos"


@contextmanager
def s3_url(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A photo store URL with an empty bucket; the endpoint stands in the environment."""
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    endpoint = f"http://{host}:{port}"
    for name, value in {
        "AWS_ENDPOINT": endpoint,
        "AWS_ALLOW_HTTP": "true",
        "AWS_REGION": "us-east-1",
        "AWS_ACCESS_KEY_ID": "test",
        "AWS_SECRET_ACCESS_KEY": "test",
    }.items():
        monkeypatch.setenv(name, value)
    httpx.post(f"{endpoint}/moto-api/reset").raise_for_status()
    httpx.put(f"{endpoint}/{BUCKET}").raise_for_status()
    try:
        yield f"s3://{BUCKET}/workshop"
    finally:
        server.stop()


def objects(url: str) -> list[str]:
    """Keys of all objects in the bucket, asked of the server itself."""
    import obstore

    bucket = obstore.store.from_url(url.rpartition("/")[0])
    return sorted(entry["path"] for chunk in bucket.list() for entry in chunk)
