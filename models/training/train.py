"""Train the locator and the readers on rendered shards, for a given number of seconds each.

    python -m training.train locator --shards shards --negatives negatives.tar \\
        --backbone lite0.pth --seconds 240 --out weights

The learning rate follows the clock (warm-up, then a cosine to zero), so a run always ends annealed.
Weights are averaged exponentially; the average is exported to ONNX.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn

from . import data, losses, nets, windows

HARD_TIMES = 1.5
"""A photograph with a carb that is mostly hidden is drawn this many times as often."""

BATCH = {"locator": 48, "reader": 160, "refiner": 160, "flange": 256, "rim": 192}
RATE = {"locator": 1.6e-3, "reader": 2.0e-3, "refiner": 2.0e-3, "flange": 2.5e-3, "rim": 2.0e-3}
NEEDS = {
    "locator": "photos",
    "reader": "crops",
    "refiner": "closeups",
    "flange": "closeups",
    "rim": "closeups",
}
HELD_OUT = 0.03
EXPORT_SECONDS = 6.0
"""Allowed for choosing the memory layout and writing the files of one network."""

SHAPES = {
    "locator": (1, 3, 480, 640),
    "reader": (1, 3, 256, 256),
    "refiner": (1, 3, 256, 256),
    "flange": (1, 3, 128, 128),
    "rim": (1, 6, 48, 792),
}


Batches = Callable[[Tensor], tuple[Tensor, dict[str, Tensor]]]


class Average:
    """Exponential moving average of a network's weights."""

    def __init__(self, net: nn.Module, decay: float = 0.998) -> None:
        self.net, self.decay, self.steps = copy.deepcopy(net).eval(), decay, 0

    @torch.no_grad()
    def update(self, net: nn.Module) -> None:
        self.steps += 1
        d = min(self.decay, (1 + self.steps) / (10 + self.steps))
        for a, b in zip(self.net.state_dict().values(), net.state_dict().values(), strict=True):
            if a.dtype.is_floating_point:
                a.lerp_(b, 1 - d)
            else:
                a.copy_(b)


def fastest_layout(net: nn.Module, x: Tensor, device: str) -> torch.memory_format:
    """The memory layout in which three forward and backward passes are quicker on this device."""
    if device == "cpu":
        return torch.contiguous_format
    times = {}
    for layout in (torch.contiguous_format, torch.channels_last):
        net.to(memory_format=layout)
        for i in range(5):
            if i == 2:
                torch.cuda.synchronize(device)
                start = time.time()
            with torch.autocast("cuda", dtype=torch.bfloat16):
                out = net(x.contiguous(memory_format=layout))
                total = sum(o.float().mean() for o in (out if isinstance(out, tuple) else (out,)))
            torch.autograd.backward(total)
        torch.cuda.synchronize(device)
        times[layout] = time.time() - start
    net.zero_grad(set_to_none=True)
    print({str(k): round(v, 3) for k, v in times.items()}, flush=True)
    return min(times, key=lambda k: times[k])


def held_out(indices: Tensor, scene: Tensor) -> tuple[Tensor, Tensor]:
    """Indices of the scenes held out, and all others, each in random order."""
    order = indices[torch.randperm(len(indices), device=indices.device)]
    scenes = torch.unique(scene[order])
    scenes = scenes[torch.randperm(len(scenes), device=scenes.device)]
    out = torch.isin(scene[order], scenes[: max(1, int(len(scenes) * HELD_OUT))])
    return order[out], order[~out]


def resume(net: nn.Module, state: dict[str, Tensor]) -> None:
    """Load an earlier state; parts that came later (``nets.LATER``) stay as they are.

    Raises ValueError for a state of another network.
    """
    try:
        missing, strange = net.load_state_dict(state, strict=False)
    except RuntimeError as error:  # tensors of other shapes
        raise ValueError(f"not a state of this network: {error}") from error
    if strange or (lost := [k for k in missing if not k.startswith(nets.LATER)]):
        raise ValueError(f"not a state of this network: {strange or f'{lost} are missing'}")
    if missing:
        print("not in the earlier state:", ", ".join(missing), flush=True)


