"""Render each pair from three sides, for what a second and a third photo add.

    python -m training.pair_views --out shards --environments environments --width 1280

Run from ``models/``. Pair k has the seeds 9300000 + 10 k + view, view 0 to 2; scene, light and
phone of a view are drawn from the evaluation side, the views as in any other set.
"""

from __future__ import annotations

import argparse
import sys
import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .adversarial_sets import add_common, launch, work
from .render import Renderer
from .scene.camera import draw_view
from .scene.phone import develop, draw_phone
from .scene.photograph import draw_lamp, see
from .scene.scene import build_scene

FIRST_SEED = 9_300_000
PAIRS = 200
VIEWS = 3
ATTEMPTS = 4
"""A panel right before the lens hides every carb: that many views are tried."""


def pair_of_seed(seed: int) -> int:
    """Number of the pair that a picture's seed shows. Raises ValueError for another set's seed."""
    pair, view = divmod(seed - FIRST_SEED, 10)
    if not 0 <= pair < PAIRS or view >= VIEWS:
        raise ValueError(f"{seed} is no seed of a pair's view ({FIRST_SEED} and on)")
    return pair


def all_seeds(pairs: int = PAIRS) -> list[int]:
    """The seeds of the first pairs, the views of a pair together."""
    return [FIRST_SEED + 10 * k + v for k in range(pairs) for v in range(VIEWS)]


def take(
    renderer: Renderer,
    seed: int,
    env: NDArray[np.float32],
    size: tuple[int, int],
    spp: int,
    passes: int = 1,
) -> dict[str, Any]:
    """One view of a pair without filters; deterministic in its seed."""
    scene = build_scene(seed // 10, True, carb_count=2, filtered=(False, False))
    for attempt in range(ATTEMPTS):
        rng = np.random.default_rng([seed, 49979687, attempt])
        view = draw_view(scene, rng, size)
        renderer.load(scene, env, rng, draw_lamp(rng, view, True))
        truth = see(renderer, scene, view)
        if max(t["seen"]["cover"] for t in truth) > 0.1:
            break
    linear = renderer.mean(view, 0, spp, [seed * 64 + 8 * k for k in range(passes)])
    picture = develop(draw_phone(rng, linear, True), linear, rng)
    return {"seed": seed, "photo": picture, "carbs": truth, "crops": []}


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--pairs", type=int, default=PAIRS)
    add_common(p)
    args = p.parse_args()
    args.deadline = args.deadline or time.time() + args.seconds
    if args.worker is None:
        sys.exit(launch(args, sys.argv[1:], "training.pair_views"))
    part, parts = (int(x) for x in args.share.split("/"))
    work(args, all_seeds(args.pairs)[part::parts], take)


if __name__ == "__main__":
    main()
