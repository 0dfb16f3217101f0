"""The shipped networks: loaded once, checked, run on one thread by ONNX Runtime."""

import hashlib
import os
from functools import cache
from pathlib import Path

import numpy as np
import onnxruntime
from numpy.typing import NDArray

NAMES = ("locator", "reader", "refiner", "flange", "rim")

Array = NDArray[np.float32]


class ModelError(RuntimeError):
    """A network's file is missing or unreadable; the message says what to do."""


class Network:
    """One ONNX network. Input "image" float32 (N, C, H, W); colours are RGB in [0, 255]."""

    def __init__(self, path: Path, threads: int = 1) -> None:
        if not path.is_file():
            raise ModelError(
                f"{path.name} is not in {path.parent}. "
                "Reinstall carbpair, or set CARBPAIR_MODEL_DIR."
            )
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        # Memory arenas keep the largest batch ever run; without them a worker's memory stays flat.
        options.enable_cpu_mem_arena = False
        try:
            self._session = onnxruntime.InferenceSession(
                str(path), options, providers=["CPUExecutionProvider"]
            )
        except Exception as error:
            raise ModelError(
                f"{path.name} cannot be loaded ({error}). Reinstall carbpair."
            ) from error
        self.name = path.stem
        self.path = path
        self.output_names = [o.name for o in self._session.get_outputs()]

    def run(self, image: Array) -> list[Array]:
        """All outputs, in the order of `output_names`."""
        out: list[Array] = self._session.run(self.output_names, {"image": image})
        return out


@cache
def load_networks(folder: Path, threads: int | None = None) -> dict[str, Network]:
    """All networks of a folder. Raises ModelError."""
    count = threads or int(os.environ.get("CARBPAIR_THREADS", "1"))
    return {name: Network(folder / f"{name}.onnx", count) for name in NAMES}


@cache
def model_hashes(folder: Path) -> tuple[tuple[str, str], ...]:
    """(name, SHA-256) of each network's file."""
    return tuple(
        (name, hashlib.sha256((folder / f"{name}.onnx").read_bytes()).hexdigest()) for name in NAMES
    )
