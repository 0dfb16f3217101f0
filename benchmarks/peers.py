"""Photo to features beside general-purpose peers: same photos, one thread, one run, paired.

    pip install rapidocr torchvision onnx      # the peers, for this script only
    taskset -c 0 python benchmarks/peers.py [--json FILE] [PHOTO...]

Every round measures each contender once on a photo, in turn, so that a busy moment hits all
alike; a photo's time is the median over rounds. Contenders: decoding alone; our networks' bare
forward passes on the inputs they saw; our whole line; a small public detector topology
(SSDLite-320 with MobileNetV3, random weights: only its time means anything) from decoding to raw
boxes; RapidOCR's pipeline; the circle transform of `hough.py`. A peer that is not installed is
left out and named.
"""

import argparse
import json
import os
import platform
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("CARBPAIR_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np
import onnxruntime
import simplejpeg
from hough import HoughSettings, whole_photo

from carbpair.inspection import examine
from carbpair.photo import load_photo_bytes
from carbpair.settings import Settings
from carbpair.vision import load_calibration, load_networks, read_carbs
from vision import Recorder, enlarged

ROUNDS = 7
DETECTOR_SIDE = 320
Work = Callable[[], object]


def detector() -> Callable[[np.ndarray], object] | None:
    """SSDLite-320 in ONNX Runtime on one thread: pixels to raw boxes and scores."""
    try:
        import torch
        from torchvision.models.detection import ssdlite320_mobilenet_v3_large
    except ImportError:
        return None
    model = ssdlite320_mobilenet_v3_large(weights=None, weights_backbone=None).eval()

    class Raw(torch.nn.Module):
        def __init__(self) -> None:
            super().__init__()
            self.backbone, self.head = model.backbone, model.head

        def forward(self, image: Any) -> Any:
            out = self.head(list(self.backbone(image).values()))
            return out["bbox_regression"], out["cls_logits"]

    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "detector.onnx")
        blank = torch.zeros(1, 3, DETECTOR_SIDE, DETECTOR_SIDE)
        torch.onnx.export(Raw(), (blank,), path, input_names=["image"], dynamo=False)
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        session = onnxruntime.InferenceSession(path, options)

    def run(pixels: np.ndarray) -> object:
        side = (DETECTOR_SIDE, DETECTOR_SIDE)
        small = cv2.resize(pixels, side, interpolation=cv2.INTER_AREA)
        x = (small.astype(np.float32) / 127.5 - 1).transpose(2, 0, 1)[None]
        return session.run(None, {"image": np.ascontiguousarray(x)})

    return run


def ocr() -> Callable[[np.ndarray], object] | None:
    """RapidOCR's pipeline as it comes, on one thread."""
    try:
        from rapidocr import RapidOCR
    except ImportError:
        return None
    engine = RapidOCR(
        params={
            "EngineConfig.onnxruntime.intra_op_num_threads": 1,
            "EngineConfig.onnxruntime.inter_op_num_threads": 1,
            "Global.log_level": "error",
        }
    )
    return lambda pixels: engine(pixels[..., ::-1])


def contenders(name: str, data: bytes, peers: dict[str, Any]) -> dict[str, Work]:
    """What is timed on one photo's bytes."""
    folder = Settings().model_dir
    networks, calibration = load_networks(folder), load_calibration(folder)
    recorders: dict[str, Any] = {k: Recorder(n) for k, n in networks.items()}
    read_carbs(load_photo_bytes(data, name).pixels, recorders, calibration)
    inputs = [(networks[k], x) for k, r in recorders.items() for x in r.inputs]

    def ours() -> None:
        photo = load_photo_bytes(data, name)
        examine(photo, read_carbs(photo.pixels, networks, calibration), calibration)

    work: dict[str, Work] = {
        "decoding alone": lambda: simplejpeg.decode_jpeg(data),
        "our networks alone": lambda: [n.run(x) for n, x in inputs],
        "carbpair, photo to features": ours,
    }
    settings = HoughSettings()
    work["circle transform"] = lambda: whole_photo(simplejpeg.decode_jpeg(data), settings)
    for peer, run in peers.items():
        if run is not None:
            work[peer] = lambda run=run: run(simplejpeg.decode_jpeg(data))  # type: ignore[misc]
    return work


def measure(work: dict[str, Work], rounds: int) -> dict[str, float]:
    """Median milliseconds of each contender; they take turns."""
    taken: dict[str, list[float]] = {name: [] for name in work}
    for k in range(rounds + 1):
        for name, run in work.items():
            start = time.perf_counter()
            run()
            if k:  # the first round warms up
                taken[name].append(1e3 * (time.perf_counter() - start))
    return {name: statistics.median(times) for name, times in taken.items()}


def interval(values: list[float], seed: int = 0) -> tuple[float, float, float]:
    """Median with its 95 % bootstrap interval over photos."""
    x = np.asarray(values)
    draws = np.median(x[np.random.default_rng(seed).integers(len(x), size=(4000, len(x)))], axis=1)
    low, high = np.quantile(draws, [0.025, 0.975])
    return float(np.median(x)), float(low), float(high)


def main() -> None:
    """Print and keep the table."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("photos", nargs="*", type=Path)
    p.add_argument("--rounds", type=int, default=ROUNDS)
    p.add_argument("--json", type=Path)
    a = p.parse_args()
    cv2.setNumThreads(1)
    samples = sorted((Path(__file__).parents[1] / "sample_images").glob("*.jpg"))
    photos = [(f.name, f.read_bytes()) for f in a.photos] or [
        (f.name, enlarged(f)) for f in samples
    ]
    peers = {"detector topology, SSDLite-320": detector(), "RapidOCR": ocr()}
    rows: dict[str, list[float]] = {}
    for name, data in photos:
        for key, ms in measure(contenders(name, data, peers), a.rounds).items():
            rows.setdefault(key, []).append(ms)
        print(name, {k: round(v[-1]) for k, v in rows.items()}, flush=True)
    ours = rows["carbpair, photo to features"]
    out = []
    for key, times in rows.items():
        ms, ratio = interval(times), interval([x / y for x, y in zip(ours, times, strict=True)])
        out.append({"name": key, "ms": ms, "ours_over_it": ratio})
        print(f"{key:34s} {ms[0]:7.1f} ms ({ms[1]:.1f}–{ms[2]:.1f}); ours: {ratio[0]:.2f} times")
    floor = [
        x / (d + n)
        for x, d, n in zip(ours, rows["decoding alone"], rows["our networks alone"], strict=True)
    ]
    ratio = interval(floor)
    words = f"{ratio[0]:.2f} ({ratio[1]:.2f}–{ratio[2]:.2f}), n = {len(ours)}"
    print(f"ours over decoding and networks: {words}")
    if a.json:
        result = {
            "machine": f"{platform.machine()}, one thread, load average {os.getloadavg()[0]:.1f}",
            "photos": len(photos),
            "rounds": a.rounds,
            "left_out": [k for k, v in peers.items() if v is None],
            "rows": out,
            "ours_over_decoding_and_networks": ratio,
        }
        a.json.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
