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
    assert torch.allclose(net(x), again(x), atol=1e-5)


def test_states_of_unlike_networks_have_no_mean() -> None:
    one = {"weight": torch.zeros(2)}
    for others in ([one, {"weight": torch.zeros(3)}], [one, {"bias": torch.zeros(2)}], []):
        with pytest.raises(ValueError, match="one network"):
            mean_state(others)
