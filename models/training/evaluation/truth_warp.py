"""Truth of a photograph after its picture was moved by a homography, or mirrored.

Points move exactly. What is seen is kept as shares and not as points, so the share that leaves the
frame is estimated from the landmarks near it; a hole, or the mark, counts as gone when its centre
is. Pixels: x to the right, y down, pixel centres at +0.5, so a mirrored picture has x' = W − x.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Size = tuple[int, int]

RIM, CAP, THROAT, BOWL = (1, 2, 3, 4), 6, (8, 9, 10, 11), 12
SWAPS = ((3, 4), (8, 9))
"""Landmarks that change places in a mirror: right and left of the rim and of the throat."""


def warp_points(points: Any, homography: Array) -> Array:
    """Points (N, 2) through a homography (3, 3)."""
    p = np.asarray(points, float).reshape(-1, 2)
    q = np.c_[p, np.ones(len(p))] @ homography.T
    return np.asarray(q[:, :2] / q[:, 2:])


def local_scale(point: Any, homography: Array) -> float:
    """How much longer a short line at a point (x, y) becomes, the mean over directions."""
    x, y = (float(v) for v in point)
    p = warp_points([[x, y], [x + 1e-3, y], [x, y + 1e-3]], homography)
    return float(np.sqrt(abs(np.linalg.det((p[1:] - p[0]) / 1e-3))))


def inside(points: Array, size: Size) -> float:
    """Share of points (N, 2) that lie in a picture of (width, height)."""
    ok = (points >= 0).all(1) & (points[:, 0] < size[0]) & (points[:, 1] < size[1])
    return float(ok.mean()) if len(points) else 0.0


def outline(box: Any) -> Array:
    """Points (64, 2) on a rounded rectangle in a box: what fills it seldom has corners."""
    x0, y0, x1, y1 = (float(v) for v in box)
    a = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    c, s = np.cos(a), np.sin(a)
    x = np.sign(c) * np.abs(c) ** 0.5
    y = np.sign(s) * np.abs(s) ** 0.5
    return np.stack([(x0 + x1) / 2 + (x1 - x0) / 2 * x, (y0 + y1) / 2 + (y1 - y0) / 2 * y], 1)


def _area(box: Array) -> float:
    return float(np.prod(box[2:] - box[:2]))


def _near(k: Array) -> dict[str, Array]:
    """Points that stand for each surface, from landmarks (13, 2)."""
    rim, throat = k[list(RIM)], k[list(THROAT)]
    flange = k[7] + 1.8 * (throat - k[7])
    cover = np.concatenate([rim, [k[CAP]], (rim + k[CAP]) / 2])
    return {
        "cover": cover,
        "throat": throat,
        "flange": flange,
        "body": np.concatenate([rim, throat]),
        "under": k[7] + np.array([[2.2], [2.6]]) * (k[11] - k[7]),
        "bowl": k[[BOWL]],
    }


def _partner(truth: dict[str, Any]) -> Array:
    """The body's partner of the mark (1, 2), or no point (0, 2); older truths know of none."""
    found = truth.get("partner")
    return np.zeros((0, 2)) if found is None else np.asarray([found], float)


def warped(truth: dict[str, Any], homography: Array, before: Size, after: Size) -> dict[str, Any]:
    """Truth of one carb in the picture that a homography makes; sizes are (width, height)."""
    k = np.asarray(truth["keypoints"], float)
    moved = warp_points(k, homography)
    edge = warp_points(outline(truth["box"]), homography)
    box = np.r_[edge.min(0), edge.max(0)]
    clipped = np.r_[np.clip(box[:2], 0, after), np.clip(box[2:], 0, after)]
    bolts = warp_points(truth["bolts"], homography)
    mark = warp_points([truth["mark"]], homography)
    partner = warp_points(_partner(truth), homography)
    near_old, near_new = _near(k), _near(moved)
    bolt_seen = [
        float(s) * inside(b[None], after) for s, b in zip(truth["bolt_seen"], bolts, strict=True)
    ]
    seen = {}
    for name, share in truth["seen"].items():
        if name == "mark":
            kept = inside(mark, after)
        elif name == "partner":
            kept = inside(partner, after)
        elif name.startswith("bolt"):
            kept = inside(bolts[[int(name[4:])]], after)
        else:
            was = inside(near_old[name], before)
            kept = min(1.0, inside(near_new[name], after) / was) if was else 0.0
        seen[name] = float(share) * kept
    lengths = np.linalg.norm(moved[1] - moved[2]), np.linalg.norm(moved[3] - moved[4])
    return truth | {
        "keypoints": moved,
        "box": box,
        "in_frame": float(
            np.prod(clipped[2:] - clipped[:2]) / max(np.prod(box[2:] - box[:2]), 1e-6)
        ),
        "seen": seen,
        "bolts": bolts,
        "bolt_seen": np.array(bolt_seen),
        "vents": warp_points(truth["vents"], homography),
        "mark": mark[0],
        "partner": partner[0] if len(partner) else None,
        "mark_px": float(truth["mark_px"]) * local_scale(truth["mark"], homography),
        "rim_px": float(max(lengths)),
    }


def occluded(truth: dict[str, Any], mask: NDArray[np.bool_]) -> dict[str, Any]:
    """Truth of one carb after something opaque was put over the pixels of a mask (H, W)."""
    h, w = mask.shape

    def open_share(points: Array) -> float:
        at = np.floor(points).astype(int)
        at = at[(at >= 0).all(1) & (at[:, 0] < w) & (at[:, 1] < h)]
        return 1.0 - float(mask[at[:, 1], at[:, 0]].mean()) if len(at) else 1.0

    bolts = np.asarray(truth["bolts"], float).reshape(-1, 2)
    near = _near(np.asarray(truth["keypoints"], float))
    near["mark"] = np.asarray([truth["mark"]], float)
    near["partner"] = _partner(truth)
    near["cover"] = _disc(near["cover"])
    kept = {k: open_share(v) for k, v in near.items()}
    kept |= {f"bolt{i}": open_share(b[None]) for i, b in enumerate(bolts)}
    return truth | {
        "seen": {k: float(v) * kept[k] for k, v in truth["seen"].items()},
        "bolt_seen": np.array(
            [float(s) * kept[f"bolt{i}"] for i, s in enumerate(truth["bolt_seen"])]
        ),
    }


def _disc(points: Array) -> Array:
    """Points filled in towards their middle, so that a narrow thing across them counts."""
    middle = points.mean(0)
    return np.concatenate([middle + k * (points - middle) for k in (0.25, 0.5, 0.75, 1.0)])


def mirrored(truth: dict[str, Any], size: Size) -> dict[str, Any]:
    """Truth of one carb as the mirror image shows it: left is right, clockwise anticlockwise.

    Nothing in such a picture says that it is one, so this is what a reader can be asked for.
    """
    flip = np.array([[-1.0, 0, size[0]], [0, 1, 0], [0, 0, 1]])
    out = warped(truth, flip, size, size)
    k = out["keypoints"]
    for a, b in SWAPS:
        k[[a, b]] = k[[b, a]]
    partner = truth.get("partner_bearing")
    return out | {
        "hand": -truth["hand"],
        "mark_bearing": _reversed(float(truth["mark_bearing"])),
        "partner_bearing": None if partner is None else _reversed(float(partner)),
        "y": -truth["y"],
    }


def _reversed(bearing_deg: float) -> float:
    return bearing_deg if bearing_deg == 180.0 else -bearing_deg
