"""Render the shipped sample photographs: cases of the invented scenario, truth beside them.

    python -m training.samples --out ../sample_images --environments environments

Styles, outlines, materials, light and phone are drawn from the evaluation side, which training
never sees; only what a case is about is chosen by hand.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from .denoise import denoiser_of
from .generate import load_environments
from .pack import plain
from .render import Renderer
from .scene.camera import View, look
from .scene.phone import Phone, develop, draw_phone
from .scene.photograph import see
from .scene.scene import Scene, build_scene
from .scene.style import Style, draw

SIZE = (3000, 2000)
MAX_BYTES = 1_450_000


@dataclass(frozen=True)
class Case:
    """One sample: what each carb has, left first, and where the phone stands.

    Angles in degrees; ``fraction`` is the dashpot's width over the picture's.
    """

    name: str
    holes: tuple[int, int]
    hands: tuple[int, int]
    marks: tuple[float, float]
    chamber: tuple[str, str]
    azimuth: float
    elevation: float
    fraction: float
    filtered: tuple[bool, bool] = (False, False)
    vents: int = 0
    fill: str = "empty"
    mark_kind: str = "raised"
    seed: int = 0


P, D = "piston", "diaphragm"
CASES = (
    Case("two-hole-inboard", (2, 2), (1, -1), (2, -3), (P, P), -14, 30, 0.17, seed=11),
    Case(
        "two-hole-outboard",
        (2, 2),
        (-1, 1),
        (0, 4),
        (P, P),
        12,
        26,
        0.17,
        mark_kind="painted",
        seed=12,
    ),
    Case(
        "two-hole-vents-same-side",
        (2, 2),
        (1, 1),
        (-2, 1),
        (P, P),
        -10,
        28,
        0.17,
        vents=2,
        mark_kind="notch_tab",
        seed=13,
    ),
    Case(
        "three-hole-inboard-diaphragm",
        (3, 3),
        (1, -1),
        (1, 0),
        (D, D),
        10,
        32,
        0.17,
        mark_kind="painted",
        seed=14,
    ),
    Case(
        "three-hole-outboard-mark-90",
        (3, 3),
        (-1, 1),
        (90, 0),
        (P, P),
        -20,
        38,
        0.17,
        mark_kind="notch_tab",
        seed=15,
    ),
    Case(
        "three-hole-integral",
        (3, 3),
        (0, 0),
        (0, -2),
        (D, D),
        8,
        30,
        0.18,
        mark_kind="notch_tab",
        seed=16,
    ),
    Case(
        "four-hole-integral-mark-180",
        (4, 4),
        (0, 0),
        (0, 180),
        (P, P),
        -12,
        66,
        0.18,
        mark_kind="painted",
        seed=17,
    ),
    Case(
        "four-hole-outboard-studs",
        (4, 4),
        (-1, 1),
        (3, 0),
        (P, P),
        15,
        34,
        0.17,
        fill="stud",
        mark_kind="notch_tab",
        seed=18,
    ),
    Case(
        "four-hole-inboard",
        (4, 4),
        (1, -1),
        (0, 0),
        (P, P),
        -8,
        30,
        0.16,
        mark_kind="painted",
        seed=19,
    ),
    Case(
        "mixed-pair", (2, 3), (1, -1), (0, 2), (P, D), 6, 32, 0.17, mark_kind="notch_tab", seed=20
    ),
    Case(
        "filters-fitted",
        (2, 2),
        (1, -1),
        (0, 0),
        (P, P),
        10,
        34,
        0.16,
        (True, True),
        mark_kind="painted",
        seed=21,
    ),
    Case("whole-bay", (3, 3), (-1, 1), (0, 0), (P, P), -24, 34, 0.055, seed=22),
    Case(
        "top-view-marks",
        (2, 2),
        (-1, 1),
        (0, 180),
        (P, P),
        -30,
        76,
        0.18,
        mark_kind="painted",
        seed=23,
    ),
    Case(
        "one-filter-off",
        (4, 4),
        (0, 0),
        (-1, 0),
        (D, D),
        14,
        34,
        0.18,
        (False, True),
        mark_kind="painted",
        seed=24,
    ),
)


def styles(case: Case) -> list[Style]:
    """Both carbs of a case: one drawn evaluation style, changed only in what the case is about."""
    rng = np.random.default_rng([case.seed, 5])
    out: list[Style] = []
    for i in range(2):
        want = {"hole_count": case.holes[i], "chamber": case.chamber[i]}
        base = (
            out[0]
            if i and (case.holes[0], case.chamber[0]) == (case.holes[1], case.chamber[1])
            else None
        )
        while base is None:
            s = draw(rng, True)
            if all(getattr(s, k) == v for k, v in want.items()):
                base = s
        out.append(
            replace(
                base,
                bowl_hand=case.hands[i],
                mark_bearing=case.marks[i],
                vents=case.vents,
                mark_kind=case.mark_kind,
                hole_fill=(case.fill,) * case.holes[i],
                mark_width=6.0,
                partner_bearing=0.0,
                mark_material=base.cover_material
                if case.mark_kind in ("raised", "notch_tab")
                else replace(base.mark_material, rgb=(0.75, 0.73, 0.68)),
            )
        )
    return out


def stand(scene: Scene, case: Case) -> View:
    """The phone of a case."""
    focal = SIZE[0] / 2 / np.tan(np.radians(30))
    distance = focal * scene.scale_hint / (case.fraction * SIZE[0])
    a, e = np.radians(case.azimuth), np.radians(case.elevation)
    target = np.array([15.0, 0.0, 0.1 * scene.scale_hint])
    origin = target + distance * np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    return View(origin, look(origin, target, 1.5), float(focal), (SIZE[0] / 2, SIZE[1] / 2), SIZE)


def encode(picture: np.ndarray, limit: int = MAX_BYTES) -> bytes:
    """JPEG at the best quality that stays within the limit."""
    for quality in (92, 88, 84, 80, 75, 70, 64, 58):
        ok, data = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
        assert ok
        if len(data) <= limit:
            return data.tobytes()
    raise ValueError("the picture does not fit the size limit at quality 58")


def shoot(
    renderer: Renderer, case: Case, env: np.ndarray, passes: int
) -> tuple[bytes, dict[str, Any]]:
    """Render one case: JPEG bytes and truth."""
    # another bay of the same pair if a hose or panel hides what the case is about
    for attempt in range(40):
        scene = build_scene(
            case.seed * 1000 + attempt, True, styles=styles(case), filtered=case.filtered
        )
        view = stand(scene, case)
        rng = np.random.default_rng([case.seed, 9])
        renderer.load(scene, env, rng, None)
        truth = see(renderer, scene, view)
        if clear(truth):
            break
    linear = renderer.mean(view, 0, 8, [case.seed * 100 + k for k in range(passes)])
    phone: Phone = replace(
        draw_phone(rng, linear, True),
        shot=0.01,
        read=0.002,
        sharpen=0.4,
        halo=1.0,
        smooth=0.04,
        quality=97,
    )
    picture = develop(phone, linear, rng)
    return encode(picture), {"case": case.name, "seed": scene.seed, "carbs": truth}


def clear(truth: list[dict[str, Any]]) -> bool:
    """Nothing hides a cover, an open flange or a bowl."""
    for t in truth:
        bowl = t["hand"] == 0 or t["filtered"] or t["seen"]["bowl"] > 0.25
        holes = t["filtered"] or min(t["bolt_seen"]) >= 0.75
        if not (t["in_frame"] > 0.99 and t["seen"]["cover"] > 0.3 and bowl and holes):
            return False
        if abs(t["mark_bearing"]) < 30 and not t["filtered"] and t["seen"]["mark"] < 0.4:
            return False
    return True


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--out", type=Path, required=True)
    p.add_argument("--environments", type=Path, required=True)
    p.add_argument("--variant", default="cuda_ad_rgb")
    p.add_argument("--passes", type=int, default=16, help="of 8 samples a pixel each")
    p.add_argument("--denoiser", type=Path, help="libOpenImageDenoise.so.2; without it grain stays")
    p.add_argument("--share", default="0/1", help="k/n: render every n-th case from the k-th")
    a = p.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    maps = load_environments(a.environments, "evaluation")
    k, n = (int(x) for x in a.share.split("/"))
    denoiser = denoiser_of(a.denoiser, a.variant)
    renderer = Renderer(a.variant, (SIZE, (384, 384)), denoiser=denoiser)
    for i, case in enumerate(CASES):
        if i % n != k:
            continue
        data, truth = shoot(renderer, case, maps[(case.seed * 7) % len(maps)], a.passes)
        (a.out / f"{case.name}.jpg").write_bytes(data)
        (a.out / f"{case.name}.truth.json").write_text(json.dumps(plain(truth), indent=1))
        print(case.name, len(data), flush=True)


if __name__ == "__main__":
    main()
