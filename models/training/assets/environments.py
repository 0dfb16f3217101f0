"""Captured environment maps for lighting: one command gathers them, split by name.

    python -m models.training.assets.environments --cache DIR --out DIR

Each map becomes ``NAME.npy``: float16, shape (256, 512, 3), linear RGB, equirectangular, row 0
straight up. The solid-angle-weighted mean luminance is 1. The sun is kept: what exceeds ``PEAK`` is
spread over neighbouring pixels, so its energy stays. ``environments.json`` lists them.
"""

from __future__ import annotations

import argparse
import base64
import hashlib
import json
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from .packages import Package, fetch, members, sha256_of

HEIGHT, WIDTH = 256, 512
PEAK = 1e4  # below the float16 limit of 65,504, with room for a scale
LUMINANCE = (0.2126, 0.7152, 0.0722)  # Rec. 709, ITU-R BT.709-6
DUPLICATE = 0.90  # correlation of two small maps, best over all headings, that means one capture

PMNDRS = Package(
    "npm",
    "@pmndrs/assets",
    "1.7.0",
    "pmndrs-assets-1.7.0.tgz",
    "152bd218a3390703f184f0c6ce16e73c8f0a87f32d38530d418a09d33d8208dc",
    "CC0-1.0",
)
VISER = Package(
    "pypi",
    "viser",
    "1.0.4",
    "viser-1.0.4-py3-none-any.whl",
    "59808b0799ee1e7354c199fba71d69de9b7c886697862f62b2690d025b7f04f6",
    "MIT (package); the maps are CC0 captures by their names",
)
BLENDER = Package(
    "pypi",
    "bpy",
    "4.5.15",
    "bpy-4.5.15-cp311-cp311-manylinux_2_28_x86_64.whl",
    "19203fb7825b005d2024b2e724d600fc82550a6deea71fbcc4447244df9ea737",
    "CC0 (world/license.txt; the program itself is GPL-3.0 and not used here)",
)

Split = Literal["training", "evaluation"]


@dataclass(frozen=True)
class Environment:
    """Where one map comes from; ``file`` is its path inside the package."""

    name: str
    package: Package
    file: str
    split: Split
    light: str


def _pmndrs(name: str, file: str, split: Split, light: str) -> Environment:
    return Environment(name, PMNDRS, f"package/hdri/{file}.exr.js", split, light)


def _viser(name: str, file: str, split: Split, light: str) -> Environment:
    return Environment(name, VISER, f"viser/client/build/hdri/{file}_1k.hdr", split, light)


def _blender(name: str, file: str, split: Split, light: str) -> Environment:
    path = f"bpy/4.5/datafiles/studiolights/world/{file}.exr"
    return Environment(name, BLENDER, path, split, light)


# One entry per capture: where two packages carry one, the sharper copy is taken. The npm package's
# apartment, city, dawn, forest, lobby, night, park, studio and warehouse are viser's, its sunrise
# is Blender's, and Blender's sunset is viser's.
ENVIRONMENTS: tuple[Environment, ...] = (
    _pmndrs("workshop", "workshop", "evaluation", "indoor, machine shop"),
    _blender("courtyard", "courtyard", "evaluation", "open shed, bright outside"),
    _blender("landing_pad", "city", "evaluation", "outdoor, hard sun"),
    _blender("garden", "forest", "evaluation", "forest, dappled"),
    _viser("plaza", "potsdamer_platz", "evaluation", "outdoor, overcast"),
    _blender("moonless_field", "night", "evaluation", "night, distant lamps"),
    _pmndrs("atrium", "esplanade", "training", "indoor, lamps and skylights"),
    _pmndrs("bridge", "bridge", "training", "covered way, soft"),
    _pmndrs("hall", "hall", "training", "indoor, rows of lamps"),
    _pmndrs("lab", "lab", "training", "indoor, high windows"),
    _pmndrs("sea_sky", "sky", "training", "outdoor, high sun"),
    _pmndrs("piazza", "sunset", "training", "outdoor, low sun"),
    _pmndrs("quay", "venice", "training", "outdoor, dusk, cloudy"),
    _viser("apartment", "lebombo", "training", "indoor, one window"),
    _viser("dawn", "kiara_1_dawn", "training", "outdoor, before sunrise"),
    _viser("forest_slope", "forest_slope", "training", "forest, overcast"),
    _viser("lobby", "st_fagans_interior", "training", "indoor, lamps"),
    _viser("night", "dikhololo_night", "training", "night, moonlit"),
    _viser("park", "rooitou_park", "training", "outdoor, hard sun"),
    _viser("studio_large", "studio_small_03", "training", "indoor, softboxes"),
    _viser("waterfront", "venice_sunset", "training", "outdoor, low sun"),
    _viser("warehouse", "empty_warehouse_01", "training", "indoor, strip lamps and windows"),
    _blender("hotel_room", "interior", "training", "indoor, window and lamps"),
    _blender("studio_small", "studio", "training", "indoor, softboxes"),
    _blender("sunrise", "sunrise", "training", "outdoor, low sun, mist"),
)


