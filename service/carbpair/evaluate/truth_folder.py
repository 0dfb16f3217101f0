"""Which truth belongs to which photo of a folder."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from carbpair.evaluate.coco_truth import coco_truths, is_coco
from carbpair.evaluate.error import TruthError
from carbpair.evaluate.render_truth import is_render_truth, photo_truth
from carbpair.evaluate.truth import PhotoTruth
from carbpair.evaluate.truth_file import entry_truth, folder_entries, load, photo_entry
from carbpair.photo_files import expand_photos

WHOLE = ("truth.json", "truth.toml")
COCO = "annotations.json"
BESIDE = (".truth.json", ".truth.toml", ".json", ".toml")

Size = tuple[int, int]
Truth = Callable[[Size], PhotoTruth]
"""Truth of a photo once its (width, height) is known."""

MISSING_REMEDY = (
    "Write them into truth.json in that folder, or a file of the photo's name with .json beside "
    "each ({{\"carbs\": []}} where none is shown); or leave them out with --only-with-truth."
).replace("{{", "{").replace("}}", "}")  # fmt: skip


def folder_truths(folder: Path, only_with_truth: bool = False) -> dict[Path, Truth]:
    """Truth for the photos of a folder, in order of their names.

    Raises TruthError: the folder is not one or has no photos; no truth, or truth for a photo that
    is not there, or two truths for one photo; a photo without truth unless `only_with_truth`.
    """
    if not folder.is_dir():
        raise TruthError(folder, "is not a folder.", "Give the folder that holds the photos.")
    coco = folder / COCO
    if coco.is_file() and is_coco(data := load(coco)):
        return _coco(folder, coco, data)
    try:
        photos = expand_photos([folder])
    except FileNotFoundError as error:
        message = str(error).removeprefix(f"{folder}: ")
        raise TruthError(folder, message, "Give the folder that holds them.") from None
    common = _common(folder, photos)
    out: dict[Path, Truth] = {}
    missing: list[Path] = []
    for photo in photos:
        beside = [p for end in BESIDE if (p := photo.with_name(photo.stem + end)).is_file()]
        beside = [p for p in beside if p.name not in WHOLE]
        given = len(beside) + (photo in common)
        if given > 1:
            names = ", ".join(p.name for p in beside)
            raise TruthError(
                photo, f"has more than one truth ({names}).", "Keep one and remove the others."
            )
        if photo in common:
            out[photo] = common[photo]
        elif beside:
            out[photo] = _single(photo, beside[0])
        else:
            missing.append(photo)
    if not out:
        raise TruthError(folder, "holds no truth for its photos.", MISSING_REMEDY)
    if missing and not only_with_truth:
        names = ", ".join(p.name for p in missing[:3]) + (", …" if len(missing) > 3 else "")
        few = f"{len(missing)} of {len(photos)} photos have no truth: {names}."
        raise TruthError(folder, few, MISSING_REMEDY)
    return out


def _common(folder: Path, photos: list[Path]) -> Mapping[Path, Truth]:
    """Truth from the one file for the whole folder."""
    files = [p for name in WHOLE if (p := folder / name).is_file()]
    if not files:
        return {}
    if len(files) > 1:
        raise TruthError(folder, "has truth.json and truth.toml.", "Keep one of them.")
    path, here = files[0], set(photos)
    out: dict[Path, Truth] = {}
    for name, entry in folder_entries(path, load(path)).items():
        photo = folder / name
        if photo not in here:
            raise TruthError(
                path, f"photos → {name}: no such photo in {folder}.",
                "Correct the name (capitals count), or remove the entry.",
            )  # fmt: skip
        out[photo] = lambda size, n=name, e=entry: entry_truth(path, n, e, size)  # type: ignore[misc]
    return out


def _single(photo: Path, path: Path) -> Truth:
    data = load(path)
    if is_render_truth(data):
        return lambda size: _render(photo, path, data, size)
    entry = photo_entry(path, data)
    return lambda size: entry_truth(path, photo.name, entry, size)


def _render(photo: Path, path: Path, data: Any, size: Size) -> PhotoTruth:
    try:
        return photo_truth(photo.name, data["carbs"], size, data.get("group"))
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise TruthError(
            path, f"is not a packed render's truth ({error!r}).", "Pack the renders again."
        ) from None


def _coco(folder: Path, path: Path, data: Any) -> dict[Path, Truth]:
    out: dict[Path, Truth] = {}
    for name, truth in sorted(coco_truths(path, data).items()):
        photo = folder / "images" / name
        if not photo.is_file():
            raise TruthError(
                path, f"names {name}, which is not in {photo.parent}.",
                "Keep annotations.json and images/ together.",
            )  # fmt: skip
        out[photo] = lambda _size, t=truth: t  # type: ignore[misc]
    if not out:
        raise TruthError(path, "holds no corrected carb.", "Correct some cases and export again.")
    return out
