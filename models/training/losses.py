"""Losses, one function per network; each returns the loss and a dictionary of numbers to watch."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812 - its customary name
from torch import Tensor

KEYPOINT_SIGMA = 1.0
"""Spread of a keypoint's target over the 64 x 64 grid, in cells."""

PARTNER_WEIGHT = 0.5
"""Weight of the partner's bearing in the loss; the mark's is 1."""

FOOLED_FROM, NEAR_DEG = 0.2, 15.0
"""A bin with this probability farther than this from a mark that is seen, or where none is, is
counted as fooled: a bin holds two degrees, so a mark's whole probability is larger."""


def locator_loss(out: Tensor, t: dict[str, Tensor]) -> tuple[Tensor, dict[str, float]]:
    """Penalty-reduced focal loss on four maps, L1 on log size and offset at the centres."""
    out = out.float()
    p = torch.sigmoid(out[:, :4]).clamp(1e-5, 1 - 1e-5)
    heat, mask = t["heat"], t["mask"][:, None]
    top = (heat > 0.97).float()
    pos = -torch.log(p) * (1 - p) ** 2 * top
    neg = -torch.log(1 - p) * p**2 * (1 - heat) ** 4 * (1 - top) * mask
    per = (pos.sum((0, 2, 3)) + neg.sum((0, 2, 3))) / top.sum((0, 2, 3)).clamp(min=1)
    loss = per[0] + 0.3 * per[1:].mean()
    b, k = torch.nonzero(t["good"], as_tuple=True)
    if len(b) == 0:
        return loss, {"focal": float(per[0].detach())}
    mid, size = t["mid"][b, k] / 4, t["size"][b, k]
    cell = mid.floor().long()
    h, w = out.shape[2:]
    reg = out.new_zeros(())
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            x = (cell[:, 0] + dx).clamp(0, w - 1)
            y = (cell[:, 1] + dy).clamp(0, h - 1)
            got = out[b, 4:, y, x]
            want = torch.cat(
                [torch.log(size / 32), torch.stack([mid[:, 0] - x - 0.5, mid[:, 1] - y - 0.5], 1)],
                1,
            )
            reg = reg + (got - want).abs().mean() / 9
    return loss + 0.6 * reg, {"focal": float(per[0].detach()), "reg": float(reg.detach())}


def keypoint_losses(maps: Tensor, kp: Tensor) -> tuple[Tensor, Tensor]:
    """Spatial cross-entropy (B, K) of maps (B, K, h, w) against keypoints (B, K, 2) in cells.

    The second tensor says which keypoints lie on the grid; the others have no meaning.
    """
    h, w = maps.shape[2:]
    ok = (kp[..., 0] > 0.5) & (kp[..., 0] < w - 0.5) & (kp[..., 1] > 0.5) & (kp[..., 1] < h - 0.5)
    xs = torch.arange(w, device=maps.device) + 0.5
    ys = torch.arange(h, device=maps.device) + 0.5
    gx = torch.exp(-((xs - kp[..., :1]) ** 2) / (2 * KEYPOINT_SIGMA**2))
    gy = torch.exp(-((ys - kp[..., 1:]) ** 2) / (2 * KEYPOINT_SIGMA**2))
    target = gy[..., :, None] * gx[..., None, :]
    target = target / target.sum((2, 3), keepdim=True).clamp(min=1e-6)
    logp = F.log_softmax(maps.flatten(2), 2).view_as(maps)
    entropy = (
        2.84  # of the target itself (a Gaussian of one cell): subtracted so that zero is perfect
    )
    return -(target * logp).sum((2, 3)) - entropy, ok


