"""Which packages give real negative photographs, and on which side of the split each stands.

A package is wholly on one side, or, where ``folders`` names them, those of its folders are for
evaluation and the rest for training: two pictures that were made together never stand on both
sides. Left out on purpose: packages that forbid commercial use or are not free, and the stereo
pair of a motorcycle in scikit-image, which shows an engine with carburettors.
"""

from __future__ import annotations

import fnmatch
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Literal

from . import rcc
from .packages import Package, members

TABLE = Path(__file__).with_name("sources.json")
Split = Literal["training", "evaluation"]
PICTURES = ("*.jpg", "*.jpeg", "*.JPG", "*.JPEG", "*.png", "*.PNG", "*.webp", "*.rcc")


@dataclass(frozen=True)
class Source:
    """One package; ``evaluation_folders`` are shell patterns, used when the split is mixed."""

    package: Package
    split: Literal["training", "evaluation", "mixed"]
    evaluation_folders: tuple[str, ...] = ()

    def side(self, folder: str) -> Split:
        """The split of a picture that lies in ``folder``."""
        if self.split != "mixed":
            return self.split
        held = any(fnmatch.fnmatchcase(folder, name) for name in self.evaluation_folders)
        return "evaluation" if held else "training"


def load(path: Path = TABLE) -> tuple[Source, ...]:
    """The table of packages beside this file."""
    sources = []
    for row in json.loads(path.read_text(encoding="utf-8"))["sources"]:
        split, folders = row.pop("split"), tuple(row.pop("evaluation_folders", ()))
        sources.append(Source(Package(**row), split, folders))
    return tuple(sources)


SOURCES = load()


def pictures(path: Path) -> Iterator[tuple[str, bytes]]:
    """Every picture file of an archive, those inside Qt resources too: (folder, content).

    ``folder`` is the resource's name without its ending, empty for a picture outside of one.
    """
    for name, content in members(path, *PICTURES):
        if not name.endswith(".rcc"):
            yield "", content
            continue
        folder = PurePosixPath(name).stem
        for inner, data in rcc.files(content):
            if any(fnmatch.fnmatchcase(inner, pattern) for pattern in PICTURES):
                yield folder, data
