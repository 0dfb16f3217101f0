"""Shards of rendered photographs as tensors, all of them on one device."""

from __future__ import annotations

import pickle
import tarfile
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

MAX_CARBS = 3
CROP = 384


@dataclass
class Photos:
    """Photographs uint8 (N, H, W, 3) with the truth of up to three carbs each.

    ``boxes`` (N, 3, 4) as cx, cy, w, h; ``state`` 1 carb, -1 ignore, 0 none; ``parts``
    (N, 3, 3, 3): x, y, seen.
    """

    pixels: Tensor
    boxes: Tensor
    state: Tensor
    parts: Tensor


@dataclass
class Crops:
    """Carb crops uint8 (M, 384, 384, 3), truth in crop pixels; ``frame``: the photograph in it."""

    pixels: Tensor
    keypoints: Tensor
    frame: Tensor
    numbers: Tensor
    bolts: Tensor
    vents: Tensor


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
)
COLUMN = {n: i for i, n in enumerate(NUMBERS)}


def _shards(folder: Path, limit: int | None = None) -> list[Path]:
    found = sorted(folder.glob("*.pkl"))
    return found[:limit] if limit else found


def load(folder: Path, device: str, limit: int | None = None) -> tuple[Photos, Crops]:
    """All shards of a folder."""
    photos, boxes, state, parts = [], [], [], []
    crops, kps, frames, nums, bolts, vents = [], [], [], [], [], []
    for path in _shards(folder, limit):
        rows = pickle.loads(path.read_bytes())
        stem = str(path)[:-4]
        p = np.load(stem + ".photos.npy")
        photos.append(torch.from_numpy(p).to(device))
        crops.append(torch.from_numpy(np.load(stem + ".crops.npy")).to(device))
        h, w = p.shape[1:3]
        for row in rows:
            b = np.zeros((MAX_CARBS, 4), np.float32)
            s = np.zeros(MAX_CARBS, np.float32)
            q = np.zeros((MAX_CARBS, 3, 3), np.float32)
            for i, t in enumerate(row["carbs"][:MAX_CARBS]):
                box = t["box"]
                b[i] = [
                    (box[0] + box[2]) / 2,
                    (box[1] + box[3]) / 2,
                    box[2] - box[0],
                    box[3] - box[1],
                ]
                size = max(b[i, 2:])
                if not t["in_front"] or t["in_frame"] < 0.05:
                    continue
                good = t["in_frame"] >= 0.5 and t["seen"]["cover"] >= 0.15 and size >= 12
                s[i] = 1.0 if good else -1.0
                cap, throat, bowl = t["keypoints"][6], t["keypoints"][7], t["keypoints"][12]
                q[i, 0] = [*cap, t["seen"]["cover"] > 0.25]
                q[i, 1] = [*throat, t["seen"]["throat"] > 0.4]
                q[i, 2] = [*bowl, t["hand"] != 0 and t["seen"]["bowl"] > 0.15]
            boxes.append(b)
            state.append(s)
            parts.append(q)
            for c in row["crops"]:
                t = row["carbs"][c["carb"]]
                x0, y0, side = c["window"]
                k = CROP / side
                at = np.array([x0, y0], np.float32)
                kps.append((t["keypoints"] - at) * k)
                frames.append([-x0 * k, -y0 * k, (w - x0) * k, (h - y0) * k])
                nums.append(_numbers(t, k))
                bolts.append(_padded((t["bolts"] - at) * k, t["bolt_seen"], 4))
                vents.append(
                    _padded((t["vents"] - at) * k, np.ones(len(t["vents"]), np.float32), 3)
                )

    def tensor(x: list[NDArray[np.float32]] | list[list[float]]) -> Tensor:
        return torch.tensor(np.asarray(x, np.float32), device=device)

    return (
        Photos(torch.cat(photos), tensor(boxes), tensor(state), tensor(parts)),
        Crops(
            torch.cat(crops),
            tensor(kps),
            tensor(frames),
            tensor(nums),
            tensor(bolts),
            tensor(vents),
        ),
    )


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
