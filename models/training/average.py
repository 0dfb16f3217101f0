"""Average the weights of runs that began at one state or at one another's, and export the mean.

    python -m training.average rim --states earlier/rim.pt later/rim.pt --weights 1 4 --out weights

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


def mean_state(states: Sequence[State], weights: Sequence[float] | None = None) -> State:
    """The weighted mean of each floating-point tensor, over the states that have it.

    An earlier state may lack the parts that came later (``nets.LATER``). Raises ValueError for
    states of unlike networks, and unless there is one positive weight for each state.
    """
    shares = [1.0] * len(states) if weights is None else list(weights)
    if len(shares) != len(states) or not all(w > 0 for w in shares):
        raise ValueError("as many positive weights as states are needed")
    if not states or any(not _alike(s, states[-1]) for s in states):
        raise ValueError("states to average must be of one network")
    return {k: _mean(k, states, shares) for k in states[-1]}


def _alike(state: State, last: State) -> bool:
    shapes = {k: v.shape for k, v in state.items()}
    later = {k: v.shape for k, v in last.items() if k.startswith(nets.LATER) and k not in state}
    return {**shapes, **later} == {k: v.shape for k, v in last.items()}


def _mean(key: str, states: Sequence[State], shares: Sequence[float]) -> Tensor:
    last = states[-1][key]
    if not last.dtype.is_floating_point:
        return last
    have = [(s[key], w) for s, w in zip(states, shares, strict=True) if key in s]
    total = sum((t * w for t, w in have), torch.zeros_like(last))
    return total / sum(w for _, w in have)


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("network", choices=list(SHAPES))
    p.add_argument("--states", type=Path, nargs="+", required=True)
    p.add_argument("--weights", type=float, nargs="+", help="one a state; all alike if left out")
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    net = nets.build(a.network)
    states = [torch.load(f, map_location="cpu") for f in a.states]
    net.load_state_dict(mean_state(states, a.weights))
    export(net, a.network, a.out)


if __name__ == "__main__":
    main()
