"""Render a range of seeds to shards, on every GPU of the machine (or on the CPU for a few scenes).

    python -m training.generate --out shards --environments environments \\
        --seeds 0:20000 --seconds 500

Run from ``models/``. Each shard is an .npz of pictures and a .pkl of truth. The first worker of
each GPU starts alone, so that the others find its compiled kernels on disk.
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .scene.photograph import CLOSEUP, CROP, RIM

SHARD = 48


def load_environments(folder: Path, split: str) -> list[NDArray[np.float32]]:
    """Environment maps (256, 512, 3) of a split, sorted by name."""
    index = json.loads((folder / "environments.json").read_text())
    rows = index["maps"] if isinstance(index, dict) else index
    names = sorted(r["name"] for r in rows if r["split"] == split)
    return [np.load(folder / f"{n}.npy").astype(np.float32) for n in names]


def has_decoys(seed: int, share: float) -> bool:
    """Whether a seed belongs to the share of scenes whose rims are surrounded with decoys."""
    return float(np.random.default_rng([seed, 17]).random()) < share


def work(args: argparse.Namespace) -> None:
    """Render this worker's share of the seeds until they or the time run out."""
    from .denoise import denoiser_of
    from .render import Renderer
    from .scene.photograph import photograph
    from .scene.scene import build_scene

    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    maps = load_environments(
        Path(args.environments), "evaluation" if args.evaluation else "training"
    )
    size = (args.width, args.width * 3 // 4)
    renderer = Renderer(
        args.variant,
        (size, (CROP, CROP), (CLOSEUP, CLOSEUP), (RIM, RIM)),
        fresh=args.fresh,
        denoiser=denoiser_of(args.denoiser, args.variant),
    )
    first, last = (int(x) for x in args.seeds.split(":"))
    rows: list[dict[str, Any]] = []
    done = 0
    start = time.time()
    for seed in range(first + args.worker, last, args.workers):
        if time.time() > args.deadline:
            break
        try:
            scene = build_scene(
                seed,
                args.evaluation,
                decoys=has_decoys(seed, args.decoys),
            )
            env = maps[int(np.random.default_rng(seed + 5).integers(len(maps)))]
            rows.append(
                photograph(
                    renderer,
                    scene,
                    env,
                    (args.spp, args.crop_spp, args.closeup_spp, args.rim_spp),
                    not args.no_crops,
                    size,
                    args.passes,
                    args.views,
                    args.hidden_views,
                )
            )
        except Exception as error:  # noqa: BLE001 - one bad seed, named, must not cost the run
            print(f"seed {seed}: {error!r}", file=sys.stderr, flush=True)
            continue
        rows += rows[-1].pop("others", [])
        done += 1
        if done == 1:
            print(
                f"worker {args.worker}: first picture after {time.time() - start:.1f} s", flush=True
            )
        if len(rows) >= SHARD:
            save(out, f"{args.worker:02d}-{seed:07d}", rows, args.no_photos)
            rows = []
    if rows:
        save(out, f"{args.worker:02d}-last", rows, args.no_photos)
    print(f"worker {args.worker}: {done} scenes in {time.time() - start:.1f} s", flush=True)


def save(out: Path, name: str, rows: list[dict[str, Any]], no_photos: bool = False) -> None:
    """Write one shard: photos and windows by kind, each (N, H, W, 3), and the pickled truth."""
    photos = np.stack([r.pop("photo") for r in rows])
    np.save(out / f"{name}.photos.npy", photos[:0] if no_photos else photos)
    for kind, side in (("crops", CROP), ("closeups", CLOSEUP), ("rims", RIM)):
        pictures = [c.pop("picture") for r in rows for c in r.get(kind, ())]
        empty = np.zeros((0, side, side, 3), np.uint8)
        np.save(out / f"{name}.{kind}.npy", np.stack(pictures) if pictures else empty)
    tmp = out / f"{name}.pkl.part"
    tmp.write_bytes(pickle.dumps(rows))
    tmp.rename(out / f"{name}.pkl")


def launch(args: argparse.Namespace, argv: list[str]) -> int:
    """Start the workers over all GPUs, the first of each alone, and wait for them."""
    gpus = args.gpus
    started = []
    for k in range(args.workers):
        env = dict(os.environ, OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")
        if args.variant.startswith("cuda"):
            env["CUDA_VISIBLE_DEVICES"] = str(k % gpus)
        cmd = [
            sys.executable,
            "-m",
            "training.generate",
            *argv,
            "--worker",
            str(k),
            "--deadline",
            str(args.deadline),
        ]
        started.append(subprocess.Popen(cmd, env=env))
        if k == gpus - 1 and args.workers > gpus:
            time.sleep(args.head_start)
    return max(p.wait() for p in started)


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--out", required=True)
    p.add_argument("--environments", required=True)
    p.add_argument("--seeds", default="0:1000")
    p.add_argument("--evaluation", action="store_true")
    p.add_argument("--no-crops", action="store_true")
    p.add_argument(
        "--no-photos",
        action="store_true",
        help="keep only the windows: the readers need no photographs, the locator does",
    )
    p.add_argument(
        "--fresh",
        action="store_true",
        help="load a new scene for every render (to measure what keeping it gains)",
    )
    p.add_argument("--variant", default="cuda_ad_rgb")
    p.add_argument("--width", type=int, default=640)
    p.add_argument("--spp", type=int, default=8)
    p.add_argument(
        "--passes",
        type=int,
        default=1,
        help="passes of --spp samples, averaged; keeps a large picture in memory",
    )
    p.add_argument("--crop-spp", type=int, default=12, help="0: no crops")
    p.add_argument("--views", type=int, default=2, help="photographs of a scene, with crops")
    p.add_argument(
        "--hidden-views",
        type=int,
        default=0,
        help="further photographs of a scene in which a carb is partly hidden, where one is found",
    )
    p.add_argument("--closeup-spp", type=int, default=12, help="0: no close-ups")
    p.add_argument(
        "--rim-spp",
        type=int,
        default=0,
        help="windows of the rims alone, smaller than close-ups; 0: none",
    )
    p.add_argument(
        "--decoys",
        type=float,
        default=0.0,
        help="share of the scenes whose rims are surrounded with what can be mistaken for a mark",
    )
    p.add_argument("--denoiser", type=Path, help="libOpenImageDenoise.so.2; without it grain stays")
    p.add_argument("--workers", type=int, default=1)
    p.add_argument("--gpus", type=int, default=1)
    p.add_argument("--head-start", type=float, default=25.0)
    p.add_argument("--seconds", type=float, default=500.0)
    p.add_argument("--worker", type=int)
    p.add_argument("--deadline", type=float, default=0.0)
    args = p.parse_args()
    args.deadline = args.deadline or time.time() + args.seconds
    if args.worker is None:
        sys.exit(launch(args, sys.argv[1:]))
    work(args)


if __name__ == "__main__":
    main()
