"""Read photos one by one, in this process or in several."""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from carbpair.inspection import PhotoInspection, examine
from carbpair.photo import PhotoError, PhotoLimits, load_photo
from carbpair.vision import load_calibration, load_networks, read_carbs

Progress = Callable[[int, int, str], None]


def read_photo(path: Path, models: Path, limits: PhotoLimits) -> PhotoInspection:
    """Carbs of one photo; one that cannot be opened carries its error. Raises ModelError."""
    try:
        photo = load_photo(path, limits)
    except PhotoError as error:
        return PhotoInspection(path.name, error=error)
    calibration = load_calibration(models)
    carbs = read_carbs(photo.pixels, load_networks(models), calibration)
    return examine(photo, carbs, calibration)


def read_photos(
    paths: Sequence[Path],
    models: Path,
    limits: PhotoLimits,
    workers: int = 1,
    progress: Progress | None = None,
) -> list[PhotoInspection]:
    """Readings in the order of `paths`. Raises ModelError when a network is missing."""
    load_networks(models)  # a missing network is said before any work
    work = partial(read_photo, models=models, limits=limits)
    out: list[PhotoInspection] = []
    for reading in _mapped(work, paths, workers):
        out.append(reading)
        if progress:
            progress(len(out), len(paths), reading.file)
    return out


def _mapped(
    work: Callable[[Path], PhotoInspection], paths: Sequence[Path], workers: int
) -> Iterator[PhotoInspection]:
    if workers == 1:
        yield from map(work, paths)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(work, paths, chunksize=4)
