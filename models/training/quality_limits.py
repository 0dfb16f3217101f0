"""Measure the limits of carbpair.photo.quality on sharp photographs degraded in known steps.

    python -m models.training.quality_limits [--renders DIR] [--write]

Photos: scikit-image and scikit-learn (in their wheels) and Debian's `opencv-doc`; with
`--renders` also the JPEGs of a folder. Each fault has an acceptable and an unacceptable side,
stated as the physical degradation; the limit between them has the largest Youden index
(Youden 1950: share caught minus share wrongly accused). `--write` puts the result beside
this file.
"""

import argparse
import json
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
from scipy.stats import binomtest
from skimage import data
from sklearn.datasets import load_sample_images

from carbpair.photo.quality import measure_quality

OPENCV_DOC = Path("/usr/share/doc/opencv-doc/examples")
OPENCV_PHOTOS = (
    "data/fruits.jpg",
    "data/home.jpg",
    "data/leuvenA.jpg",
    "data/aloeL.jpg",
    "data/building.jpg",
    "data/butterfly.jpg",
    "data/board.jpg",
    "data/rubberwhale1.png",
    "data/box_in_scene.png",
    "data/graf1.png",
    "data/cards.png",
    "data/HappyFish.jpg",
    "data/aero1.jpg",
    "hfs/data/000.jpg",
    "alphamat/input_images/plant.jpg",
    "data/baboon.jpg",
    "data/smarties.png",
    "text/scenetext01.jpg",
    "text/scenetext03.jpg",
    "text/scenetext05.jpg",
)
SKIMAGE_PHOTOS = ("astronaut", "coffee", "chelsea", "rocket")
SEED = 20
RESULT = Path(__file__).with_suffix(".json")

Picture = np.ndarray
Degrade = Callable[[Picture, float, np.random.Generator], Picture]


def photos(renders: Path | None) -> Iterator[tuple[str, Picture]]:
    """Sharp, well-exposed photographs as (name, RGB array)."""
    for name in SKIMAGE_PHOTOS:
        yield f"scikit-image/{name}", getattr(data, name)()
    sample = load_sample_images()
    for path, picture in zip(sample.filenames, sample.images, strict=True):
        yield f"scikit-learn/{Path(path).name}", picture
    for name in OPENCV_PHOTOS:
        picture = cv2.imread(str(OPENCV_DOC / name))
        if picture is None:
            raise SystemExit(f"{OPENCV_DOC / name} is missing: apt-get install opencv-doc")
        yield f"opencv-doc/{name}", np.ascontiguousarray(picture[:, :, ::-1])
    for path in sorted(renders.glob("*.jpg")) if renders else ():
        picture = cv2.imread(str(path))
        if picture is None:
            raise SystemExit(f"{path} cannot be read: render it again")
        yield f"render/{path.name}", np.ascontiguousarray(picture[:, :, ::-1])


def blurred(picture: Picture, sigma: float, rng: np.random.Generator) -> Picture:
    """Blur by a Gaussian of `sigma` pixels at the measure's scale, then add sensor noise."""
    scale = max(1.0, max(picture.shape) / 1600)
    soft = cv2.GaussianBlur(picture, (0, 0), sigma * scale) if sigma else picture
    return noisy(soft.astype(float), rng)


def exposed(picture: Picture, stops: float, rng: np.random.Generator) -> Picture:
    """Expose `stops` more (or less), in linear light with sRGB's curve and clipping."""
    v = picture / 255.0
    linear = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4) * 2.0**stops
    linear = np.clip(linear, 0, 1)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return noisy(255 * encoded, rng)


def glaring(picture: Picture, share: float, rng: np.random.Generator) -> Picture:
    """Burn out elliptic patches with soft rims that cover about `share` of the picture."""
    height, width = picture.shape[:2]
    light = np.zeros((height, width), np.float32)
    while share and (light > 250).mean() < share:
        radius = np.sqrt(min(0.03, 0.3 * share) * rng.uniform(0.3, 1) * height * width / np.pi)
        axes = (max(2, int(radius * rng.uniform(0.6, 1.4))), max(2, int(radius)))
        rim = max(axes) + 8  # patches at the picture's border do not count as glare
        centre = [int(rng.uniform(rim, side - rim)) for side in (width, height)]
        cv2.ellipse(light, centre, axes, rng.uniform(0, 180), 0, 360, 320.0, -1)
    return noisy(picture + cv2.GaussianBlur(light, (0, 0), 2.0)[:, :, None], rng)


