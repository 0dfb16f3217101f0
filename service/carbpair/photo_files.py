"""Which files a person means by a list of photos and folders."""

from collections.abc import Iterable
from pathlib import Path

SUFFIXES = frozenset({".jpg", ".jpeg", ".jpe", ".png", ".webp", ".heic", ".heif"})


def expand_photos(given: Iterable[Path]) -> list[Path]:
    """Files as given, folders as the photos below them in order of name, none twice.

    A file is kept whatever its name, so that reading it says what is wrong with it. Raises
    FileNotFoundError for a folder without photos.
    """
    found: dict[Path, None] = {}
    for path in given:
        if not path.is_dir():
            found[path] = None
            continue
        inside = sorted(
            file
            for file in path.rglob("*")
            if file.suffix.lower() in SUFFIXES
            and file.is_file()
            and not any(part.startswith(".") for part in file.relative_to(path).parts)
        )
        if not inside:
            raise FileNotFoundError(f"{path}: the folder holds no JPEG, PNG, WebP or HEIC photos.")
        found.update(dict.fromkeys(inside))
    return list(found)
