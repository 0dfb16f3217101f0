"""The networks: a locator, a landmark refiner and three readers. PyTorch, for training; ONNX ships.

All take float32 RGB in [0, 255], NCHW; normalisation is inside the graph.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn

from .backbone import pretrained

KEYPOINTS = 13
READER_GLOBALS = 8
"""Diaphragm, filter fitted, bowl hand (left, none, right), bowl, flange and mark readable."""
STRIP_WIDTH, STRIP_HEIGHT, STRIP_MARGIN, STRIP_TOP = 720, 48, 36, 19
"""Columns of a full turn, rows, columns added at either end, rows over the rim's top."""
STRIP_RADII = (0.82, 1.12)
"""Of the first and the last row over the rim's top, in rim radii."""
LATER = ("partner_bins.", "partner_none.")
"""Parts of the rim reader that its earlier states lack."""


def conv(
    cin: int, cout: int, k: int = 3, stride: int | tuple[int, int] = 1, groups: int = 1
) -> nn.Sequential:
    """Convolution, batch norm, ReLU."""
    return nn.Sequential(
        nn.Conv2d(cin, cout, k, stride, k // 2, groups=groups, bias=False),
        nn.BatchNorm2d(cout),
        nn.ReLU(inplace=True),
    )


def separable(cin: int, cout: int, k: int = 5) -> nn.Sequential:
    """Depthwise then pointwise convolution."""
    return nn.Sequential(conv(cin, cin, k, groups=cin), conv(cin, cout, 1))


class Residual(nn.Module):
    """A 3 x 3 convolution added to its input."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.conv = conv(width, width)

    def forward(self, x: Tensor) -> Tensor:
        y: Tensor = x + self.conv(x)
        return y


class Pyramid(nn.Module):
    """Top-down pyramid over strides 4 to 32: stride 4 with ``width`` channels, and stride 32."""

    def __init__(self, width: int = 64) -> None:
        super().__init__()
        self.lateral = nn.ModuleList([nn.Conv2d(c, width, 1) for c in (24, 40, 112, 320)])
        self.smooth = nn.ModuleList([separable(width, width) for _ in range(3)])
        self.up = nn.Upsample(scale_factor=2, mode="nearest")

    def forward(self, feats: list[Tensor]) -> Tensor:
        x: Tensor = self.lateral[3](feats[3])
        for i in (2, 1, 0):
            x = self.smooth[i](self.up(x) + self.lateral[i](feats[i]))
        return x


class Locator(nn.Module):
    """Photograph to maps at stride 4: carb, cap, throat, bowl (logits), log box size, offset."""

    def __init__(self, weights: Path | None = None) -> None:
        super().__init__()
        self.body, self.pyramid = pretrained(weights), Pyramid()
        first, last = separable(64, 64), nn.Conv2d(64, 8, 1)
        self.head = nn.Sequential(first, last)
        assert last.bias is not None
        nn.init.constant_(last.bias[:4], -4.6)

    def forward(self, x: Tensor) -> Tensor:
        maps: Tensor = self.head(self.pyramid(self.body((x - 127.0) / 128.0)))
        return maps


class Reader(nn.Module):
    """Crop of one carb (256) to keypoint logits (13, 64, 64) and global logits (8)."""

    def __init__(self, weights: Path | None = None) -> None:
        super().__init__()
        self.body, self.pyramid = pretrained(weights), Pyramid()
        self.head = nn.Sequential(separable(64, 64), separable(64, 64), nn.Conv2d(64, KEYPOINTS, 1))
        self.glob = nn.Sequential(
            nn.Linear(320 + 64, 128),
            nn.ReLU(inplace=True),
            nn.Dropout(0.2),
            nn.Linear(128, READER_GLOBALS),
        )

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor]:
        feats = self.body((x - 127.0) / 128.0)
        p = self.pyramid(feats)
        pooled = torch.cat([feats[3].mean((2, 3)), p.mean((2, 3))], 1)
        return self.head(p), self.glob(pooled)


class Refiner(nn.Module):
    """Window that fits a carb's landmarks (256) to logits of twelve of them (12, 64, 64)."""

    def __init__(self, weights: Path | None = None) -> None:
        super().__init__()
        self.body, self.pyramid = pretrained(weights), Pyramid()
        last = nn.Conv2d(64, KEYPOINTS - 1, 1)
        self.head = nn.Sequential(separable(64, 64), separable(64, 64), last)

    def forward(self, x: Tensor) -> Tensor:
        maps: Tensor = self.head(self.pyramid(self.body((x - 127.0) / 128.0)))
        return maps


class FlangeReader(nn.Module):
    """Rectified flange (128) to maps of bolts and vents (64 x 64); 2, 3, 4 holes, all in view."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(conv(3, 24, 3, 2), conv(24, 48), conv(48, 48))
        self.down1 = nn.Sequential(conv(48, 80, 3, 2), conv(80, 80))
        self.down2 = nn.Sequential(conv(80, 128, 3, 2), conv(128, 128))
        self.down3 = nn.Sequential(conv(128, 160, 3, 2), conv(160, 160))
        self.l2, self.l1 = nn.Conv2d(128, 48, 1), nn.Conv2d(80, 48, 1)
        self.l3 = nn.Conv2d(160, 48, 1)
        self.up = nn.Upsample(scale_factor=2, mode="nearest")
        first, last = conv(48, 48), nn.Conv2d(48, 2, 1)
        self.out = nn.Sequential(first, last)
        self.glob = nn.Sequential(
            nn.Linear(160 + 128, 96), nn.ReLU(inplace=True), nn.Dropout(0.2), nn.Linear(96, 4)
        )
        assert last.bias is not None
        nn.init.constant_(last.bias, -4.0)

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor]:
        a = self.stem((x - 127.0) / 128.0)
        b = self.down1(a)
        c = self.down2(b)
        d = self.down3(c)
        y = self.up(self.l3(d)) + self.l2(c)
        y = self.up(y) + self.l1(b)
        y = self.up(y) + a
        return self.out(y), self.glob(torch.cat([d.mean((2, 3)), c.amax((2, 3))], 1))


class RimReader(nn.Module):
    """Unrolled rim (B, 6, 48, 792), 3 colours and 3 viewing channels, to logits (B, 181) twice.

    180 bins of two degrees and "no mark" for the cover's mark, then the same for its partner on
    the body, which is asked for in training alone.
    """

    def __init__(self) -> None:
        super().__init__()
        self.a = nn.Sequential(conv(6, 32, 3, 2), conv(32, 56))
        self.b = nn.Sequential(conv(56, 96, 3, 2), Residual(96))
        self.c = nn.Sequential(conv(96, 144, 3, (2, 1)), Residual(144))
        self.flat = nn.Sequential(
            nn.Conv2d(144, 176, (6, 1), bias=False), nn.BatchNorm2d(176), nn.ReLU(inplace=True)
        )
        wide = []
        for d in (1, 2, 4, 8, 16):
            wide.append(
                nn.Sequential(
                    nn.Conv2d(176, 176, (1, 3), padding=(0, d), dilation=(1, d), bias=False),
                    nn.BatchNorm2d(176),
                    nn.ReLU(inplace=True),
                )
            )
        self.wide = nn.ModuleList(wide)
        self.bins, self.none = nn.Conv2d(176, 1, 1), _whether()
        self.partner_bins, self.partner_none = nn.Conv2d(176, 1, 1), _whether()

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor]:
        y = self.flat(self.c(self.b(self.a(x))))
        for w in self.wide:
            y = y + w(y)
        m = STRIP_MARGIN // 4
        y = y[..., m : y.shape[3] - m]
        pooled = torch.cat([y.mean((2, 3)), y.amax((2, 3))], 1)
        mark = torch.cat([self.bins(y)[:, 0, 0], self.none(pooled)], 1)
        return mark, torch.cat([self.partner_bins(y)[:, 0, 0], self.partner_none(pooled)], 1)


def _whether() -> nn.Sequential:
    """From a strip's pooled features to the logit of "none"."""
    return nn.Sequential(
        nn.Linear(352, 64), nn.ReLU(inplace=True), nn.Dropout(0.2), nn.Linear(64, 1)
    )


def build(name: str, weights: Path | None = None) -> Any:
    """A network by name: locator, reader, refiner, flange or rim."""
    if name in ("locator", "reader", "refiner"):
        return {"locator": Locator, "reader": Reader, "refiner": Refiner}[name](weights)
    return {"flange": FlangeReader, "rim": RimReader}[name]()
