"""What is true about a carb in a photograph: landmarks in pixels, what can be seen, what it is."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .camera import View
from .mesh import Array
from .scene import PlacedCarb

Flags = NDArray[np.bool_]

KEYPOINTS = (
    "rim", "rim_front", "rim_back", "rim_right", "rim_left", "rim_axis", "cap",
    "throat", "throat_right", "throat_left", "throat_up", "throat_down", "bowl",
)  # fmt: skip


def carb_truth(carb: PlacedCarb, view: View, visible: dict[str, Flags]) -> dict[str, Any]:
    """Truth of one carb in one photograph.

    ``visible`` maps surface names to arrays of bool (seen by the camera, occlusion only); pixels
    outside the photograph count as not seen. Returned pixels are those of ``view``.
    """
    s = carb.style
    lm = carb.landmarks
    w, h = view.size

    def inside(xy: Array) -> Flags:
        return np.asarray((xy[:, 0] >= 0) & (xy[:, 0] < w) & (xy[:, 1] >= 0) & (xy[:, 1] < h))

    pix: dict[str, Array] = {k: view.project(v)[0] for k, v in carb.surface.items()}
    depth = view.project(lm["rim"])[1]
    seen = {k: float((visible[k] & inside(pix[k])).mean()) if len(pix[k]) else 0.0 for k in pix}
    kp3 = np.concatenate([lm["rim"], lm["cap"], lm["throat"], lm["bowl"]])
    kp, _ = view.project(kp3)
    outline = np.concatenate(
        [pix["cover"], pix["body"], pix["flange"], pix["under"], view.project(lm["cap"])[0]]
    )
    box = np.r_[outline.min(0), outline.max(0)]
    clipped = np.r_[np.clip(box[:2], 0, [w, h]), np.clip(box[2:], 0, [w, h])]
    area = float(np.prod(box[2:] - box[:2]))
    normal = np.cross(lm["throat"][1] - lm["throat"][0], lm["throat"][3] - lm["throat"][0])
    normal /= np.linalg.norm(normal)
    to_cam = view.origin - lm["throat"][0]
    mark = view.project(lm["mark_extent"])[0]
    bolts = [seen[f"bolt{i}"] for i in range(s.hole_count)]
    rim_px = np.linalg.norm(kp[1] - kp[2]), np.linalg.norm(kp[3] - kp[4])
    return {
        "keypoints": kp.astype(np.float32),
        "box": box.astype(np.float32),
        "in_frame": float(np.prod(clipped[2:] - clipped[:2]) / max(area, 1e-6)),
        "in_front": bool((depth > 30).all()),
        "seen": seen,
        "bolts": view.project(lm["bolts"])[0].astype(np.float32),
        "bolt_seen": np.array(bolts, np.float32),
        "vents": view.project(lm["vents"])[0].astype(np.float32)
        if len(lm["vents"])
        else np.zeros((0, 2), np.float32),
        "mark": view.project(lm["mark"])[0][0].astype(np.float32),
        "mark_px": float(np.linalg.norm(mark.max(0) - mark.min(0))),
        "rim_px": float(max(rim_px)),
        "facing": float(normal @ to_cam / np.linalg.norm(to_cam)),
        "flange_holes": s.hole_count,
        "hole_fill": s.hole_fill,
        "outline": s.outline,
        "hand": s.bowl_hand,
        "mark_bearing": s.mark_bearing,
        "mark_kind": s.mark_kind,
        "partner_bearing": s.partner_bearing,
        "partner": pix["partner"].mean(0).astype(np.float32) if len(pix["partner"]) else None,
        "chamber": s.chamber,
        "filtered": carb.filtered,
        "y": carb.y,
    }
