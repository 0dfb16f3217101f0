"""How time and memory grow: 1 to 1,000 photos, 1 to 50 megapixels, one and two workers; profile.

    python benchmarks/growth.py [--json FILE] [--most 1000]

Every figure is one run in a fresh process (its peak memory is its own); photos are the sample
pictures at the stated size, taken in turn. The profile is the share of each station on one thread.
"""

import argparse
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

os.environ.setdefault("CARBPAIR_THREADS", "1")

import cv2

SAMPLES = sorted((Path(__file__).parents[1] / "sample_images").glob("*.jpg"))
COUNTS = (1, 10, 100, 1000)
MEGAPIXELS = (1, 2, 5, 12, 24, 50)
REPEATS = 5

RUN = """
import json, resource, sys, time
from pathlib import Path
if __name__ == "__main__":
    from carbpair.evaluate.photo_reading import read_photos
    from carbpair.photo import PhotoLimits
    from carbpair.settings import default_model_dir
    files = [Path(f) for f in json.loads(sys.stdin.read())]
    workers = int(sys.argv[1])
    limits = PhotoLimits(max_megapixels=60)
    start = time.perf_counter()
    read_photos(files, default_model_dir(), limits, workers)
    took = time.perf_counter() - start
    who = resource.RUSAGE_SELF if workers == 1 else resource.RUSAGE_CHILDREN
    print(json.dumps([took, resource.getrusage(who).ru_maxrss / 1024]))
"""


def sized(folder: Path, megapixels: float, count: int) -> list[Path]:
    """Sample pictures at a size, as JPEG files; at most one file for each sample."""
    out = []
    for sample in SAMPLES[:count]:
        target = folder / f"{sample.stem}-{megapixels:g}.jpg"
        if not target.exists():
            pixels = cv2.imread(str(sample))
            h, w = pixels.shape[:2]
            k = (megapixels * 1e6 / (w * h)) ** 0.5
            way = cv2.INTER_AREA if k < 1 else cv2.INTER_CUBIC
            big = cv2.resize(pixels, (int(w * k), int(h * k)), interpolation=way)
            cv2.imwrite(str(target), big, [cv2.IMWRITE_JPEG_QUALITY, 90])
        out.append(target)
    return out


def run(files: list[Path], workers: int) -> tuple[float, float]:
    """Seconds and peak megabytes of reading files in a fresh process."""
    with tempfile.NamedTemporaryFile("w", suffix=".py") as script:
        script.write(RUN)
        script.flush()
        done = subprocess.run(  # noqa: S603 - our own script
            [sys.executable, script.name, str(workers)],
            input=json.dumps([str(f) for f in files]),
            capture_output=True,
            text=True,
            check=True,
        )
    took, memory = json.loads(done.stdout)
    return took, memory


def profile(files: list[Path]) -> dict[str, float]:
    """Seconds in each station over the files, one thread, warm."""
    from carbpair.inspection import examine
    from carbpair.photo import assess_quality, load_photo
    from carbpair.settings import default_model_dir
    from carbpair.vision import load_calibration, load_networks, read_carbs

    folder = default_model_dir()
    networks, calibration = load_networks(folder), load_calibration(folder)
    spent: dict[str, float] = {}

    def timed(name: str, work: Any, *args: Any) -> Any:
        start = time.perf_counter()
        out = work(*args)
        spent[name] = spent.get(name, 0.0) + time.perf_counter() - start
        return out

    class Timed:
        def __init__(self, name: str, network: Any) -> None:
            self.name, self.network = name, network

        def run(self, image: Any) -> Any:
            return timed(f"network {self.name}", self.network.run, image)

    watched: Any = {k: Timed(k, n) for k, n in networks.items()}
    for warm in (True, False):
        if not warm:
            spent.clear()
        for file in files:
            photo = timed("decode", load_photo, file)
            carbs = timed("locate and read", read_carbs, photo.pixels, watched, calibration)
            timed("quality", assess_quality, photo.pixels)
            timed("judge, with quality", examine, photo, carbs, calibration)
    inside = sum(v for k, v in spent.items() if k.startswith("network"))
    spent["resizing, crops, geometry"] = spent.pop("locate and read") - inside
    spent["judging and placing"] = max(0.0, spent.pop("judge, with quality") - spent["quality"])
    return spent


def keep(path: Path | None, result: dict[str, Any]) -> None:
    """Write what there is so far: a run of an hour may be stopped."""
    if path:
        path.write_text(json.dumps(result, indent=1) + "\n")


def main() -> None:
    """Print and keep the tables."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--json", type=Path)
    p.add_argument("--most", type=int, default=COUNTS[-1])
    a = p.parse_args()
    result: dict[str, Any] = {"counts": [], "megapixels": [], "load": os.getloadavg()[0]}
    with tempfile.TemporaryDirectory() as folder:
        small = sized(Path(folder), 1.2, len(SAMPLES))
        for count, workers in itertools.product(COUNTS, (1, 2)):
            if count > a.most:
                continue
            files = list(itertools.islice(itertools.cycle(small), count))
            took, memory = run(files, workers)
            result["counts"].append([count, workers, took, memory])
            words = f"{count:5d} photos of 1.2 MP, {workers} worker(s)"
            print(f"{words}: {took:7.1f} s, {memory:.0f} MB", flush=True)
            keep(a.json, result)
        for size in MEGAPIXELS:
            files = sized(Path(folder), size, REPEATS)
            took, memory = run(files, 1)
            result["megapixels"].append([size, len(files), took / len(files), memory])
            each = took / len(files)
            print(f"{size:3d} MP: {each:.2f} s a photo with the start, {memory:.0f} MB", flush=True)
            keep(a.json, result)
        spent = profile(sized(Path(folder), 12, REPEATS))
        total = sum(spent.values())
        result["profile"] = {"photos": REPEATS, "megapixels": 12, "seconds": spent}
        for name, seconds in sorted(spent.items(), key=lambda kv: -kv[1]):
            each, part = 1e3 * seconds / REPEATS, 100 * seconds / total
            print(f"{name:28s} {each:7.1f} ms a photo, {part:4.1f} %")
    keep(a.json, result)


if __name__ == "__main__":
    main()
