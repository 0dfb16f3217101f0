"""Random views of the training pictures with their targets: one function per network."""

from __future__ import annotations

import math

import torch
from torch import Tensor

from .augment import (
    affine_grid,
    apply,
    gaussian_maps,
    homography,
    light,
    sample,
    shrink_samples,
    uniform,
)
from .data import COLUMN, Crops, Photos
from .nets import STRIP_HEIGHT, STRIP_MARGIN, STRIP_RADII, STRIP_TOP, STRIP_WIDTH
from .scene.photograph import CLOSEUP_SIDE

LOCATOR_SIZE = (640, 480)
READER_SIZE = 256
REFINER_SIZE, REFINER_SIDE = 256, 1.45
"""Pixels, and the side of the refiner's window over the longer side of the landmarks' box."""
FLANGE_SIZE, FLANGE_REACH = 128, 2.7
"""A rectified flange shows 2.7 throat radii to each side of the throat's centre."""
PLANE_ERROR = (math.log(0.01), math.log(0.06))
"""Range of the logarithm of a rim point's error in rim radii, each point's own and all together."""
MIRROR_KEYPOINTS = (0, 1, 2, 4, 3, 5, 6, 7, 9, 8, 10, 11, 12)


def random_affine(
    n: int,
    out: tuple[int, int],
    src: tuple[int, int],
    zoom: Tensor,
    turn: Tensor,
    shift: Tensor,
    flip: Tensor,
) -> Tensor:
    """Output-to-source matrices (n, 2, 3): ``zoom`` source per output pixel about both centres."""
    c, s = torch.cos(turn) * zoom, torch.sin(turn) * zoom
    f = torch.where(flip, -1.0, 1.0)
    m = torch.zeros(n, 2, 3, device=zoom.device)
    m[:, 0, 0], m[:, 0, 1] = c * f, -s
    m[:, 1, 0], m[:, 1, 1] = s * f, c
    mid_out = torch.tensor([out[0] / 2, out[1] / 2], device=zoom.device)
    mid_src = torch.tensor([src[0] / 2, src[1] / 2], device=zoom.device)
    m[:, :, 2] = mid_src + shift - torch.einsum("bij,j->bi", m[:, :, :2], mid_out)
    return m


def inverse_points(m: Tensor, points: Tensor) -> Tensor:
    """Source points (B, ..., 2) to output pixels under output-to-source matrices."""
    shape = points.shape
    p = points.reshape(shape[0], -1, 2) - m[:, None, :, 2]
    solved: Tensor = torch.linalg.solve(m[:, :, :2], p.transpose(1, 2))
    return solved.transpose(1, 2).reshape(shape)