def run(
    name: str,
    batch_of: Batches,
    indices: Tensor,
    scene: Tensor,
    seconds: float,
    backbone: Path | None,
    device: str,
    seed: int,
    fraction: float = 1.0,
    start_from: Path | None = None,
    weights: Tensor | None = None,
) -> tuple[nn.Module, dict[str, Any]]:
    """Train one network on batches drawn from ``indices``; returns averaged weights and a log.

    ``scene`` (N,): the scene of each index; whole scenes are held out, whose views resemble one
    another. ``fraction`` of the training part is used; what is held out is the same for every
    fraction. ``start_from``: a state to go on from; ``weights`` (N,): how often each is drawn.
    """
    torch.manual_seed(seed)
    net = nets.build(name, backbone)
    if start_from:
        resume(net, torch.load(start_from, map_location="cpu"))
    net = net.to(device)
    with torch.no_grad():
        first, _ = batch_of(indices[: min(BATCH[name], len(indices))])
    layout = fastest_layout(net, first, device)
    net = net.to(memory_format=layout)
    loss_of = getattr(losses, f"{name}_loss")
    body = [p for n, p in net.named_parameters() if n.startswith("body.")]
    rest = [p for n, p in net.named_parameters() if not n.startswith("body.")]
    lr = RATE[name]
    groups = [{"params": rest, "lr": lr, "peak": lr}] + (
        [{"params": body, "lr": lr * 0.5, "peak": lr * 0.5}] if body else []
    )
    opt = torch.optim.AdamW(groups, weight_decay=0.02)
    avg = Average(net)
    held, train = held_out(indices, scene)
    train = train[: max(1, round(len(train) * fraction))]
    size = min(BATCH[name], max(2, len(train)))
    odds = None if weights is None else weights[train]
    start = last = time.time()
    step = seen = 0
    watch: dict[str, float] = {}
    history = []
    while (t := (time.time() - start) / seconds) < 1:
        rate = min(1.0, t / 0.04) * (0.5 + 0.5 * math.cos(math.pi * t))
        for g in opt.param_groups:
            g["lr"] = g["peak"] * rate
        if odds is None:
            chosen = torch.randint(len(train), (size,), device=train.device)
        else:
            chosen = torch.multinomial(odds, size, replacement=True)
        pick = train[chosen]
        with torch.no_grad():
            x, target = batch_of(pick)
        with torch.autocast(device.split(":")[0], dtype=torch.bfloat16, enabled=device != "cpu"):
            out = net(x.contiguous(memory_format=layout))
        loss, nums = loss_of(out, target)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        opt.step()
        avg.update(net)
        step, seen = step + 1, seen + size
        for k, v in nums.items():
            watch[k] = 0.97 * watch.get(k, v) + 0.03 * v
        if time.time() - last > max(10, seconds / 10):
            last = time.time()
            history.append(
                {"t": round(t, 3), "step": step, **{k: round(v, 4) for k, v in watch.items()}}
            )
            print(name, history[-1], flush=True)
    net = avg.net
    with torch.no_grad():
        torch.manual_seed(seed + 1)
        rows = []
        for chunk in torch.split(held, size):
            x, target = batch_of(chunk)
            rows.append((len(chunk), loss_of(net(x), target)[1]))
    # the last batch is smaller than the others
    names = rows[0][1] if rows else {}
    valid = {k: round(sum(n * r[k] for n, r in rows) / len(held), 4) for k in names}
    log = {
        "network": name,
        "steps": step,
        "samples": seen,
        "training": len(train),
        "held_out": len(held),
        "held_out_numbers": valid,
        "seconds": round(time.time() - start, 1),
        "seed": seed,
        "went_on_from": start_from.name if start_from else None,
        "history": history,
    }
    print(
        name,
        "held out",
        valid,
        f"{seen} samples, {seen / (time.time() - start):.0f} a second",
        flush=True,
    )
    return net, log


class _FirstOutput(nn.Module):
    """What ships of the rim reader: the partner's bearing is asked for in training alone."""

    def __init__(self, net: nn.Module) -> None:
        super().__init__()
        self.net = net

    def forward(self, x: Tensor) -> Tensor:
        first: Tensor = self.net(x)[0]
        return first


def export(net: nn.Module, name: str, out: Path) -> None:
    """Write the ONNX file (opset 17; batch free, the locator's size too) and the state."""
    net = net.float().cpu().eval()
    net.to(memory_format=torch.contiguous_format)
    out.mkdir(parents=True, exist_ok=True)
    torch.save(net.state_dict(), out / f"{name}.pt")
    outputs = {
        "locator": ["maps"],
        "reader": ["keypoints", "answers"],
        "refiner": ["keypoints"],
        "flange": ["holes", "answers"],
        "rim": ["bins"],
    }[name]
    axes: dict[str, dict[int, str]] = {"image": {0: "batch"}}
    if name == "locator":
        axes = {"image": {0: "batch", 2: "height", 3: "width"}}
    torch.onnx.export(
        _FirstOutput(net).eval() if name == "rim" else net,
        (torch.zeros(SHAPES[name]),),
        str(out / f"{name}.onnx"),
        input_names=["image"],
        output_names=outputs,
        dynamic_axes=axes,
        opset_version=17,
        dynamo=False,
    )


