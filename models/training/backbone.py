"""EfficientNet-Lite0 as a feature pyramid, with ImageNet weights from a registry package.

The block table is the published EfficientNet-B0 layout without squeeze-and-excitation and with
ReLU6; convolutions of stride 2 pad as TensorFlow does ("same": the extra row and column at the
end), because that is how the weights were trained.
"""

from __future__ import annotations

from pathlib import Path

import torch
from torch import Tensor, nn

# expansion, kernel, stride, channels, repeats
BLOCKS = (
    (1, 3, 1, 16, 1),
    (6, 3, 2, 24, 2),
    (6, 5, 2, 40, 2),
    (6, 3, 2, 80, 3),
    (6, 5, 1, 112, 3),
    (6, 5, 2, 192, 4),
    (6, 3, 1, 320, 1),
)
TAPS = {1: 24, 2: 40, 4: 112, 6: 320}
"""Stages whose output is used, with their channels: strides 4, 8, 16 and 32."""


def same_conv(cin: int, cout: int, k: int, stride: int, groups: int, act: bool) -> nn.Sequential:
    """Convolution with TensorFlow's padding for even inputs, batch norm, and ReLU6 if asked."""
    layers: list[nn.Module] = []
    pad = k // 2
    if stride == 2:
        total = k - 2
        layers.append(nn.ZeroPad2d((total // 2, total - total // 2) * 2))
        pad = 0
    layers += [
        nn.Conv2d(cin, cout, k, stride, pad, groups=groups, bias=False),
        nn.BatchNorm2d(cout, eps=1e-3),
    ]
    if act:
        layers.append(nn.ReLU6(inplace=True))
    return nn.Sequential(*layers)


class InvertedResidual(nn.Module):
    """Expand, depthwise, project; with a shortcut where the shape stays."""

    def __init__(self, cin: int, cout: int, expand: int, k: int, stride: int) -> None:
        super().__init__()
        mid = cin * expand
        first = [same_conv(cin, mid, 1, 1, 1, True)] if expand != 1 else []
        self.body = nn.Sequential(
            *first, same_conv(mid, mid, k, stride, mid, True), same_conv(mid, cout, 1, 1, 1, False)
        )
        self.shortcut = stride == 1 and cin == cout

    def forward(self, x: Tensor) -> Tensor:
        y: Tensor = self.body(x)
        return x + y if self.shortcut else y


class Lite0(nn.Module):
    """Normalised image to features at strides 4, 8, 16 and 32 (24, 40, 112 and 320 channels)."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = same_conv(3, 32, 3, 2, 1, True)
        stages, cin = [], 32
        for expand, k, stride, cout, repeats in BLOCKS:
            stages.append(
                nn.Sequential(
                    *[
                        InvertedResidual(
                            cin if i == 0 else cout, cout, expand, k, stride if i == 0 else 1
                        )
                        for i in range(repeats)
                    ]
                )
            )
            cin = cout
        self.stages = nn.ModuleList(stages)

    def forward(self, x: Tensor) -> list[Tensor]:
        x = self.stem(x)
        out = []
        for i, stage in enumerate(self.stages):
            x = stage(x)
            if i in TAPS:
                out.append(x)
        return out


def pretrained(weights: Path | None) -> Lite0:
    """A Lite0, with the package's ImageNet tensors if a path is given.

    Raises:
        ValueError: the file's tensors do not have a Lite0's shapes in order.
    """
    body = Lite0()
    if weights is None:
        return body
    theirs = [
        v
        for k, v in torch.load(weights, map_location="cpu", weights_only=True).items()
        if "num_batches" not in k
    ]
    ours = {k: v for k, v in body.state_dict().items() if "num_batches" not in k}
    pairs = list(
        zip(ours.items(), theirs, strict=False)
    )  # theirs goes on with the classifier, which is not used
    if len(theirs) < len(ours) or any(a.shape != b.shape for (_, a), b in pairs):
        raise ValueError(f"{weights} does not hold an EfficientNet-Lite0 in the expected order")
    body.load_state_dict({k: b for (k, _), b in pairs}, strict=False)
    return body