def locator_batch(
    photos: Photos, negatives: Tensor, index: Tensor
) -> tuple[Tensor, dict[str, Tensor]]:
    """Images (B, 3, 480, 640) and targets at stride 4."""
    n, dev = len(index), photos.pixels.device
    w, h = LOCATOR_SIZE
    sh, sw = photos.pixels.shape[1:3]
    zoom = torch.exp(uniform(n, math.log(0.6), math.log(1.7), dev)) * sw / w
    turn = torch.where(
        torch.rand(n, device=dev) < 0.1,
        uniform(n, -3.14, 3.14, dev),
        torch.randn(n, device=dev) * 0.12,
    )
    room = (zoom * w / sw - 1).abs()[:, None] * torch.tensor([sw, sh], device=dev) / 2
    shift = (torch.rand(n, 2, device=dev) * 2 - 1) * (room + 20)
    flip = torch.rand(n, device=dev) < 0.5
    m = random_affine(n, LOCATOR_SIZE, (sw, sh), zoom, turn, shift, flip)
    xy = affine_grid(m, h, w)
    img = sample(photos.pixels, index, xy)
    inside = ((xy[..., 0] >= 0) & (xy[..., 0] < sw) & (xy[..., 1] >= 0) & (xy[..., 1] < sh))[
        :, None
    ]
    other = torch.randint(len(negatives), (n,), device=dev)
    k = torch.exp(uniform(n, math.log(0.35), math.log(1.0), dev))
    nm = random_affine(
        n,
        LOCATOR_SIZE,
        (negatives.shape[2], negatives.shape[1]),
        k,
        torch.zeros(n, device=dev),
        (torch.rand(n, 2, device=dev) * 2 - 1) * (1 - k)[:, None] * 200,
        torch.rand(n, device=dev) < 0.5,
    )
    back = sample(negatives, other, affine_grid(nm, h, w))
    only = (torch.rand(n, device=dev) < 0.18).view(n, 1, 1, 1)
    img = light(torch.where(inside & ~only, img, back))
    state = torch.where(only.view(n, 1), torch.zeros_like(photos.state[index]), photos.state[index])
    box = photos.boxes[index]
    mid = inverse_points(m, box[..., :2])
    c, s = torch.cos(turn).abs()[:, None], torch.sin(turn).abs()[:, None]
    shrink = 1 - 0.3 * c * s
    bw = (c * box[..., 2] + s * box[..., 3]) / zoom[:, None] * shrink
    bh = (s * box[..., 2] + c * box[..., 3]) / zoom[:, None] * shrink
    inside_c = (mid[..., 0] > 0) & (mid[..., 0] < w) & (mid[..., 1] > 0) & (mid[..., 1] < h)
    visible = inside_c & (torch.maximum(bw, bh) >= 11)
    good = (state > 0) & visible
    ignore = (state != 0) & ~good
    gh, gw = h // 4, w // 4
    sig = (0.07 * torch.minimum(bw, bh) / 4).clamp(0.8, 6)
    q = photos.parts[index]
    pq = inverse_points(m, q[..., :2])
    pin = (pq[..., 0] > 0) & (pq[..., 0] < w) & (pq[..., 1] > 0) & (pq[..., 1] < h)
    pw = q[..., 2] * pin * (state != 0).float()[..., None]
    centres = torch.cat([mid[:, None], pq.transpose(1, 2)], 1) / 4
    weights = torch.cat([good.float()[:, None], pw.transpose(1, 2)], 1)
    sigma = torch.cat([sig[:, None], (0.6 * sig)[:, None].clamp(min=0.8).expand(-1, 3, -1)], 1)
    heat = gaussian_maps(centres, sigma, weights, gh, gw)
    ys = torch.arange(gh, device=dev).view(1, 1, -1, 1) * 4 + 2
    xs = torch.arange(gw, device=dev).view(1, 1, 1, -1) * 4 + 2
    hide = (
        ((xs - mid[..., 0, None, None]).abs() < bw[..., None, None] / 2)
        & ((ys - mid[..., 1, None, None]).abs() < bh[..., None, None] / 2)
        & ignore[..., None, None]
    )
    return img, {
        "heat": heat,
        "mask": 1 - hide.any(1).float(),
        "mid": mid,
        "size": torch.stack([bw, bh], -1),
        "good": good,
    }


def in_photograph(crops: Crops, index: Tensor, xy: Tensor) -> Tensor:
    """(B, 1, h, w): which samples at crop pixels xy (B, h, w, 2) lie within the photograph."""
    f = crops.frame[index].view(len(index), 1, 1, 4)
    low = (xy >= f[..., :2]).all(-1)
    high = (xy < f[..., 2:]).all(-1)
    return (low & high)[:, None]