def decode(name: str, content: bytes) -> NDArray[np.float32]:
    """Linear RGB, float32, shape (h, w, 3), from the bytes of .exr, .exr.js or .hdr."""
    if name.endswith(".js"):
        content = base64.b64decode(content.split(b"base64,", 1)[1].split(b"'", 1)[0])
    import mitsuba as mi

    if mi.variant() is None:
        mi.set_variant("scalar_rgb")
    suffix = ".hdr" if name.endswith(".hdr") else ".exr"
    with tempfile.NamedTemporaryFile(suffix=suffix) as file:
        file.write(content)
        file.flush()
        bitmap = mi.Bitmap(file.name)
    rgb = bitmap.convert(mi.Bitmap.PixelFormat.RGB, mi.Struct.Type.Float32, srgb_gamma=False)
    return np.array(rgb, dtype=np.float32)


def mean_luminance(rgb: NDArray[np.floating]) -> float:
    """Mean luminance over the sphere: rows weighted by the sine of their polar angle."""
    rows = (rgb.astype(np.float64) @ np.array(LUMINANCE)).mean(axis=1)
    weight = np.sin((np.arange(len(rows)) + 0.5) * np.pi / len(rows))
    return float((rows * weight).sum() / weight.sum())


def spread_peaks(rgb: NDArray[np.float32], peak: float = PEAK) -> NDArray[np.float32]:
    """Values above ``peak`` handed on to the 3 × 3 neighbourhood until none is left."""
    out = rgb.copy()
    while out.max() > peak:
        excess = np.maximum(out - peak, 0.0)
        padded = np.pad(excess, ((0, 0), (1, 1), (0, 0)), mode="wrap")
        shared = cv2.blur(padded, (3, 3), borderType=cv2.BORDER_REPLICATE)[:, 1:-1]
        if excess.sum() < 1e-3 * peak:
            return np.minimum(out, peak)
        out = out - excess + shared
    return out


def normalise(rgb: NDArray[np.float32]) -> NDArray[np.float16]:
    """Clean, area-average to (HEIGHT, WIDTH, 3) and scale to mean luminance 1.

    Raises:
        ValueError: the shape is not (h, 2h, 3), or the map is black.
    """
    if rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.shape[1] != 2 * rgb.shape[0]:
        raise ValueError(f"an environment map has shape (h, 2h, 3), not {rgb.shape}")
    clean = np.nan_to_num(rgb, nan=0.0, posinf=65504.0, neginf=0.0).clip(min=0.0)
    small = np.asarray(cv2.resize(clean, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA), np.float32)
    mean = mean_luminance(small)
    if mean <= 0.0:
        raise ValueError("the environment map is black")
    return spread_peaks(small / np.float32(mean)).astype(np.float16)


def likeness(a: NDArray[np.floating], b: NDArray[np.floating]) -> float:
    """Correlation of two maps' small log luminance, the best over all headings."""
    small = []
    for rgb in (a, b):
        lum = cv2.resize(rgb.astype(np.float32), (64, 32), interpolation=cv2.INTER_AREA)
        log = np.log(lum @ np.array(LUMINANCE, np.float32) + 1e-3)
        # each row's mean goes: every outdoor map is bright above and dark below
        small.append(log - log.mean(axis=1, keepdims=True))
    spectrum = np.fft.fft(small[0], axis=1) * np.conj(np.fft.fft(small[1], axis=1))
    best = np.fft.ifft(spectrum, axis=1).real.sum(axis=0).max()
    return float(best / (np.linalg.norm(small[0]) * np.linalg.norm(small[1])))


def gather(cache: Path, out: Path) -> list[dict[str, object]]:
    """Write every map and ``environments.json`` into ``out``; the entries are returned.

    Raises:
        RuntimeError: a package or a file in it is missing, or a capture is on both sides.
    """
    out.mkdir(parents=True, exist_ok=True)
    maps: dict[str, NDArray[np.float16]] = {}
    entries: list[dict[str, object]] = []
    for package in (PMNDRS, VISER, BLENDER):
        wanted = [e for e in ENVIRONMENTS if e.package == package]
        found = dict(members(fetch(package, cache), *(e.file for e in wanted)))
        for env in wanted:
            if env.file not in found:
                raise RuntimeError(f"{package.label} has no {env.file}")
            maps[env.name] = normalise(decode(env.file, found[env.file]))
            path = out / f"{env.name}.npy"
            np.save(path, maps[env.name])
            entries.append({
                "name": env.name, "file": path.name, "split": env.split, "light": env.light,
                "package": package.label, "package_file": env.file, "licence": package.licence,
                "source_sha256": hashlib.sha256(found[env.file]).hexdigest(),
                "sha256": sha256_of(path), "peak": float(maps[env.name].max()),
            })  # fmt: skip
    for train in (e for e in ENVIRONMENTS if e.split == "training"):
        for held in (e for e in ENVIRONMENTS if e.split == "evaluation"):
            alike = likeness(maps[train.name], maps[held.name])
            if alike > DUPLICATE:
                raise RuntimeError(f"{train.name} and {held.name} are one capture ({alike:.2f})")
    entries.sort(key=lambda e: (str(e["split"]), str(e["name"])))
    text = json.dumps({"maps": entries}, indent=1, ensure_ascii=False)
    (out / "environments.json").write_text(text + "\n", encoding="utf-8")
    return entries


def main() -> None:
    parser = argparse.ArgumentParser(description="Gather the environment maps.")
    parser.add_argument("--cache", type=Path, required=True, help="where packages are kept")
    parser.add_argument("--out", type=Path, required=True, help="where the maps go")
    args = parser.parse_args()
    for entry in gather(args.cache, args.out):
        print(f"{entry['split']:<11}{entry['name']:<16}{entry['peak']:>9.1f}  {entry['light']}")


if __name__ == "__main__":
    main()
