"""An inspection in the schema's form, for tests where the analysis itself is not the matter."""

from typing import Any


def feature(value: Any, probability: float = 0.97, **more: Any) -> dict[str, Any]:
    seen = value is not None
    return {
        "value": value,
        "probability": probability if seen else None,
        "status": "seen" if seen else "not_visible",
        "reason": None if seen else "out_of_frame",
        "distribution": None,
    } | more


def features(holes: int | None = 3, bowl: str | None = "inboard") -> dict[str, Any]:
    bearing = {"distribution": {"mean_deg": 2.0, "sd_deg": 2.0}, "interval_deg": [-1.3, 5.3]}
    return {
        "flange_holes": feature(holes),
        "bowl_side": feature(bowl),
        "mark_bearing_deg": feature(2.0, **bearing),
        "mark_verdict": feature("faces_intake"),
        "chamber": feature("piston"),
        "filter_fitted": feature(False),
    }


def inspection(names: list[str], holes: int | None = 3) -> dict[str, Any]:
    evidence = {
        "throat": [120.0, 130.0, 20.0, 18.0, 10.0],
        "rim": None,
        "frame": None,
        "holes": [{"x": 110.0, "y": 130.0, "r": 3.0, "kind": "bolt", "status": "seen"}],
        "mark": {"x": 120.0, "y": 60.0},
    }
    carbs = [
        {"position": "left", "box": [20, 40, 150, 200], "score": 0.98,
         "widths_px": {"throat": 40.0, "rim": 120.0}, "features": features(holes),
         "evidence": evidence},
        {"position": "right", "box": [170, 40, 300, 200], "score": 0.97,
         "widths_px": {"throat": 38.0, "rim": 118.0}, "features": features(holes), "evidence": {}},
    ]  # fmt: skip
    return {
        "schema": "carbpair/inspection/1",
        "software": {"name": "carbpair", "version": "0.1.0"},
        "models": [{"name": "locator", "sha256": "ab" * 32}],
        "photos": [
            {"file": name, "width": 320, "height": 240, "error": None, "notes": [],
             "quality": {"status": "good", "findings": []}, "carbs": carbs}
            for name in names
        ],
        "pair": {
            "status": "complete",
            "photos_used": len(names),
            "carbs": {side: {"features": features(holes)} for side in ("left", "right")},
            "layout": feature("inboard"),
            "matched": feature(True),
            "features": features(holes),
            "contradictions": [],
            "advice": [],
        },
        "identification": None,
    }  # fmt: skip
