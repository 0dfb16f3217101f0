"""The packed renders that a measurement is asked to read, from its command line."""

from __future__ import annotations

import argparse
from pathlib import Path

from carbpair.settings import default_model_dir


def packed_parser(description: str | None) -> argparse.ArgumentParser:
    """Options of a measurement on a folder of packed renders."""
    p = argparse.ArgumentParser(description=description)
    p.add_argument("--pictures", type=Path, required=True)
    p.add_argument("--models", type=Path, default=default_model_dir())
    p.add_argument("--limit", type=int)
    p.add_argument("--workers", type=int, default=1)
    return p


def packed_pictures(a: argparse.Namespace) -> list[Path]:
    """The folder's pictures with a truth beside them, in order, no more than the limit."""
    files = sorted(f for f in a.pictures.glob("*.jpg") if f.with_suffix(".json").is_file())
    return files[: a.limit]
