"""Where results may be written: never over the shipped evidence, never over anything unasked."""

from collections.abc import Iterable
from pathlib import Path

from carbpair.evaluate.error import OutputError
from carbpair.settings import PACKAGE, default_model_dir

NETWORK = "locator.onnx"
"""A folder that holds this is a folder of networks, with their evidence in and below it."""


def check_outputs(paths: Iterable[Path], models: Path, force: bool) -> None:
    """Raise OutputError if a file lies among the weights and their evidence, or exists.

    `force` allows to overwrite a file that exists, but not the shipped ones.
    """
    kept = [PACKAGE.resolve(), default_model_dir().resolve(), models.resolve()]
    for path in paths:
        full = path.resolve()
        among = any((folder / NETWORK).is_file() for folder in full.parents)
        if among or any(full.is_relative_to(folder) for folder in kept):
            raise OutputError(
                f"{path}: the shipped evidence lies there and is never overwritten. "
                "Choose a file in a folder of your own."
            )
        if full.is_dir():
            raise OutputError(f"{path}: is a folder. Give the name of a file in it.")
        if not full.parent.is_dir():
            raise OutputError(f"{path}: there is no folder {path.parent}. Make it first.")
        if full.exists() and not force:
            raise OutputError(f"{path}: exists already. Choose another name or add --force.")
