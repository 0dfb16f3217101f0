"""The networks are checked against ONNX's own description and hashlib."""

import hashlib
from pathlib import Path

import numpy as np
import pytest

from carbpair.settings import default_model_dir
from carbpair.vision.network import NAMES, ModelError, Network, load_networks, model_hashes

FOLDER = default_model_dir()


def test_a_missing_network_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match=r"locator\.onnx is not in .* set CARBPAIR_MODEL_DIR"):
        load_networks(tmp_path)


def test_a_broken_network_says_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "rim.onnx").write_bytes(b"not a network")
    with pytest.raises(ModelError, match=r"rim\.onnx cannot be loaded .*Reinstall"):
        Network(tmp_path / "rim.onnx")


def test_each_shipped_file_is_at_most_16_mebibytes() -> None:
    for name in NAMES:
        assert (FOLDER / f"{name}.onnx").stat().st_size <= 16 * 2**20, name


@pytest.mark.parametrize(
    ("name", "shown", "answers"),
    [
        ("locator", (1, 3, 96, 128), [(1, 8, 24, 32)]),
        ("reader", (2, 3, 256, 256), [(2, 13, 64, 64), (2, 8)]),
        ("refiner", (2, 3, 256, 256), [(2, 12, 64, 64)]),
        ("flange", (2, 3, 128, 128), [(2, 2, 64, 64), (2, 4)]),
        ("rim", (2, 6, 48, 792), [(2, 181)]),
    ],
)
def test_shapes(name: str, shown: tuple[int, ...], answers: list[tuple[int, ...]]) -> None:
    got = load_networks(FOLDER)[name].run(np.full(shown, 90, np.float32))
    assert [a.shape for a in got] == answers
    assert all(np.isfinite(a).all() for a in got)


def test_a_batch_gives_what_single_pictures_give() -> None:
    rng = np.random.default_rng(5)
    faces = rng.uniform(0, 255, (3, 3, 128, 128)).astype(np.float32)
    network = load_networks(FOLDER)["flange"]
    together = network.run(faces)
    for i in range(3):
        for whole, single in zip(together, network.run(faces[i : i + 1]), strict=True):
            assert whole[i] == pytest.approx(single[0], abs=2e-3)


def test_hashes() -> None:
    for name, value in model_hashes(FOLDER):
        assert value == hashlib.sha256((FOLDER / f"{name}.onnx").read_bytes()).hexdigest()
