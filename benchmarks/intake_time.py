"""From the link to the first result on a phone-sized page over a slow line.

    python benchmarks/intake_time.py [--mbit 1] [--runs 5] [--photo FILE]

Starts the service, opens a fresh customer link in Chromium at phone size with throttled network
(both ways) and sends one photo; prints the time from opening the link to the result on the page,
and the taps that it took (choosing the photo counts as three: open the camera, release, accept).
"""

import argparse
import re
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from tests.web.live import chromium, open_context, slow
from tests.web.process import ServiceProcess

from carbpair.cases import case, link
from carbpair.cases.settings import ServiceSettings
from carbpair.cases.workspace import open_workspace

TAPS = ("open the link", "take or choose a photo", "camera", "release", "accept")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    root = Path(__file__).parents[1]
    parser.add_argument("--mbit", type=float, default=1.0)
    parser.add_argument("--runs", type=int, default=5)
    default = root / "sample_images" / "two-hole-inboard.jpg"
    parser.add_argument("--photo", type=Path, default=default)
    options = parser.parse_args()
    data = Path(tempfile.mkdtemp(prefix="carbpair-intake-")) / "data"
    workspace = open_workspace(ServiceSettings(data_dir=data))
    tokens = []
    with workspace.database.write() as connection:
        for number in range(options.runs):
            made = case.create(connection, "bench", f"case {number}")
            tokens.append(link.create(connection, "bench", made.id, 3600)[0])
    workspace.close()
    service = ServiceProcess(data)
    service.start()
    times = []
    with chromium() as browser:
        for token in tokens:
            context = open_context(browser, "phone")
            page = context.new_page()
            slow(page, options.mbit * 1e6)
            begun = time.monotonic()
            page.goto(f"{service.url}/l/{token}")
            page.set_input_files("#take-intake", str(options.photo))
            page.get_by_text(re.compile("carburettors? (were|was) found")).wait_for(timeout=120_000)
            times.append(time.monotonic() - begun)
            context.close()
    service.stop()
    size = options.photo.stat().st_size / 1e6
    shown = ", ".join(f"{value:.1f}" for value in sorted(times))
    print(f"{options.photo.name} ({size:.2f} MB) at {options.mbit:g} Mbit/s: {shown} s, "
          f"n = {len(times)}; {len(TAPS)} taps: {', '.join(TAPS)}")  # fmt: skip


if __name__ == "__main__":
    main()