def noisy(levels: np.ndarray, rng: np.random.Generator) -> Picture:
    """Add 2 grey levels of noise, round and clip."""
    return np.clip(np.rint(levels + rng.normal(0, 2, levels.shape)), 0, 255).astype(np.uint8)


Steps = tuple[float, float]
# Fault: how to degrade, which measure, whether larger is worse, the steps tried, and for the
# finding and for "poor" the worst acceptable and the mildest unacceptable step. A white
# background is burnt out too, so brightness alone never makes a photo poor.
FAULTS: dict[str, tuple[Degrade, str, int, tuple[float, ...], Steps, Steps | None]] = {
    "blur": (blurred, "blur", 1, (0, 0.5, 1, 1.5, 2, 3, 4), (0.5, 2), (1.5, 3)),
    "light_below": (exposed, "light", -1, (0, -1, -2, -3, -4, -5), (-2, -4), (-3, -5)),
    "burnt": (exposed, "burnt", 1, (0, 0.5, 1, 2, 3, 4), (1, 3), None),
    "glare": (glaring, "glare", 1, (0, 0.01, 0.05, 0.1, 0.2, 0.3), (0.01, 0.05), (0.05, 0.2)),
}


def limit_between(good: np.ndarray, bad: np.ndarray, sign: int) -> dict[str, object]:
    """Limit with the largest Youden index, middle of the best stretch, with 95 % intervals."""
    values = np.unique(np.concatenate([good, bad]))
    cuts = (values[1:] + values[:-1]) / 2
    index = [(sign * bad > sign * c).mean() - (sign * good > sign * c).mean() for c in cuts]
    best = cuts[np.isclose(index, max(index))]
    limit = float(np.format_float_positional(np.median(best), 2, fractional=False))
    return {
        "limit": limit,
        "caught": proportion(int((sign * bad > sign * limit).sum()), len(bad)),
        "false_alarms": proportion(int((sign * good > sign * limit).sum()), len(good)),
    }


def proportion(count: int, total: int) -> dict[str, object]:
    """Share with its Wilson 95 % interval and n."""
    low, high = binomtest(count, total).proportion_ci(method="wilson")
    return {"share": round(count / total, 3), "ci95": [round(low, 3), round(high, 3)], "n": total}


def measure(renders: Path | None) -> dict[str, object]:
    """Run every degradation on every photo and choose the limits."""
    rng = np.random.default_rng(SEED)
    pictures = list(photos(renders))
    report: dict[str, object] = {"photos": [name for name, _ in pictures], "seed": SEED}
    for fault, (degrade, measured, sign, steps, finding, poor) in FAULTS.items():
        values: dict[float, list[float]] = {step: [] for step in steps}
        for _, picture in pictures:
            for step in steps:
                value = getattr(measure_quality(degrade(picture, step, rng)), measured)
                if value is not None:
                    values[step].append(value)
        table = {
            f"{step:g}": {
                "n": len(found),
                **{f"q{q:02d}": round(float(np.quantile(found, q / 100)), 3) for q in (5, 50, 95)},
            }
            for step, found in values.items()
        }
        limits = {}
        for name, between in (("finding", finding), ("poor", poor)):
            if between is None:
                continue
            acceptable, unacceptable = between
            worse = [s for s in steps if abs(s) >= abs(unacceptable)]
            milder = [s for s in steps if abs(s) <= abs(acceptable)]
            good = np.concatenate([values[s] for s in milder])
            bad = np.concatenate([values[s] for s in worse])
            limits[name] = {
                "acceptable_to": acceptable,
                "unacceptable_from": unacceptable,
                **limit_between(good, bad, sign),
            }
        report[fault] = {"measure_by_step": table, **limits}
    return report


def main() -> None:
    """Print the report, or write it beside this file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--renders", type=Path)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    text = json.dumps(measure(options.renders), indent=1, ensure_ascii=False)
    if options.write:
        RESULT.write_text(text + "\n", encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