def reader_batch(crops: Crops, index: Tensor) -> tuple[Tensor, dict[str, Tensor]]:
    """Crops (B, 3, 256, 256) and their keypoints and global truth."""
    n, dev = len(index), crops.pixels.device
    zoom = torch.exp(torch.randn(n, device=dev) * 0.12) * crops.pixels.shape[1] / READER_SIZE
    turn = torch.where(
        torch.rand(n, device=dev) < 0.08,
        uniform(n, -3.14, 3.14, dev),
        torch.randn(n, device=dev) * 0.13,
    )
    shift = torch.randn(n, 2, device=dev) * 14
    flip = torch.rand(n, device=dev) < 0.5
    side = (crops.pixels.shape[2], crops.pixels.shape[1])
    m = random_affine(n, (READER_SIZE, READER_SIZE), side, zoom, turn, shift, flip)
    xy = affine_grid(m, READER_SIZE, READER_SIZE)
    img = shrink_samples(crops.pixels, index, xy)
    img = light(img) * in_photograph(crops, index, xy)
    kp = inverse_points(m, crops.keypoints[index])
    kp = torch.where(flip.view(n, 1, 1), kp[:, list(MIRROR_KEYPOINTS)], kp)
    num = crops.numbers[index]

    def col(name: str) -> Tensor:
        return num[:, COLUMN[name]]

    hand = torch.where(flip, -col("hand"), col("hand"))
    bowl = torch.where(
        hand != 0, col("seen_bowl") >= 0.12, (col("seen_under") >= 0.2) & (col("in_frame") > 0.8)
    )
    flange = (col("seen_throat") >= 0.5) & (col("facing") > 0.2) & (col("filtered") < 0.5)
    mark = (col("seen_mark") >= 0.34) & (col("mark_px") * col("native") >= 4)
    return img, {
        "kp": kp,
        "hand": (hand + 1).long(),
        "bowl": bowl.float(),
        "flange": flange.float(),
        "mark": mark.float(),
        "diaphragm": col("diaphragm"),
        "filtered": col("filtered"),
        "cover": (col("seen_cover") > 0.2).float(),
        "has_bowl": (hand != 0).float(),
    }


def refiner_batch(closeups: Crops, index: Tensor) -> tuple[Tensor, dict[str, Tensor]]:
    """Windows (B, 3, 256, 256) as the reader's landmarks frame them, and twelve keypoints."""
    n, dev = len(index), closeups.pixels.device
    side = closeups.pixels.shape[1]
    # the reader is mostly a few hundredths of the box off, and now and then lost
    lost = torch.where(torch.rand(n, device=dev) < 0.15, 2.5, 1.0)
    zoom = torch.exp(torch.randn(n, device=dev) * 0.06 * lost)
    zoom = zoom * side / REFINER_SIZE * REFINER_SIDE / CLOSEUP_SIDE
    turn = torch.where(
        torch.rand(n, device=dev) < 0.06,
        uniform(n, -3.14, 3.14, dev),
        torch.randn(n, device=dev) * 0.12,
    )
    shift = torch.randn(n, 2, device=dev) * 0.03 * side * lost[:, None]
    flip = torch.rand(n, device=dev) < 0.5
    m = random_affine(n, (REFINER_SIZE, REFINER_SIZE), (side, side), zoom, turn, shift, flip)
    xy = affine_grid(m, REFINER_SIZE, REFINER_SIZE)
    img = light(shrink_samples(closeups.pixels, index, xy)) * in_photograph(closeups, index, xy)
    kp = inverse_points(m, closeups.keypoints[index])
    kp = torch.where(flip.view(n, 1, 1), kp[:, list(MIRROR_KEYPOINTS)], kp)[:, :12]
    radius = closeups.numbers[index][:, COLUMN["rim_px"]] / 2 / zoom
    return img, {"kp": kp, "radius": radius}


def flange_candidates(crops: Crops) -> Tensor:
    """Indices of crops whose flange can be read at all."""
    n = crops.numbers
    ok = (
        (n[:, COLUMN["facing"]] > 0.2)
        & (n[:, COLUMN["filtered"]] < 0.5)
        & (n[:, COLUMN["seen_throat"]] >= 0.45)
    )
    stored_px = n[:, COLUMN["throat_px"]] * n[:, COLUMN["native"]]
    return torch.nonzero(ok & (stored_px >= 5))[:, 0]


