"""Training goes on from a state, and draws hidden carbs more often; needs the training extra."""

from __future__ import annotations

import numpy as np
import pytest

pytest.importorskip("torch")

import torch
from models.training import nets, train
from models.training.data import _PhotoTruth

from carbpair.vision.network import Network

ALONE = torch.arange(6.0)
"""Six windows of six scenes."""


def batch_of(drawn):
    def batch(index):
        drawn.extend(index.tolist())
        n = len(index)
        target = {
            "heat": torch.zeros(n, 2, 64, 64),
            "count": torch.zeros(n, dtype=torch.long),
            "whole": torch.ones(n),
        }
        return torch.zeros(n, 3, 128, 128), target

    return batch


def test_a_run_without_time_returns_the_state_it_began_with(tmp_path) -> None:
    torch.manual_seed(7)
    torch.save(nets.build("flange").state_dict(), tmp_path / "flange.pt")
    start = tmp_path / "flange.pt"
    net, log = train.run(
        "flange", batch_of([]), torch.arange(4), ALONE[:4], 1e-9, None, "cpu", 1, start_from=start
    )
    assert log["went_on_from"] == "flange.pt"
    want = torch.load(start)
    assert all(torch.equal(v, want[k]) for k, v in net.state_dict().items())


def test_a_state_may_lack_a_new_output() -> None:
    net = nets.build("rim")
    state = {k: v + 1 for k, v in net.state_dict().items() if not k.startswith("partner")}
    kept = net.partner_bins.bias.clone()
    train.resume(net, state)
    assert torch.equal(net.bins.bias, state["bins.bias"])
    assert torch.equal(net.partner_bins.bias, kept)
    some = {"bins.bias": state["bins.bias"]}
    for strange in ({"other": torch.zeros(1)}, {}, some, nets.build("flange").state_dict()):
        with pytest.raises(ValueError, match="not a state of this network"):
            train.resume(net, strange)


def test_the_rim_reader_ships_its_first_output_alone(tmp_path) -> None:
    torch.manual_seed(2)
    net = nets.build("rim").eval()
    train.export(net, "rim", tmp_path)
    shipped = Network(tmp_path / "rim.onnx")
    assert shipped.output_names == ["bins"]
    x = torch.rand(2, 6, 48, 792)
    assert shipped.run(x.numpy())[0] == pytest.approx(net(x)[0].detach().numpy(), abs=1e-4)
    assert "partner_bins.bias" in torch.load(tmp_path / "rim.pt")


def test_weights_say_what_is_drawn() -> None:
    drawn: list[int] = []
    weights = torch.tensor([0.0, 1.0, 0.0, 0.0, 1.0, 0.0])
    train.run(
        "flange", batch_of(drawn), torch.arange(6), ALONE, 1.0, None, "cpu", 1, weights=weights
    )
    held = set(drawn[-1:])  # what is held out is looked at last, whatever its weight
    trained = drawn[6:-1]
    assert len(trained) >= 4
    assert set(trained) <= {1, 4} - held


def test_held_out_numbers_count_every_window_once(monkeypatch) -> None:
    monkeypatch.setattr(train, "HELD_OUT", 0.5)
    monkeypatch.setitem(train.BATCH, "flange", 4)
    monkeypatch.setattr(
        train.losses, "flange_loss", lambda out, t: (out[0].sum(), {"size": float(len(out[0]))})
    )
    scene = torch.arange(10.0)
    _, log = train.run("flange", batch_of([]), torch.arange(10), scene, 1e-9, None, "cpu", 1)
    # Five are held out: a batch of four and one of one.
    assert log["held_out_numbers"] == {"size": (4 * 4 + 1 * 1) / 5}


def test_whole_scenes_are_held_out() -> None:
    torch.manual_seed(3)
    scene = torch.arange(400.0) // 4  # four windows of each of a hundred scenes
    chosen = torch.arange(0, 400, 2)
    held, train_part = train.held_out(chosen, scene)
    assert sorted([*held.tolist(), *train_part.tolist()]) == chosen.tolist()
    assert len(held) == 2 * int(100 * train.HELD_OUT)
    assert not set(scene[held].tolist()) & set(scene[train_part].tolist())


def test_a_mostly_hidden_cover_is_noted() -> None:
    def carb(cover: float) -> dict:
        return {
            "box": np.array([0.0, 0.0, 100.0, 80.0]),
            "in_front": True,
            "in_frame": 1.0,
            "seen": {"cover": cover, "throat": 1.0, "bowl": 1.0},
            "keypoints": np.zeros((13, 2)),
            "hand": 1,
        }

    truth = _PhotoTruth()
    for covers in ((0.9, 0.8), (0.9, 0.3), (0.9, 0.1)):  # the last is no carb to be found
        truth.add([carb(c) for c in covers], 7)
    assert truth.half_hidden == [0.0, 1.0, 0.0]
    assert truth.scene == [7, 7, 7]
