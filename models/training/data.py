"""Shards of rendered photographs as tensors, all of them on one device."""

from __future__ import annotations

import pickle
import tarfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from .scene.photograph import CLOSEUP, CROP, HALF_HIDDEN, RIM

MAX_CARBS = 3


@dataclass
class Photos:
    """Photographs uint8 (N, H, W, 3) with the truth of up to three carbs each.

    ``boxes`` (N, 3, 4) as cx, cy, w, h; ``state`` 1 carb, -1 ignore, 0 none; ``parts``
    (N, 3, 3, 3): x, y, seen; ``half_hidden`` (N,): 1 where a carb's cover is mostly hidden;
    ``scene`` (N,): the scene's seed.
    """

    pixels: Tensor
    boxes: Tensor
    state: Tensor
    parts: Tensor
    half_hidden: Tensor
    scene: Tensor


@dataclass
class Crops:
    """Windows uint8 (M, n, n, 3), truth in their pixels; ``frame``: the photograph in it.

    Crops have 384 pixels a side and show a carb with room for its bowl, close-ups 448 and fit its
    landmarks, rims 288 and fit the cover's rim. ``scene`` (M,): the scene's seed.
    """

    pixels: Tensor
    keypoints: Tensor
    frame: Tensor
    numbers: Tensor
    bolts: Tensor
    vents: Tensor
    scene: Tensor


NUMBERS = (
    "holes",
    "hand",
    "bearing",
    "diaphragm",
    "filtered",
    "facing",
    "seen_mark",
    "mark_px",
    "seen_throat",
    "seen_flange",
    "seen_bowl",
    "seen_under",
    "seen_cover",
    "bolts_seen",
    "in_frame",
    "rim_px",
    "throat_px",
    "partner",
    "seen_partner",
    "native",
)
COLUMN = {n: i for i, n in enumerate(NUMBERS)}


def _shards(folder: Path, limit: int | None = None) -> list[Path]:
    found = sorted(folder.glob("*.pkl"))
    return found[:limit] if limit else found


SIDES = {"crops": CROP, "closeups": CLOSEUP, "rims": RIM}
KINDS = ("photos", *SIDES)


def has(folder: Path, kind: str) -> bool:
    """Whether a folder's shards hold any picture of a kind."""
    files = (Path(f"{str(p)[:-4]}.{kind}.npy") for p in _shards(folder))
    return any(f.is_file() and len(np.load(f, mmap_mode="r")) for f in files)


def load(
    folder: Path, device: str, limit: int | None = None, kinds: tuple[str, ...] = KINDS
) -> tuple[Photos, dict[str, Crops]]:
    """All shards of a folder, the windows by kind; kinds that are not asked for stay empty."""
    pixels: dict[str, list[Tensor]] = {k: [] for k in KINDS}
    photos = _PhotoTruth()
    windows = {kind: _CropTruth() for kind in SIDES}
    for path in _shards(folder, limit):
        rows = pickle.loads(path.read_bytes())
        stem = str(path)[:-4]
        h, w = np.load(f"{stem}.photos.npy", mmap_mode="r").shape[1:3]
        for kind in kinds:
            pixels[kind].append(torch.from_numpy(np.load(f"{stem}.{kind}.npy")).to(device))
        for row in rows:
            if "photos" in kinds:
                photos.add(row["carbs"], row["seed"])
            for kind, side in SIDES.items():
                for c in row[kind] if kind in kinds else ():
                    t = row["carbs"][c["carb"]]
                    windows[kind].add(t, c["window"], side, (w, h), c["native"], row["seed"])

    def picture(kind: str) -> Tensor:
        shape = (480, 640) if kind == "photos" else (SIDES[kind], SIDES[kind])
        found = pixels[kind]
        return torch.cat(found) if found else torch.zeros((0, *shape, 3), dtype=torch.uint8)

    return (
        Photos(picture("photos"), *photos.tensors(device)),
        {k: Crops(picture(k), *v.tensors(device)) for k, v in windows.items()},
    )


