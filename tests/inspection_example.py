"""A literal inspection, as `carbpair inspect --json` prints it, with evidence that fits a scene.

The scene is two carbs seen from 30° above and a little from the left, drawn as plain shapes.
"""

import math
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.geometry.bolt_circle import bolt_circle
from carbpair.geometry.ellipse import Ellipse, circle_image
from carbpair.geometry.frame import CarbFrame, point_at_bearing


def seen(value: object, probability: float, distribution: dict[str, float] | None = None) -> Any:
    return {
        "value": value,
        "probability": probability,
        "status": "seen",
        "reason": None,
        "distribution": distribution,
    }


def hidden(reason: str) -> Any:
    return {
        "value": None,
        "probability": None,
        "status": "not_visible",
        "reason": reason,
        "distribution": None,
    }


def unsure(distribution: dict[str, float], reason: str = "low_confidence") -> Any:
    return {
        "value": None,
        "probability": max(distribution.values()),
        "status": "unsure",
        "reason": reason,
        "distribution": distribution,
    }


def bearing(value: float, sd: float = 2.0) -> Any:
    return {
        **seen(value, 0.96, {"mean_deg": value, "sd_deg": sd}),
        "interval_deg": [value - 1.64 * sd, value + 1.64 * sd],
    }


def features(**changed: Any) -> dict[str, Any]:
    plain = {
        "flange_holes": seen(3, 0.97, {"2": 0.01, "3": 0.97, "4": 0.02}),
        "hole_layout": seen("one_above", 0.99),
        "bowl_side": seen("inboard", 0.99),
        "mark_bearing_deg": bearing(-38.0),
        "mark_verdict": seen("turned", 0.98),
        "chamber": seen("piston", 0.999),
        "filter_fitted": seen(False, 0.98),
    }
    return {**plain, **changed}


def frame_at(x: float, y: float, scale: float, azimuth: float = 25.0) -> CarbFrame:
    a, e = math.radians(azimuth), math.radians(30.0)
    towards = np.array([math.cos(a) * math.cos(e), -math.sin(a) * math.cos(e), math.sin(e)])
    right = np.cross([0, 0, 1], towards)
    right /= np.linalg.norm(right)
    rows = scale * np.stack([right, -np.cross(towards, right)])
    axes = [(float(rows[0, i]), float(rows[1, i])) for i in range(3)]
    return CarbFrame((x, y), *axes)


def carb(
    frame: CarbFrame, position: str | None, read: dict[str, Any], holes: int, vents: int
) -> dict[str, Any]:
    """One entry of `photos[].carbs`; carb units: dashpot radius 1, throat radius 0.43."""
    throat = circle_image(frame.project([[1.2, 0, -0.6]])[0], _y(frame, 0.43), _z(frame, 0.43))
    top = frame.project([[0, 0, 1.2]])[0]
    rim = circle_image(top, frame.ux, frame.uy)
    ring = 0.43 * bolt_circle(holes, 1.85, 90.0) if holes else np.empty((0, 2))
    small = 0.43 * bolt_circle(vents, 1.35, 45.0) if vents else np.empty((0, 2))
    found = [("bolt", p) for p in ring] + [("vent", p) for p in small]
    shapes = []
    for number, (kind, (y, z)) in enumerate(found):
        at = frame.project([[1.2, y, z - 0.6]])[0]
        shapes.append(
            {
                "x": float(at[0]),
                "y": float(at[1]),
                "r": float((0.1 if kind == "bolt" else 0.05) * abs(frame.uy[0])),
                "kind": kind,
                "status": "occluded" if number == 1 else "seen",
            }
        )
    value = read["mark_bearing_deg"]["value"]
    mark = point_at_bearing(frame, value, 0.95, 1.2) if value is not None else None
    corners = frame.project([[x, y, z] for x in (-1, 1.2) for y in (-1, 1) for z in (-1.5, 1.7)])
    low, high = corners.min(axis=0), corners.max(axis=0)
    return {
        "position": position,
        "box": [*map(float, low), *map(float, high)],
        "score": 0.97,
        "widths_px": {"throat": 2 * throat.semi_major, "rim": 2 * rim.semi_major},
        "features": read,
        "evidence": {
            "frame": CarbFrame(
                (float(top[0]), float(top[1])), frame.ux, frame.uy, frame.uz
            ).as_json(),
            "throat": [*throat.as_tuple()],
            "rim": [*rim.as_tuple()],
            "holes": shapes,
            "mark": {"x": mark[0], "y": mark[1]} if mark else None,
        },
    }


