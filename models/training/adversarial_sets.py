"""Render the adversarial scenes to shards, as ``training.generate`` does for the plain ones.

    python -m training.adversarial_sets --out shards --environments environments --width 1280

Run from ``models/``; ``training.pack`` packs the shards. Seeds and kinds: ``scene/adversarial.py``.
Without ``--seeds`` every seed of every kind is rendered, the kinds taking turns. ``--share K/N``
renders every N-th of them from the K-th on (counted from 0), for several machines.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .denoise import denoiser_of
from .evaluation.rephotograph import rephotograph
from .evaluation.truth_warp import mirrored, warped
from .generate import SHARD, load_environments, save
from .render import Renderer
from .scene.adversarial import KINDS, all_seeds, build_case, kind_of
from .scene.phone import develop, draw_phone
from .scene.photograph import draw_lamp, see

ATTEMPTS = 4
"""A panel right before the lens hides every carb: that many views are tried."""


def take(
    renderer: Renderer,
    seed: int,
    env: NDArray[np.float32],
    size: tuple[int, int],
    spp: int,
    passes: int = 1,
) -> dict[str, Any]:
    """Photograph one case; deterministic in its seed. The row is as ``photograph`` makes it."""
    for attempt in range(ATTEMPTS):
        case = build_case(seed, size, attempt)
        rng = np.random.default_rng([seed, 31, attempt])
        renderer.load(case.scene, env, rng, draw_lamp(rng, case.view, True))
        truth = see(renderer, case.scene, case.view)
        if max(t["seen"]["cover"] for t in truth) > 0.1:
            break
    linear = renderer.mean(case.view, 0, spp, [seed * 64 + 8 * k for k in range(passes)])
    picture = develop(draw_phone(rng, linear, True), linear, rng)
    if case.kind == "mirror_image":
        picture = np.ascontiguousarray(picture[:, ::-1])
        truth = [mirrored(t, size) for t in truth]
    elif case.kind == "picture_of_a_picture":
        again = rephotograph(picture, rng)
        picture = again.picture
        truth = [warped(t, again.homography, size, size) for t in truth]
    return {"seed": seed, "kind": case.kind, "photo": picture, "carbs": truth, "crops": []}


def chosen(args: argparse.Namespace) -> list[int]:
    """The seeds that the command line asks for. Raises SystemExit when there is none."""
    seeds = all_seeds()
    if args.seeds:
        first, last = (int(x) for x in args.seeds.split(":"))
        seeds = [s for s in seeds if first <= s < last]
    if args.kinds:
        seeds = [s for s in seeds if kind_of(s) in args.kinds]
    part, parts = (int(x) for x in args.share.split("/"))
    seeds = seeds[part::parts]
    if not seeds:
        raise SystemExit("no adversarial seed is asked for: check --seeds, --kinds and --share")
    return seeds


Take = Callable[[Renderer, int, NDArray[np.float32], tuple[int, int], int, int], dict[str, Any]]


def work(args: argparse.Namespace, seeds: Sequence[int], take: Take) -> None:
    """Render this worker's share of the seeds until they or the time run out."""
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    maps = load_environments(Path(args.environments), "evaluation")
    size = (args.width, args.width * 3 // 4)
    renderer = Renderer(args.variant, (size,), denoiser=denoiser_of(args.denoiser, args.variant))
    rows: list[dict[str, Any]] = []
    start, done = time.time(), 0
    for seed in seeds[args.worker :: args.workers]:
        if time.time() > args.deadline:
            break
        try:
            env = maps[int(np.random.default_rng(seed + 5).integers(len(maps)))]
            rows.append(take(renderer, seed, env, size, args.spp, args.passes))
        except Exception as error:  # noqa: BLE001 - one bad seed, named, must not cost the run
            print(f"seed {seed}: {error!r}", file=sys.stderr, flush=True)
            continue
        done += 1
        if len(rows) == SHARD:
            save(out, f"{args.worker:02d}-{seed:07d}", rows)
            rows = []
    if rows:
        save(out, f"{args.worker:02d}-last", rows)
    print(f"worker {args.worker}: {done} scenes in {time.time() - start:.1f} s", flush=True)


def launch(args: argparse.Namespace, argv: list[str], module: str) -> int:
    """Start the workers over all GPUs, the first of each alone, and wait for them."""
    started = []
    for k in range(args.workers):
        env = dict(os.environ, OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")
        if args.variant.startswith("cuda"):
            env["CUDA_VISIBLE_DEVICES"] = str(k % args.gpus)
        more = ["--worker", str(k), "--deadline", str(args.deadline)]
        command = [sys.executable, "-m", module, *argv, *more]
        started.append(subprocess.Popen(command, env=env))
        if k == args.gpus - 1 and args.workers > args.gpus:
            time.sleep(args.head_start)
    return max(p.wait() for p in started)


def add_common(p: argparse.ArgumentParser) -> None:
    """Options that every set's renderer has."""
    p.add_argument("--out", required=True)
    p.add_argument("--environments", required=True)
    p.add_argument("--share", default="0/1")
    p.add_argument("--variant", default="cuda_ad_rgb")
    p.add_argument("--width", type=int, default=1280)
    p.add_argument("--spp", type=int, default=32)
    p.add_argument("--passes", type=int, default=1, help="passes of --spp samples, averaged")
    p.add_argument("--denoiser", type=Path, help="libOpenImageDenoise.so.2; without it grain stays")
    p.add_argument("--workers", type=int, default=1)
    p.add_argument("--gpus", type=int, default=1)
    p.add_argument("--head-start", type=float, default=25.0)
    p.add_argument("--seconds", type=float, default=500.0)
    p.add_argument("--worker", type=int)
    p.add_argument("--deadline", type=float, default=0.0)


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--seeds", default="", help="FIRST:LAST, LAST not included; default all")
    p.add_argument("--kinds", nargs="+", choices=list(KINDS))
    add_common(p)
    args = p.parse_args()
    args.deadline = args.deadline or time.time() + args.seconds
    if args.worker is None:
        sys.exit(launch(args, sys.argv[1:], "training.adversarial_sets"))
    work(args, chosen(args), take)


if __name__ == "__main__":
    main()