def flange_batch(crops: Crops, index: Tensor) -> tuple[Tensor, dict[str, Tensor]]:
    """Rectified flanges (B, 3, 128, 128), hole maps (B, 2, 64, 64) and counts."""
    n, dev = len(index), crops.pixels.device
    ref = torch.tensor([[0.0, 0], [1, 0], [-1, 0], [0, -1], [0, 1]], device=dev)
    kp = crops.keypoints[index][:, 7:12]
    size = crops.numbers[index][:, COLUMN["throat_px"]].view(n, 1, 1)
    kp = kp + torch.randn_like(kp) * size * 0.05 + torch.randn(n, 1, 2, device=dev) * size * 0.08
    h = homography(ref, kp)
    turn = torch.where(
        torch.rand(n, device=dev) < 0.25,
        uniform(n, -3.14, 3.14, dev),
        torch.randn(n, device=dev) * 0.15,
    )
    scale = torch.exp(torch.randn(n, device=dev) * 0.07) * 2 * FLANGE_REACH / FLANGE_SIZE
    m = random_affine(
        n,
        (FLANGE_SIZE, FLANGE_SIZE),
        (0, 0),
        scale,
        turn,
        torch.zeros(n, 2, device=dev),
        torch.rand(n, device=dev) < 0.5,
    )
    xy = apply(h, affine_grid(m, FLANGE_SIZE, FLANGE_SIZE))
    img = shrink_samples(crops.pixels, index, xy)
    img = light(img) * in_photograph(crops, index, xy)
    back = torch.linalg.inv(h)

    def place(p: Tensor) -> Tensor:
        return inverse_points(m, apply(back, p[..., :2]))

    bolts, vents = crops.bolts[index], crops.vents[index]
    centres = (
        torch.stack(
            [place(bolts), torch.cat([place(vents), torch.full((n, 1, 2), -99.0, device=dev)], 1)],
            1,
        )
        / 2
    )
    weight = torch.stack(
        [
            (bolts[..., 2] >= 0.4).float(),
            torch.cat([vents[..., 2], torch.zeros(n, 1, device=dev)], 1),
        ],
        1,
    )
    heat = gaussian_maps(
        centres, torch.full_like(weight, 1.4), weight, FLANGE_SIZE // 2, FLANGE_SIZE // 2
    )
    num = crops.numbers[index]
    return img, {
        "heat": heat,
        "count": (num[:, COLUMN["holes"]] - 2).long(),
        "whole": (num[:, COLUMN["bolts_seen"]] >= 0.5).float(),
    }


def rim_candidates(closeups: Crops) -> Tensor:
    """Indices of close-ups whose cover shows."""
    return torch.nonzero(closeups.numbers[:, COLUMN["seen_cover"]] > 0.2)[:, 0]


def strip_bearings(start: Tensor) -> Tensor:
    """Bearing (radians) of every column of strips that begin at ``start`` degrees: (B, 792)."""
    cols = torch.arange(STRIP_WIDTH + 2 * STRIP_MARGIN, device=start.device) - STRIP_MARGIN + 0.5
    return torch.deg2rad(start[:, None] + cols[None] * 360 / STRIP_WIDTH)


def strip_grid(h: Tensor, up: Tensor, start: Tensor) -> Tensor:
    """Source positions (B, 48, 792, 2) of an unrolled rim.

    Columns are bearings (clockwise from the intake) from ``start`` - 18 degrees on, two a degree;
    rows run over the rim's top and beyond, then down its side from +0.06 to -0.34 rim radii.
    """
    dev = h.device
    b = strip_bearings(start)
    top, low = STRIP_TOP, STRIP_HEIGHT - STRIP_TOP
    radius = torch.cat(
        [torch.linspace(*STRIP_RADII, top, device=dev), torch.full((low,), 1.03, device=dev)]
    )
    height = torch.cat([torch.zeros(top, device=dev), torch.linspace(0.06, -0.34, low, device=dev)])
    unit = torch.stack([torch.cos(b), -torch.sin(b)], -1)
    plane = radius.view(1, -1, 1, 1) * unit[:, None]
    return apply(h, plane) + height.view(1, -1, 1, 1) * up.view(-1, 1, 1, 2)