class _PhotoTruth:
    """Boxes, states and parts of photographs, collected."""

    def __init__(self) -> None:
        self.boxes: list[NDArray[np.float32]] = []
        self.state: list[NDArray[np.float32]] = []
        self.parts: list[NDArray[np.float32]] = []
        self.half_hidden: list[float] = []
        self.scene: list[float] = []

    def add(self, carbs: list[dict[str, Any]], scene: int) -> None:
        b = np.zeros((MAX_CARBS, 4), np.float32)
        s = np.zeros(MAX_CARBS, np.float32)
        q = np.zeros((MAX_CARBS, 3, 3), np.float32)
        hard = 0.0
        for i, t in enumerate(carbs[:MAX_CARBS]):
            box = t["box"]
            mid = (box[:2] + box[2:]) / 2
            b[i] = [*mid, *(box[2:] - box[:2])]
            if not t["in_front"] or t["in_frame"] < 0.05:
                continue
            good = t["in_frame"] >= 0.5 and t["seen"]["cover"] >= 0.15 and max(b[i, 2:]) >= 12
            s[i] = 1.0 if good else -1.0
            hard = max(hard, float(good and t["seen"]["cover"] < HALF_HIDDEN))
            cap, throat, bowl = t["keypoints"][6], t["keypoints"][7], t["keypoints"][12]
            q[i, 0] = [*cap, t["seen"]["cover"] > 0.25]
            q[i, 1] = [*throat, t["seen"]["throat"] > 0.4]
            q[i, 2] = [*bowl, t["hand"] != 0 and t["seen"]["bowl"] > 0.15]
        self.boxes.append(b)
        self.state.append(s)
        self.parts.append(q)
        self.half_hidden.append(hard)
        self.scene.append(scene)

    def tensors(self, device: str) -> list[Tensor]:
        columns = (self.boxes, self.state, self.parts, self.half_hidden, self.scene)
        return [_tensor(x, device) for x in columns]


class _CropTruth:
    """Truth of square windows in their own pixels, collected."""

    def __init__(self) -> None:
        self.columns: list[list[Any]] = [[] for _ in range(6)]

    def add(
        self,
        t: dict[str, Any],
        window: tuple[float, float, float],
        pixels: int,
        size: tuple[int, int],
        native: float,
        scene: int,
    ) -> None:
        x0, y0, side = window
        k = pixels / side
        at = np.array([x0, y0], np.float32)
        ones = np.ones(len(t["vents"]), np.float32)
        row = (
            (t["keypoints"] - at) * k,
            [-x0 * k, -y0 * k, (size[0] - x0) * k, (size[1] - y0) * k],
            [*_numbers(t, k), native],
            _padded((t["bolts"] - at) * k, t["bolt_seen"], 4),
            _padded((t["vents"] - at) * k, ones, 3),
            scene,
        )
        for column, value in zip(self.columns, row, strict=True):
            column.append(value)

    def tensors(self, device: str) -> list[Tensor]:
        return [_tensor(x, device) for x in self.columns]


def _tensor(x: list[Any], device: str) -> Tensor:
    return torch.tensor(np.asarray(x, np.float32), device=device)


def _numbers(t: dict, k: float) -> list[float]:  # type: ignore[type-arg]
    seen = t["seen"]
    throat = t["keypoints"]
    width = max(np.linalg.norm(throat[8] - throat[9]), np.linalg.norm(throat[10] - throat[11])) / 2
    return [
        t["flange_holes"],
        t["hand"],
        t["mark_bearing"],
        t["chamber"] == "diaphragm",
        t["filtered"],
        t["facing"],
        seen["mark"],
        t["mark_px"] * k,
        seen["throat"],
        seen["flange"],
        seen["bowl"],
        seen["under"],
        seen["cover"],
        float(t["bolt_seen"].min()),
        t["in_frame"],
        t["rim_px"] * k,
        width * k,
        t.get("partner_bearing") or 0.0,
        seen.get("partner", float("nan")),  # older shards do not know: neither seen nor unseen
    ]


def _padded(
    points: NDArray[np.float32], seen: NDArray[np.float32], count: int
) -> NDArray[np.float32]:
    out = np.full((count, 3), -1e4, np.float32)
    out[:, 2] = 0
    out[: len(points), :2] = points
    out[: len(points), 2] = seen
    return out


def load_negatives(archive: Path, device: str, size: tuple[int, int] = (640, 480)) -> Tensor:
    """Real photographs without a carb from a tar of JPEGs, uint8 (N, 480, 640, 3), cut to shape."""
    out = []
    w, h = size
    with tarfile.open(archive) as tar:
        for member in sorted(tar.getmembers(), key=lambda m: m.name):
            handle = tar.extractfile(member) if member.isfile() else None
            if handle is None:
                continue
            img = cv2.imdecode(np.frombuffer(handle.read(), np.uint8), cv2.IMREAD_COLOR)
            if img is None:
                continue
            k = max(w / img.shape[1], h / img.shape[0])
            img = cv2.resize(
                img,
                (int(img.shape[1] * k + 0.999), int(img.shape[0] * k + 0.999)),
                interpolation=cv2.INTER_LINEAR,
            )
            y, x = (img.shape[0] - h) // 2, (img.shape[1] - w) // 2
            out.append(np.ascontiguousarray(img[y : y + h, x : x + w, ::-1]))
    return torch.from_numpy(np.stack(out)).to(device)
