"""Atheris feeds the service broken multipart bodies and tus headers: a 5xx is a fault.

pip install 'carbpair[fuzz]'
python -m tests.fuzz.fuzz_requests -max_total_time=600
"""

import logging
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(
    include=["carbpair.http", "carbpair.cases", "python_multipart", "starlette"]
):
    from carbpair.cases.settings import ServiceSettings
    from carbpair.cases.workspace import open_workspace
    from tests.http.desk import Desk, tus_create

LENGTH = 400

folder = Path(tempfile.mkdtemp(prefix="carbpair-fuzz-"))
desk = Desk.open(
    open_workspace(
        ServiceSettings(
            data_dir=folder, rate_limits=False, one_shot_wait_seconds=0.05, queue_limit=10**6
        )
    )
)
case_id = desk.new_case()
link = desk.new_link(case_id)
upload = tus_create(desk.visitor, link, LENGTH).headers["location"]


def one_request(data: bytes) -> None:
    """Send one request made from `data`; any answer below 500 is right."""
    given = atheris.FuzzedDataProvider(data)
    kind = given.ConsumeIntInRange(0, 2)

    def header(usual: str) -> str:
        # Mostly the usual text with a mutation's worth of something else around it.
        if given.ConsumeBool():
            return usual
        # A server gets header bytes as Latin-1 without controls: others never leave a client.
        text = given.ConsumeBytes(24).decode("latin-1")
        return "".join(c for c in text if c == "\t" or 32 <= ord(c) != 127)

    try:
        if kind == 0:
            boundary = header("frontier")
            headers = {"content-type": f"multipart/form-data; boundary={boundary}"}
            body = given.ConsumeBytes(600)
            if given.ConsumeBool():
                name = header('form-data; name="photo"; filename="x.jpg"').encode("latin-1")
                edge = boundary.encode("latin-1")
                body = b"--%s\r\nContent-Disposition: %s\r\n\r\n%s\r\n--%s--\r\n" % (
                    edge, name, body, edge,
                )  # fmt: skip
            path = f"/api/cases/{case_id}/photos" if given.ConsumeBool() else "/inspect"
            answer = desk.client.post(path, content=body, headers=headers)
        elif kind == 1:
            headers = {
                "tus-resumable": header("1.0.0"),
                "upload-length": header("10"),
                "upload-metadata": header("view aW50YWtl"),
            }
            answer = desk.visitor.post(f"{link}/uploads", headers=headers)
            if answer.status_code == 201:
                desk.visitor.delete(answer.headers["location"])
        else:
            headers = {
                "tus-resumable": header("1.0.0"),
                "upload-offset": header("0"),
                "content-type": header("application/offset+octet-stream"),
            }
            answer = desk.visitor.patch(upload, content=given.ConsumeBytes(100), headers=headers)
    except UnicodeEncodeError:
        return  # the client itself refused to send it
    # No worker runs here: that an inspection is told to come back later is right.
    busy = answer.status_code == 503 and "retry-after" in answer.headers
    assert answer.status_code < 500 or busy, (answer.status_code, answer.text)


def main() -> None:
    """Fuzz until libFuzzer's limits are reached."""
    logging.getLogger("python_multipart").setLevel(logging.CRITICAL)
    options = ["-max_len=2000", "-len_control=0", "-rss_limit_mb=4096"]
    atheris.Setup([*sys.argv, *options], one_request)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