def viewing_channels(h: Tensor, up: Tensor, start: Tensor) -> Tensor:
    """(B, 3, 792): how squarely each bearing faces the camera, its elevation, the sideways part."""
    zero = torch.zeros(len(h), 1, 2, device=h.device)
    eps = 0.05
    c = apply(h, zero)[:, 0]
    ux = (apply(h, zero + torch.tensor([eps, 0.0], device=h.device))[:, 0] - c) / eps
    uy = (apply(h, zero + torch.tensor([0.0, eps], device=h.device))[:, 0] - c) / eps
    r1 = torch.stack([ux[:, 0], uy[:, 0], up[:, 0]], -1)
    r2 = torch.stack([ux[:, 1], uy[:, 1], up[:, 1]], -1)
    d = torch.cross(r2, r1, dim=-1)
    d = d / d.norm(dim=-1, keepdim=True).clamp(min=1e-6)
    b = strip_bearings(start)
    facing = d[:, :1] * torch.cos(b) - d[:, 1:2] * torch.sin(b)
    side = -d[:, :1] * torch.sin(b) - d[:, 1:2] * torch.cos(b)
    return torch.stack([facing, d[:, 2:].expand_as(facing), side], 1)


def rim_batch(closeups: Crops, index: Tensor) -> tuple[Tensor, dict[str, Tensor]]:
    """Unrolled rims (B, 6, 48, 792), soft targets (B, 181) for the mark and the body's partner."""
    n, dev = len(index), closeups.pixels.device
    ref = torch.tensor([[0.0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]], device=dev)
    kp = closeups.keypoints[index][:, :6]
    num = closeups.numbers[index]
    size = num[:, COLUMN["rim_px"]].view(n, 1, 1) / 2
    # what the refiner is wrong by, from hardly to badly; the bearing asked for stays the true one
    wrong = torch.exp(uniform(n, *PLANE_ERROR, dev)).view(n, 1, 1) * size
    kp = kp + (torch.randn_like(kp) + torch.randn(n, 1, 2, device=dev)) * wrong
    h = homography(ref, kp[:, :5])
    up = (kp[:, 5] - kp[:, 0]) * torch.exp(torch.randn(n, 1, device=dev) * 0.05)
    start = uniform(n, -180, 180, dev)
    xy = strip_grid(h, up, start)
    img = shrink_samples(closeups.pixels, index, xy)
    img = light(img) * in_photograph(closeups, index, xy)
    view = viewing_channels(h, up, start)[:, :, None].expand(-1, -1, img.shape[2], -1)
    flip = torch.rand(n, device=dev) < 0.5
    x = torch.cat([(img - 127) / 128, view], 1)
    mirrored = torch.cat([x[:, :5], -x[:, 5:]], 1).flip(3)
    x = torch.where(flip.view(n, 1, 1, 1), mirrored, x)

    def from_start(name: str) -> Tensor:
        b = torch.remainder(num[:, COLUMN[name]] - start, 360)
        return torch.where(flip, 360 - b, b)

    bearing = from_start("bearing")
    share = num[:, COLUMN["seen_mark"]]
    stored_px = num[:, COLUMN["mark_px"]] * num[:, COLUMN["native"]]
    seen = (share >= 0.34) & (stored_px >= 4.5)
    unseen = (share < 0.12) | (stored_px < 2.5)
    # the partner's own size is not noted; it is about as large as the mark
    partner_share = num[:, COLUMN["seen_partner"]]
    partner_seen = (partner_share >= 0.34) & (stored_px >= 4.5)
    return x, {
        "target": soft_target(bearing, seen),
        "bearing": bearing,
        "seen": seen,
        "counted": seen & (stored_px >= 8),
        "sure": (seen | unseen).float(),
        "partner": soft_target(from_start("partner"), partner_seen),
        "partner_sure": (partner_seen | (partner_share < 0.12)).float(),
    }


def soft_target(bearing: Tensor, seen: Tensor) -> Tensor:
    """(B, 181): a Gaussian of 2.5 degrees over 180 bins of two, or all of it on "not seen"."""
    bins = torch.arange(180, device=bearing.device) * 2.0 + 1
    d = (bins[None] - bearing[:, None] + 180) % 360 - 180
    soft = torch.exp(-(d**2) / (2 * 2.5**2))
    soft = soft / soft.sum(1, keepdim=True)
    return torch.cat([soft * seen[:, None], (~seen).float()[:, None]], 1)
