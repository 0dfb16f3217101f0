"""Augmentation on the device: affine windows, homography patches, light and blur."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812 - its customary name
from torch import Tensor


def uniform(n: int, low: float, high: float, device: torch.device) -> Tensor:
    """n draws from [low, high)."""
    return torch.rand(n, device=device) * (high - low) + low


def sample(pixels: Tensor, index: Tensor, xy: Tensor) -> Tensor:
    """Bilinear samples of ``pixels[index]`` (uint8 NHWC) at xy (B, h, w, 2): float (B, 3, h, w)."""
    src = pixels[index].permute(0, 3, 1, 2).float()
    size = torch.tensor([src.shape[3], src.shape[2]], device=xy.device, dtype=xy.dtype)
    return F.grid_sample(
        src, xy / size * 2 - 1, mode="bilinear", padding_mode="zeros", align_corners=False
    )


def shrink_samples(pixels: Tensor, index: Tensor, xy: Tensor) -> Tensor:
    """As :func:`sample`, averaged over a 2 x 2 grid inside every output pixel, against aliasing."""
    dx = torch.zeros_like(xy)
    dx[:, :, :-1] = xy[:, :, 1:] - xy[:, :, :-1]
    dx[:, :, -1] = dx[:, :, -2]
    dy = torch.zeros_like(xy)
    dy[:, :-1] = xy[:, 1:] - xy[:, :-1]
    dy[:, -1] = dy[:, -2]
    src = pixels[index].permute(0, 3, 1, 2).float()
    size = torch.tensor([src.shape[3], src.shape[2]], device=xy.device, dtype=xy.dtype)
    total = torch.zeros(1, device=xy.device)
    for a in (-0.25, 0.25):
        for b in (-0.25, 0.25):
            total = total + F.grid_sample(
                src,
                (xy + a * dx + b * dy) / size * 2 - 1,
                padding_mode="zeros",
                align_corners=False,
            )
    return total / 4


def affine_grid(matrix: Tensor, height: int, width: int) -> Tensor:
    """Source positions (B, h, w, 2) of output pixel centres under (B, 2, 3) matrices."""
    ys = torch.arange(height, device=matrix.device) + 0.5
    xs = torch.arange(width, device=matrix.device) + 0.5
    gy, gx = torch.meshgrid(ys, xs, indexing="ij")
    p = torch.stack([gx, gy, torch.ones_like(gx)], -1)
    return torch.einsum("bij,hwj->bhwi", matrix, p)


def homography(source: Tensor, target: Tensor) -> Tensor:
    """Least-squares homographies (B, 3, 3) that take source (K, 2) to target (B, K, 2), K >= 4."""
    b, k = target.shape[:2]
    x, y = source[:, 0].expand(b, k), source[:, 1].expand(b, k)
    u, v = target[..., 0], target[..., 1]
    one, zero = torch.ones_like(x), torch.zeros_like(x)
    top = torch.stack([x, y, one, zero, zero, zero, -u * x, -u * y], -1)
    low = torch.stack([zero, zero, zero, x, y, one, -v * x, -v * y], -1)
    a = torch.cat([top, low], 1)
    rhs = torch.cat([u, v], 1)
    ata = a.transpose(1, 2) @ a + 1e-6 * torch.eye(8, device=a.device)
    h = torch.linalg.solve(ata.double(), (a.transpose(1, 2) @ rhs[..., None]).double())[
        ..., 0
    ].float()
    return torch.cat([h, torch.ones(b, 1, device=h.device)], 1).view(b, 3, 3)


def apply(h: Tensor, points: Tensor) -> Tensor:
    """Map points (B, ..., 2) by homographies (B, 3, 3)."""
    shape = points.shape
    p = points.reshape(shape[0], -1, 2)
    q = torch.cat([p, torch.ones_like(p[..., :1])], -1) @ h.transpose(1, 2)
    return (q[..., :2] / q[..., 2:].clamp(min=1e-4)).view(shape)


def light(x: Tensor, strength: float = 1.0) -> Tensor:
    """Random exposure, contrast, colour, grey, noise and blur on (B, 3, h, w) in [0, 255]."""
    b, dev = x.shape[0], x.device

    def per(low: float, high: float) -> Tensor:
        return uniform(b, low, high, dev).view(b, 1, 1, 1)

    x = x / 255
    x = x.clamp(min=1e-4) ** torch.exp(per(-0.35, 0.35) * strength)
    x = (x - 0.5) * (1 + per(-0.3, 0.3) * strength) + 0.5 + per(-0.12, 0.12) * strength
    x = x * (1 + 0.12 * strength * torch.randn(b, 3, 1, 1, device=dev))
    grey = x.mean(1, keepdim=True)
    keep = torch.where(per(0, 1) < 0.06, torch.zeros_like(per(0, 1)), 1 + per(-0.5, 0.5) * strength)
    x = grey + (x - grey) * keep
    x = blur(x)
    noise = torch.randn_like(x) * per(0, 0.05) * (per(0, 1) < 0.6)
    return ((x + noise).clamp(0, 1) * 255).round()


def blur(x: Tensor) -> Tensor:
    """Gaussian, motion or low-resolution blur for about 40 % of a batch."""
    b, dev = x.shape[0], x.device
    sigma = torch.where(
        torch.rand(b, device=dev) < 0.35,
        uniform(b, 0.3, 1.7, dev),
        torch.full((b,), 0.01, device=dev),
    )
    r = torch.arange(-4, 5, device=dev).float()
    k = torch.exp(-(r[None] ** 2) / (2 * sigma[:, None] ** 2))
    k = k / k.sum(1, keepdim=True)
    horizontal = torch.rand(b, device=dev) < 0.15
    delta = torch.zeros_like(k)
    delta[:, 4] = 1
    kx = k
    ky = torch.where(horizontal[:, None], delta, k)
    h, w = x.shape[2:]
    y = x.reshape(1, b * 3, h, w)
    y = F.conv2d(y, kx.repeat_interleave(3, 0).view(b * 3, 1, 1, 9), padding=(0, 4), groups=b * 3)
    y = F.conv2d(y, ky.repeat_interleave(3, 0).view(b * 3, 1, 9, 1), padding=(4, 0), groups=b * 3)
    y = y.view(b, 3, h, w)
    low = F.interpolate(F.avg_pool2d(y, 2), size=(h, w), mode="bilinear", align_corners=False)
    pick = (torch.rand(b, device=dev) < 0.15).view(b, 1, 1, 1)
    return torch.where(pick, low, y)


def gaussian_maps(
    centres: Tensor, sigma: Tensor, weight: Tensor, height: int, width: int
) -> Tensor:
    """Maximum of Gaussians (B, C, h, w): centres (B, C, K, 2) in cells, sigma, weight (B, C, K)."""
    ys = torch.arange(height, device=centres.device) + 0.5
    xs = torch.arange(width, device=centres.device) + 0.5
    d2 = (xs.view(1, 1, 1, 1, -1) - centres[..., 0, None, None]) ** 2 + (
        ys.view(1, 1, 1, -1, 1) - centres[..., 1, None, None]
    ) ** 2
    g = torch.exp(-d2 / (2 * sigma[..., None, None] ** 2)) * weight[..., None, None]
    return g.amax(2)