def needed(name: str, shards: Path) -> str:
    """The kind of picture a network is trained on; the rim reader on rims where there are any."""
    return "rims" if name == "rim" and data.has(shards, "rims") else NEEDS[name]


def _samples(
    name: str, photos: data.Photos, crops: data.Crops | None, negatives: Tensor, device: str
) -> tuple[Batches, Tensor, Tensor]:
    """What draws a network's batches, the indices it may draw, and the scene of every index."""
    if crops is None:
        every = torch.arange(len(photos.boxes), device=device)
        return lambda i: windows.locator_batch(photos, negatives, i), every, photos.scene
    draw = getattr(windows, f"{name}_batch")
    candidates = {"flange": windows.flange_candidates, "rim": windows.rim_candidates}.get(name)
    chosen = candidates(crops) if candidates else torch.arange(len(crops.frame), device=device)
    return lambda i: draw(crops, i), chosen, crops.scene


def main() -> None:
    """Command line: networks are trained one after the other on one device."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument(
        "networks", nargs="+", help="name or name=seconds: locator, reader, refiner, flange, rim"
    )
    p.add_argument("--shards", required=True, type=Path)
    p.add_argument("--negatives", type=Path)
    p.add_argument("--backbone", type=Path)
    p.add_argument(
        "--start",
        type=Path,
        help="folder of states (NAME.pt) that an earlier run left: networks found there go on",
    )
    p.add_argument("--seconds", type=float, default=120)
    p.add_argument("--out", type=Path, required=True)
    p.add_argument("--device", default="cuda:0")
    p.add_argument("--limit", type=int, help="shards to load at most")
    p.add_argument(
        "--deadline",
        type=float,
        help="seconds from the start by which all is exported: what loading took is taken off the "
        "networks' seconds in proportion, so that a run that is cut off leaves something",
    )
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--fraction", type=float, default=1.0, help="of the training data, to compare")
    args = p.parse_args()
    torch.backends.cuda.matmul.allow_tf32 = True
    start = time.time()
    names = [item.partition("=")[0] for item in args.networks]
    needs = {n: needed(n, args.shards) for n in names}
    kinds = tuple(sorted(set(needs.values())))
    photos, crops = data.load(args.shards, args.device, args.limit, kinds)
    negatives = (
        data.load_negatives(args.negatives, args.device)
        if args.negatives
        else photos.pixels[:1] * 0
    )
    loaded = [f"{len(v.frame)} {k}" for k, v in crops.items()]
    print(
        f"{len(photos.boxes)} photographs, {', '.join(loaded)}, {len(negatives)} negatives, "
        f"loaded in {time.time() - start:.1f} s",
        flush=True,
    )
    wanted = [float(i.partition("=")[2] or args.seconds) for i in args.networks]
    if args.deadline:
        left = args.deadline - (time.time() - start) - EXPORT_SECONDS * len(wanted)
        wanted = [w * min(1.0, max(left, 1.0) / sum(wanted)) for w in wanted]
    for item, seconds in zip(args.networks, wanted, strict=True):
        name = item.partition("=")[0]
        seen = crops.get(needs[name])
        batch_of, indices, scene = _samples(name, photos, seen, negatives, args.device)
        earlier = args.start / f"{name}.pt" if args.start else None
        net, log = run(
            name,
            batch_of,
            indices,
            scene,
            seconds,
            args.backbone,
            args.device,
            args.seed,
            args.fraction,
            earlier if earlier and earlier.is_file() else None,
            1 + (HARD_TIMES - 1) * photos.half_hidden if name == "locator" else None,
        )
        log |= {
            "photographs": len(photos.boxes),
            **{kind: len(found.frame) for kind, found in crops.items()},
            "candidates": len(indices),
            "negatives": len(negatives),
        }
        export(net, name, args.out)
        (args.out / f"{name}.log.json").write_text(json.dumps(log, indent=1))


if __name__ == "__main__":
    main()
