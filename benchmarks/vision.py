"""Photo to features on one pinned thread: 12-megapixel JPEG, against decoding and bare networks.

    taskset -c 0 python benchmarks/vision.py [PHOTO...]

Prints, for each photo (default: the sample images enlarged to 4000 x 2667 pixels and a 4000 x 3000
canvas), the medians over REPEATS warm runs: decoding alone, the networks' bare forward passes on
the very inputs they saw, the whole line, and their ratio; then peak memory and the cold start.
"""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

os.environ.setdefault("CARBPAIR_THREADS", "1")

import cv2
import numpy as np
import simplejpeg

from carbpair.inspection import examine
from carbpair.photo import load_photo_bytes
from carbpair.settings import Settings
from carbpair.vision import load_calibration, load_networks, read_carbs

REPEATS = 9
SIZE = (4000, 3000)


class Recorder:
    """A network that remembers its inputs."""

    def __init__(self, network: Any) -> None:
        self.network = network
        self.inputs: list[np.ndarray] = []

    def run(self, image: np.ndarray) -> list[np.ndarray]:
        """Forward, keeping a copy of the input."""
        self.inputs.append(image.copy())
        return list(self.network.run(image))


def enlarged(path: Path) -> bytes:
    """A 12-megapixel JPEG of a picture: fitted to the width, the rest mirrored."""
    pixels = cv2.imread(str(path))
    k = SIZE[0] / pixels.shape[1]
    big = cv2.resize(pixels, (SIZE[0], round(pixels.shape[0] * k)), interpolation=cv2.INTER_CUBIC)
    missing = max(0, SIZE[1] - big.shape[0])
    big = cv2.copyMakeBorder(big, 0, missing, 0, 0, cv2.BORDER_REFLECT)[: SIZE[1]]
    return cv2.imencode(".jpg", big, [cv2.IMWRITE_JPEG_QUALITY, 90])[1].tobytes()


def median_ms(work: Any) -> float:
    """Median milliseconds of REPEATS runs after one warm-up."""
    work()
    taken = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        taken.append(1e3 * (time.perf_counter() - start))
    return statistics.median(taken)


def measure(name: str, data: bytes) -> tuple[float, float]:
    """Print one photo's line; returns (whole line in ms, ratio)."""
    folder = Settings().model_dir
    networks, calibration = load_networks(folder), load_calibration(folder)
    recorders: dict[str, Any] = {k: Recorder(n) for k, n in networks.items()}
    photo = load_photo_bytes(data, name)
    carbs = read_carbs(photo.pixels, recorders, calibration)
    inputs = [(networks[k], x) for k, r in recorders.items() for x in r.inputs]

    def whole() -> None:
        p = load_photo_bytes(data, name)
        examine(p, read_carbs(p.pixels, networks, calibration), calibration)

    decode = median_ms(lambda: simplejpeg.decode_jpeg(data))
    bare = median_ms(lambda: [n.run(x) for n, x in inputs])
    total = median_ms(whole)
    ratio = total / (decode + bare)
    print(
        f"{name[:34]:34s} {len(carbs)} carbs  decode {decode:6.1f}  networks {bare:6.1f}  "
        f"whole {total:6.1f} ms  ratio {ratio:.2f}"
    )
    return total, ratio


def read_all(files: list[Path]) -> None:
    """Nothing but photo to features, three times each, then this process's peak memory (MB)."""
    folder = Settings().model_dir
    networks, calibration = load_networks(folder), load_calibration(folder)
    for path in files:
        data = path.read_bytes()
        for _ in range(3):
            photo = load_photo_bytes(data, path.name)
            examine(photo, read_carbs(photo.pixels, networks, calibration), calibration)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)


def peak_memory(photos: list[tuple[str, bytes]]) -> int:
    """Peak memory (MB) of a process that only reads: this one also keeps inputs and enlarges."""
    with tempfile.TemporaryDirectory() as folder:
        for name, data in photos:
            (Path(folder) / name).write_bytes(data)
        command = [
            sys.executable,
            __file__,
            "--memory",
            *(str(Path(folder) / n) for n, _ in photos),
        ]
        done = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603
    return int(done.stdout)


def main() -> None:
    """Print the table, peak memory and the cold start."""
    cv2.setNumThreads(1)
    if sys.argv[1:2] == ["--memory"]:
        read_all([Path(p) for p in sys.argv[2:]])
        return
    given = [Path(p) for p in sys.argv[1:]]
    samples = sorted((Path(__file__).parents[1] / "sample_images").glob("*.jpg"))
    photos = [(p.name, p.read_bytes()) for p in given] or [(p.name, enlarged(p)) for p in samples]
    results = [measure(name, data) for name, data in photos]
    times, ratios = zip(*results, strict=True)
    print(
        f"n = {len(times)} photos, {REPEATS} repeats: p50 {statistics.median(times):.0f} ms "
        f"(from {min(times):.0f} to {max(times):.0f}), "
        f"ratio median {statistics.median(ratios):.2f}, worst {max(ratios):.2f}"
    )
    print(f"peak memory of reading them in one process {peak_memory(photos)} MB")
    cold = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run(  # noqa: S603 - our own command line
            [str(Path(sys.executable).with_name("carbpair")), "inspect", str(samples[0]), "--json"],
            check=True,
            capture_output=True,
        )
        cold.append(time.perf_counter() - start)
    print(
        "cold start of the command line with one sample: "
        f"median {statistics.median(cold):.2f} s (n = 5)"
    )


if __name__ == "__main__":
    main()
