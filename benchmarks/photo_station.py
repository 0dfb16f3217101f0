"""Time of the photo station on one thread: decode, turn, and capture quality, 12 megapixels.

    taskset -c 0 python benchmarks/photo_station.py

Prints medians with their range over the repeats, and the ratio to OpenCV's and Pillow's own
decoding of the same bytes. Pictures: scikit-image's astronaut enlarged, with sensor noise.
"""

import io
import statistics
import time
from collections.abc import Callable

import cv2
import numpy as np
from PIL import Image
from skimage import data

from carbpair.photo import load_photo_bytes
from carbpair.photo.quality import measure_quality

REPEATS = 21
SIZE = (4000, 3000)


def picture() -> np.ndarray:
    """Return a 12-megapixel photograph with detail down to single pixels."""
    rng = np.random.default_rng(0)
    large = cv2.resize(data.astronaut(), SIZE, interpolation=cv2.INTER_CUBIC).astype(float)
    return np.clip(large + rng.normal(0, 4, large.shape), 0, 255).astype(np.uint8)


def jpeg(pixels: np.ndarray, orientation: int) -> bytes:
    """Encode at quality 90, 4:2:0, as phones do."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=90, subsampling="4:2:0", exif=exif)
    return out.getvalue()


def timed(work: Callable[[], object]) -> tuple[float, float, float]:
    """Median, least and most milliseconds."""
    work()
    taken = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        taken.append(1e3 * (time.perf_counter() - start))
    return statistics.median(taken), min(taken), max(taken)


def main() -> None:
    """Print the table."""
    cv2.setNumThreads(1)
    pixels = picture()
    print(f"{'n = ' + str(REPEATS):44s} median    min     max  ms")
    for orientation, words in ((1, "upright"), (6, "turned by EXIF")):
        encoded = jpeg(pixels, orientation)
        array = np.frombuffer(encoded, np.uint8)
        rows = {
            "carbpair load_photo_bytes": lambda e=encoded: load_photo_bytes(e, "x"),
            "OpenCV imdecode RGB": lambda a=array: cv2.imdecode(a, cv2.IMREAD_COLOR_RGB),
            "Pillow": lambda e=encoded: np.asarray(Image.open(io.BytesIO(e)).convert("RGB")),
        }
        medians = {}
        for name, work in rows.items():
            medians[name], least, most = timed(work)
            print(f"{name + ', ' + words:44s} {medians[name]:6.1f} {least:6.1f} {most:7.1f}")
        ours = medians["carbpair load_photo_bytes"]
        print(f"  ratio to OpenCV: {ours / medians['OpenCV imdecode RGB']:.2f}")
    median, least, most = timed(lambda: measure_quality(pixels))
    print(f"{'capture quality':44s} {median:6.1f} {least:6.1f} {most:7.1f}")


if __name__ == "__main__":
    main()
