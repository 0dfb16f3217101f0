"""Average the weights of runs that began at one state or at one another's, and export the mean.

    python -m training.average rim --states earlier/rim.pt later/rim.pt --out weights

The mean of such weights lies between the runs' minima and generalises better than either
(stochastic weight averaging: Izmailov and others 2018, arXiv:1803.05407). Runs that began apart
have no such mean. Whole-number buffers are the last state's.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import torch
from torch import Tensor

from . import nets
from .train import SHAPES, export

State = dict[str, Tensor]


def mean_state(states: Sequence[State]) -> State:
    """The mean of each floating-point tensor. Raises ValueError for states of unlike networks."""
    shapes = [{k: v.shape for k, v in s.items()} for s in states]
    if not states or any(s != shapes[0] for s in shapes):
        raise ValueError("states to average must be of one network")
    return {
        k: torch.stack([s[k] for s in states]).mean(0) if v.dtype.is_floating_point else v
        for k, v in states[-1].items()
    }


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("network", choices=list(SHAPES))
    p.add_argument("--states", type=Path, nargs="+", required=True)
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    net = nets.build(a.network)
    net.load_state_dict(mean_state([torch.load(f, map_location="cpu") for f in a.states]))
    export(net, a.network, a.out)


if __name__ == "__main__":
    main()
