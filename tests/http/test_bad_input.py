"""Bad inputs of every kind: each a clear 4xx, never a 5xx, and nothing is kept."""

import io
import random
import zlib
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from tests.cases.pictures import jpeg
from tests.http.desk import Desk, tus_send

SCRIPT = "\"><script>alert(1)</script><img src=x onerror=alert(1)>'{{7331*7}}${7331*7}"
NAMES = ("../../etc/passwd", "..\\..\\x", "a\x00b", "x" * 5000, "con", "/abs", "%2e%2e%2f", SCRIPT)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")


def _png_bomb(side: int) -> bytes:
    header = side.to_bytes(4, "big") * 2 + b"\x08\x02\x00\x00\x00"
    body = zlib.compress(b"\x00" * 1_000_000)
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", header)
        + _chunk(b"IDAT", body)
        + _chunk(b"IEND", b"")
    )


def _files() -> Iterator[tuple[str, bytes]]:
    """More than 200 files that are no usable photo, each with its name."""
    good = jpeg(1)
    rng = random.Random(7)
    for side in (10_000, 30_000, 65_535, 2**31 - 1):
        yield f"png bomb {side}", _png_bomb(side)
    yield from {
        "empty": b"",
        "one byte": b"\xff",
        "text": b"hello " * 100,
        "html": b"<!doctype html><script>alert(1)</script>",
        "svg": b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
        "svg with entity": b"<!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/passwd'>]><svg>&e;</svg>",
        "zip": b"PK\x03\x04" + b"\x00" * 200,
        "pdf": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n",
        "elf": b"\x7fELF" + b"\x00" * 200,
        "exe": b"MZ" + b"\x00" * 200,
        "gzip": zlib.compress(b"x" * 10_000),
        "jpeg magic only": b"\xff\xd8\xff",
        "png magic only": b"\x89PNG\r\n\x1a\n",
        "webp magic only": b"RIFF\x00\x00\x00\x00WEBP",
        "heic magic only": b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic",
        "html before jpeg": b"<html>" + good,
        "zip before jpeg": b"PK\x03\x04" + good,
        "nulls": b"\x00" * 5000,
        "mp4": b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom" + b"\x00" * 300,
    }.items()
    for kind in ("GIF", "BMP", "TIFF", "PPM", "ICO", "TGA"):
        buffer = io.BytesIO()
        Image.new("RGB", (64, 64), (9, 9, 9)).save(buffer, kind)
        yield f"format {kind}", buffer.getvalue()
    for percent in range(1, 61):
        yield f"truncated at {percent} %", good[: len(good) * percent // 100]
    head = good.index(b"\xff\xda")  # start of scan: damage before it breaks the picture's frame
    for index in range(130):
        damaged = bytearray(good)
        # The first two bytes of a marker segment: its kind and length.
        for _ in range(12):
            damaged[rng.randrange(2, head)] = rng.randrange(256)
        damaged[rng.randrange(0, 2)] ^= 0xFF
        yield f"damaged {index}", bytes(damaged)


FILES = list(_files())


def test_there_are_enough_kinds() -> None:
    assert len(FILES) >= 200
    assert len({data for _, data in FILES}) >= 200


def test_no_bad_file_is_taken_by_the_api_or_by_upload(desk: Desk) -> None:
    case_id = desk.new_case()
    link = desk.new_link(case_id)
    wrong: list[str] = []
    for index, (name, data) in enumerate(FILES):
        if index % 2 or not data:
            answer = desk.add_photo(case_id, data)
        else:
            answer = tus_send(desk.visitor, link, data)
        if not 400 <= answer.status_code < 500 or not answer.json().get("detail"):
            wrong.append(f"{name}: {answer.status_code} {answer.text[:100]}")
    assert wrong == []
    assert desk.client.get(f"/api/cases/{case_id}/photos").json() == []
    assert list(desk.workspace.store.keys()) == []
    folder = desk.workspace.settings.data_dir / "uploads"
    assert not folder.exists() or list(folder.iterdir()) == []


@pytest.mark.parametrize("name", NAMES)
def test_hostile_file_names_are_harmless(desk: Desk, name: str) -> None:
    case_id = desk.new_case()
    disposition = f'form-data; name="photo"; filename="{name}"'.encode("utf-8", "replace")
    body = b"--b\r\nContent-Disposition: " + disposition.replace(b"\r", b"").replace(b"\n", b"")
    body += b"\r\nContent-Type: image/jpeg\r\n\r\n" + jpeg(1) + b"\r\n--b--\r\n"
    headers = {"content-type": "multipart/form-data; boundary=b"}
    answer = desk.client.post(f"/api/cases/{case_id}/photos", content=body, headers=headers)
    assert answer.status_code in (201, 400, 422)
    if answer.status_code == 201:
        assert answer.json()["file"] == "photo-01.jpg"


def test_script_in_every_text_field_stays_text(desk: Desk) -> None:
    case_id = desk.new_case(SCRIPT, remarks=SCRIPT, tag_text=SCRIPT[:60], car=SCRIPT[:70])
    link = desk.new_link(case_id)
    form = {"car": SCRIPT[:70], "engine": SCRIPT[:70], "tag_text": SCRIPT, "remarks": SCRIPT}
    assert desk.visitor.post(f"{link}/about", data=form).status_code == 200
    note = {"outcome": "bad", "note": SCRIPT}
    desk.client.put(f"/api/cases/{case_id}/checklist/spindle_play", json=note)
    body = {"position": "left", "feature": "tag", "value": SCRIPT, "note": SCRIPT}
    assert desk.client.post(f"/api/cases/{case_id}/corrections", json=body).status_code == 201
    pages = ("/desk", f"/desk/cases/{case_id}", f"/desk/cases/{case_id}/report", link)
    for path in (*pages, f"/desk/cases/{case_id}/delete"):
        text = desk.client.get(path).text
        assert "<script>alert" not in text, path
        assert "<img src=x" not in text, path
        assert "51317" not in text, f"{path} ran a template"
        policy = desk.client.get(path).headers["content-security-policy"]
        assert "unsafe" not in policy


def test_pages_have_no_inline_script_style_or_handler(desk: Desk) -> None:
    import re

    case_id = desk.new_case()
    desk.add_photo(case_id)
    for path in ("/login", "/desk", f"/desk/cases/{case_id}", desk.new_link(case_id)):
        text = desk.client.get(path).text
        for script in re.findall(r"<script[^>]*>", text):
            assert " src=" in script or "application/json" in script, (path, script)
        assert not re.search(r"<[^>]+\s(on\w+|style)=", text), path
        assert "<style" not in text


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("POST", "/api/cases", b"{"),
        ("POST", "/api/cases", b"[]"),
        ("POST", "/api/cases", b'{"title": 1}'),
        ("POST", "/api/cases", b'{"title": "\\u0000"}'),
        ("POST", "/api/cases", b'{"title": "t", "year": 1e400}'),
        ("POST", "/api/cases", b'{"title": "t", "symptoms": "x"}'),
        ("POST", "/api/cases", b'{"title": "t"' + b"}" * 3000),
        ("POST", "/api/cases", b"\xff\xfe\x00"),
        ("GET", "/api/cases?limit=0", b""),
        ("GET", "/api/cases?limit=99999999999999999999", b""),
        ("GET", "/api/cases?before=-1", b""),
        ("GET", "/api/cases?state=%00", b""),
        ("GET", "/api/cases/%2e%2e", b""),
        ("GET", "/desk?state=x", b""),
        ("GET", "/desk?before=99999999999999999999", b""),
        ("GET", "/views/../../x.svg", b""),
        ("GET", "/css/../../pyproject.toml", b""),
        ("GET", "/css/%2e%2e/%2e%2e/pyproject.toml", b""),
        ("TRACE", "/api/cases", b""),
        ("DELETE", "/api/cases", b""),
        ("POST", "/inspect", b"x"),
        ("POST", "/language", b"language=xx"),
    ],
)
def test_broken_requests_are_refused(desk: Desk, method: str, path: str, body: bytes) -> None:
    kind = "application/x-www-form-urlencoded" if path == "/language" else "application/json"
    answer = desk.client.request(method, path, content=body, headers={"content-type": kind})
    assert 400 <= answer.status_code < 500, (answer.status_code, answer.text[:200])
    assert desk.client.get("/api/cases").json()["cases"] == []


