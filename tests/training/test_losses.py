"""The rim reader's loss, by numbers that can be reckoned by hand."""

from __future__ import annotations

import math

import pytest

pytest.importorskip("torch")

import torch
from models.training.losses import PARTNER_WEIGHT, rim_loss
from models.training.windows import soft_target


def targets(mark: float, partner: float) -> dict[str, torch.Tensor]:
    """One strip whose mark and partner are seen at these bearings."""
    yes, here = torch.tensor([True]), torch.tensor([mark])
    return {
        "target": soft_target(here, yes),
        "bearing": here,
        "seen": yes,
        "counted": yes,
        "sure": torch.ones(1),
        "partner": soft_target(torch.tensor([partner]), yes),
        "partner_sure": torch.ones(1),
    }


def pointing(bearing: float) -> torch.Tensor:
    """Logits (1, 181) that all but say a bearing."""
    z = torch.zeros(1, 181)
    z[0, int(bearing // 2)] = 20.0
    return z


def test_knowing_nothing_costs_the_logarithm_of_the_bins() -> None:
    nothing = torch.zeros(1, 181)
    loss, numbers = rim_loss((nothing, nothing), targets(41.0, 181.0))
    assert numbers["mark"] == pytest.approx(math.log(181), abs=1e-4)
    assert float(loss) == pytest.approx((1 + PARTNER_WEIGHT) * math.log(181), abs=1e-3)


def test_the_partner_taken_for_the_mark_is_counted() -> None:
    right, swapped = pointing(41.0), pointing(181.0)
    _, good = rim_loss((right, swapped), targets(41.0, 181.0))
    _, bad = rim_loss((swapped, right), targets(41.0, 181.0))
    assert (good["near"], good["fooled"]) == (1.0, 0.0)
    assert (bad["near"], bad["fooled"]) == (0.0, 1.0)
    assert bad["mark"] > good["mark"] + 5


def test_what_is_neither_seen_nor_unseen_teaches_nothing() -> None:
    unsure = targets(41.0, 181.0) | {"sure": torch.zeros(1), "partner_sure": torch.zeros(1)}
    loss, _ = rim_loss((pointing(300.0), pointing(300.0)), unsure)
    assert float(loss) == 0.0
