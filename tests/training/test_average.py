"""Means of weights, by numbers that can be reckoned by hand."""

from __future__ import annotations

import pytest

pytest.importorskip("torch")

import torch
from models.training import nets
from models.training.average import mean_state


def test_the_mean_of_two_states() -> None:
    first = {"weight": torch.tensor([1.0, 4.0]), "steps": torch.tensor(3)}
    last = {"weight": torch.tensor([3.0, -2.0]), "steps": torch.tensor(8)}
    mean = mean_state([first, last])
    assert mean["weight"].tolist() == [2.0, 1.0]
    assert mean["steps"].item() == 8


def test_a_network_averaged_with_itself_says_the_same() -> None:
    torch.manual_seed(1)
    net = nets.build("rim").eval()
    again = nets.build("rim").eval()
    again.load_state_dict(mean_state([net.state_dict(), net.state_dict()]))
    x = torch.rand(1, 6, 48, 792)
    for one, other in zip(net(x), again(x), strict=True):
        assert torch.allclose(one, other, atol=1e-5)


def test_a_weighted_mean_is_over_the_states_that_have_the_tensor() -> None:
    early = {"weight": torch.tensor([10.0])}
    late = {"weight": torch.tensor([0.0]), "partner_bins.bias": torch.tensor([3.0])}
    last = {"weight": torch.tensor([5.0]), "partner_bins.bias": torch.tensor([5.0])}
    mean = mean_state([early, late, last], [1, 2, 2])
    assert mean["weight"].item() == pytest.approx((10 + 0 + 10) / 5)
    assert mean["partner_bins.bias"].item() == pytest.approx(4.0)
    for wrong in ([1, 2], [1, 2, 0], [1, 2, -1]):
        with pytest.raises(ValueError, match="weights"):
            mean_state([early, late, last], wrong)


def test_states_of_unlike_networks_have_no_mean() -> None:
    one = {"weight": torch.zeros(2)}
    more = {"weight": torch.zeros(2), "bias": torch.zeros(2)}
    for others in (
        [one, {"weight": torch.zeros(3)}],
        [one, {"bias": torch.zeros(2)}],
        [more, one],
        [],
    ):
        with pytest.raises(ValueError, match="one network"):
            mean_state(others)