def refiner_loss(out: Tensor, t: dict[str, Tensor]) -> tuple[Tensor, dict[str, float]]:
    """Spatial cross-entropy per keypoint; watched: mean error of the rim's points in radii."""
    maps = out.float()
    kp = t["kp"] / 4
    ce, ok = keypoint_losses(maps, kp)
    loss = (ce * ok).sum() / ok.sum().clamp(min=1)
    with torch.no_grad():
        w = maps.shape[3]
        at = maps[:, :6].flatten(2).argmax(2)
        top = torch.stack([at % w, at // w], -1) + 0.5
        error = (top - kp[:, :6]).norm(dim=-1) / (t["radius"] / 4)[:, None]
        rim = (error * ok[:, :6]).sum() / ok[:, :6].sum().clamp(min=1)
    return loss, {"points": float(loss.detach()), "rim_error": float(rim)}


def reader_loss(
    out: tuple[Tensor, Tensor], t: dict[str, Tensor]
) -> tuple[Tensor, dict[str, float]]:
    """Spatial cross-entropy per keypoint and the global questions."""
    maps, g = out[0].float(), out[1].float()
    ce, ok = keypoint_losses(maps, t["kp"] / 4)
    ok[:, 12] &= t["has_bowl"] > 0.5
    weight = ok.float()
    weight[:, 12] *= 0.5
    points = (ce * weight).sum() / weight.sum().clamp(min=1)
    cover, bowl = t["cover"], t["bowl"]

    def bce(i: int, truth: Tensor, m: Tensor | None = None) -> Tensor:
        each = F.binary_cross_entropy_with_logits(g[:, i], truth, reduction="none")
        return each.mean() if m is None else (each * m).sum() / m.sum().clamp(min=1)

    hand = (
        F.cross_entropy(g[:, 2:5], t["hand"], reduction="none") * bowl
    ).sum() / bowl.sum().clamp(min=1)
    questions = bce(0, t["diaphragm"], cover) + bce(1, t["filtered"]) + 1.5 * hand
    questions = questions + 0.5 * (bce(5, bowl) + bce(6, t["flange"]) + bce(7, t["mark"]))
    return points + questions, {
        "points": float(points.detach()),
        "hand": float(hand.detach()),
        "questions": float(questions.detach()),
    }


def flange_loss(
    out: tuple[Tensor, Tensor], t: dict[str, Tensor]
) -> tuple[Tensor, dict[str, float]]:
    """Focal loss on the hole maps; count where all bolts are in view; whether they are."""
    maps, g = out[0].float(), out[1].float()
    p = torch.sigmoid(maps).clamp(1e-5, 1 - 1e-5)
    top = (t["heat"] > 0.9).float()
    pos = -torch.log(p) * (1 - p) ** 2 * top
    neg = -torch.log(1 - p) * p**2 * (1 - t["heat"]) ** 4 * (1 - top)
    focal = (pos.sum() + neg.sum()) / top.sum().clamp(min=1)
    whole = t["whole"]
    ce = F.cross_entropy(g[:, :3], t["count"], reduction="none", label_smoothing=0.02)
    count = (ce * (0.1 + 0.9 * whole)).sum() / (0.1 + 0.9 * whole).sum()
    view = F.binary_cross_entropy_with_logits(g[:, 3], whole)
    right = ((g[:, :3].argmax(1) == t["count"]).float() * whole).sum() / whole.sum().clamp(min=1)
    return focal + count + 0.5 * view, {
        "focal": float(focal.detach()),
        "count": float(count.detach()),
        "right": float(right),
    }


def rim_loss(out: tuple[Tensor, Tensor], t: dict[str, Tensor]) -> tuple[Tensor, dict[str, float]]:
    """Cross-entropy over 180 bins and "none" against a soft target, for the mark and its partner.

    ``out``: logits (B, 181) of each. The partner on the body is asked for so that it is not taken
    for the mark. Watched: ``near`` and ``large``, marks seen, and of 8 px or more, within 6
    degrees; ``none``, whether there is one; ``fooled``, something else taken for it.
    """
    mark, body = out[0].float(), out[1].float()
    loss = _entropy(mark, t["target"], t["sure"])
    partner = _entropy(body, t["partner"], t["partner_sure"])
    top = mark[:, :180].argmax(1) * 2.0 + 1
    d = ((top - t["bearing"] + 180) % 360 - 180).abs()
    seen, counted = t["seen"], t["counted"]
    near = ((d < 6) & seen).sum() / seen.sum().clamp(min=1)
    large = ((d < 6) & counted).sum() / counted.sum().clamp(min=1)
    p = mark.softmax(1)
    right = ((p[:, 180] > 0.5) == ~seen).float()
    none = (right * t["sure"]).sum() / t["sure"].sum().clamp(min=1)
    fooled = ((p[:, :180].amax(1) > FOOLED_FROM) & ~((d < NEAR_DEG) & seen)).float()
    return loss + PARTNER_WEIGHT * partner, {
        "mark": float(loss.detach()),
        "partner": float(partner.detach()),
        "near": float(near),
        "large": float(large),
        "none": float(none),
        "fooled": float((fooled * t["sure"]).sum() / t["sure"].sum().clamp(min=1)),
    }


def _entropy(logits: Tensor, target: Tensor, sure: Tensor) -> Tensor:
    """Mean cross-entropy of logits (B, K) against a soft target, where it is known."""
    each = -(target * F.log_softmax(logits, 1)).sum(1)
    return (each * sure).sum() / sure.sum().clamp(min=1)