def photo(
    name: str, width: int, height: int, scale: float, carbs: int = 2, **changed: Any
) -> dict[str, Any]:
    """One entry of `photos`, with `carbs` carbs a pitch of 1.9 dashpot diameters apart."""
    middle = (0.5 * width, 0.5 * height)
    left = frame_at(middle[0] - 2.0 * scale, middle[1], scale)
    right = frame_at(middle[0] + 2.0 * scale, middle[1], scale)
    found = [
        carb(left, "left", features(), 3, 0),
        carb(
            right,
            "right",
            features(
                flange_holes=hidden("filter_fitted"),
                hole_layout=hidden("filter_fitted"),
                mark_bearing_deg=bearing(141.0),
                filter_fitted=seen(True, 0.96),
                bowl_side=unsure({"inboard": 0.62, "outboard": 0.3, "none": 0.08}),
            ),
            2,
            2,
        ),
    ]
    return {
        "file": name,
        "width": width,
        "height": height,
        "error": None,
        "notes": [],
        "quality": {"status": "good", "findings": []},
        "carbs": found[:carbs],
        **changed,
    }


def inspection() -> dict[str, Any]:
    """A whole inspection of three files, one of them broken."""
    first = photo("front.jpg", 3000, 2000, 300.0)
    second = photo(
        "dark.jpg",
        2000,
        1500,
        150.0,
        carbs=1,
        notes=["mirrored_exif"],
        quality={
            "status": "usable",
            "findings": [
                {"kind": "too_dark", "value": 60, "limit": 74, "advice": "The photo is too dark."}
            ],
        },
    )
    broken = {
        "file": "cut.jpg",
        "width": None,
        "height": None,
        "error": {
            "kind": "truncated",
            "message": "The photo is cut short: part of the picture is missing.",
            "remedy": "Send it again; the transfer was probably interrupted.",
        },
        "notes": [],
        "quality": None,
        "carbs": [],
    }
    left, right = first["carbs"]
    return {
        "schema": "carbpair/inspection/1",
        "software": {"name": "carbpair", "version": "0.1.0"},
        "models": [{"name": "locator", "sha256": "0" * 64}],
        "photos": [first, second, broken],
        "pair": {
            "status": "complete",
            "photos_used": 2,
            "carbs": {
                "left": {"features": left["features"]},
                "right": {"features": right["features"]},
            },
            "layout": hidden("other_carb_not_seen"),
            "matched": seen(True, 0.9),
            "features": features(),
            "contradictions": [],
            "advice": ["Take the air filter off the right carburettor and photograph its flange."],
        },
        "identification": None,
    }


def picture_of(entry: dict[str, Any]) -> NDArray[np.uint8]:
    """A grey engine bay with the entry's shapes, to draw on."""
    height, width = entry["height"], entry["width"]
    rng = np.random.default_rng(8)
    ground = cv2.resize(rng.uniform(20, 120, (9, 12, 3)), (width, height))
    pixels = np.clip(ground, 0, 255).astype(np.uint8)
    for each in entry["carbs"]:
        x0, y0, x1, y1 = (round(v) for v in each["box"])
        cv2.rectangle(pixels, (x0 + 9, y0 + 9), (x1 - 9, y1 - 9), (150, 150, 148), -1)
        held = each["evidence"]
        for values, tone in ((held["rim"], (205, 205, 200)), (held["throat"], (25, 25, 25))):
            outline = np.rint(Ellipse(*values).points(90)).astype(np.int32)
            cv2.fillPoly(pixels, [outline], tone)
        for hole in held["holes"]:
            centre = (round(hole["x"]), round(hole["y"]))
            cv2.circle(pixels, centre, max(1, round(0.7 * hole["r"])), (40, 40, 40), -1)
    return pixels


def _y(frame: CarbFrame, length: float) -> tuple[float, float]:
    return length * frame.uy[0], length * frame.uy[1]


def _z(frame: CarbFrame, length: float) -> tuple[float, float]:
    return length * frame.uz[0], length * frame.uz[1]