@pytest.mark.parametrize("key", ["", "x" * 201, "\x01"])
def test_broken_idempotency_keys_are_refused(desk: Desk, key: str) -> None:
    headers = {"idempotency-key": key.encode()}
    answer = desk.client.post("/api/cases", json={"title": "t"}, headers=headers)
    assert answer.status_code == 422


_text = st.text(max_size=60)
_value = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), _text, st.lists(_text))


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    path=st.sampled_from(
        ["/api/cases", "/api/cases/{c}", "/api/cases/{c}/links", "/api/cases/{c}/corrections",
         "/api/cases/{c}/checklist/x"]
    ),
    method=st.sampled_from(["POST", "PATCH", "PUT", "DELETE", "GET"]),
    body=st.dictionaries(
        st.sampled_from(["title", "car", "year", "symptoms", "days", "position", "feature",
                         "value", "photo_id", "drawing", "note", "outcome", "state", "x"]),
        _value, max_size=5,
    ),
    query=_text,
)  # fmt: skip
def test_random_requests_never_break_the_server(
    desk: Desk, path: str, method: str, body: dict[str, object], query: str
) -> None:
    import json
    import math

    clean = {
        key: None if isinstance(value, float) and not math.isfinite(value) else value
        for key, value in body.items()
    }
    path = path.replace("{c}", desk.new_case())
    answer = desk.client.request(
        method, path, content=json.dumps(clean), params={"before": query, "limit": query},
        headers={"content-type": "application/json"},
    )  # fmt: skip
    assert answer.status_code < 500, (method, path, clean, answer.text)
