"""How far landmarks are from the truth, before and after the refiner, and what its guard refuses.

    python -m training.evaluation.landmark_error --pictures DIR --workers 2

Run from ``models/``; DIR holds packed renders. Errors are in true rim radii, medians with a 95 %
interval from order statistics (binomial, no distribution assumed), shares with Wilson's; carbs of
one picture count as independent.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from carbpair.evaluate.intervals import share
from carbpair.evaluate.render_truth import visible
from carbpair.evaluate.summary import share_words
from carbpair.photo import load_photo
from carbpair.vision import closeup, load_calibration, load_networks, read_carbs
from carbpair.vision.crop import Crop
from carbpair.vision.landmarks import COMMON, KEYPOINTS, Landmarks
from carbpair.vision.rim import diameter

from .matching import match
from .packed import packed_parser, packed_pictures

Array = NDArray[np.float64]
SHARES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)


@dataclass(frozen=True, slots=True)
class RefinedCarb:
    """One true carb: errors in rim radii (12,), and what the guard looks at.

    ``moved``: from the reader's to the refiner's centre of the rim, in rim diameters.
    """

    read: Array
    refined: Array
    moved: float
    certainty: float
    kept: bool


def read_picture(path: Path, models: Path) -> list[RefinedCarb]:
    """The visible carbs of one packed picture that were found.

    Weak finds that the refiner does not confirm stay among them: what it refuses is looked at.
    """
    photo = load_photo(path)
    truth = json.loads(path.with_suffix(".json").read_text())["carbs"]
    before: dict[int, tuple[Array, Array, float, float]] = {}
    inside = closeup.refined

    def watched(view: Crop, maps: NDArray[np.float32], crop: Crop, marks: Landmarks) -> Landmarks:
        at = crop.to_photo(marks.points[:COMMON])
        with patch.multiple(closeup, FARTHEST=np.inf, LEAST_CERTAINTY=-1.0):
            free = inside(view, maps, crop, marks)
        again = view.to_photo(free.points[:COMMON])
        across = diameter(marks) / crop.scale
        sure = 0.0 if free.refined is None else float(np.median(free.refined))
        used = inside(view, maps, crop, marks)
        before[id(used)] = (at, again, across, sure)  # not every one becomes a carb
        return used

    with patch.object(closeup, "refined", watched):
        calibration = replace(load_calibration(models), weak_score=0.0)
        carbs = read_carbs(photo.pixels, load_networks(models), calibration)
    found = match(truth, [c.located.box for c in carbs], (photo.width, photo.height))
    out = []
    for i, j in found.items():
        if not visible(truth[i]):
            continue
        at, again, across, certainty = before[id(carbs[j].marks)]
        want = np.asarray(truth[i]["keypoints"], float)[:COMMON]
        radius = truth[i]["rim_px"] / 2
        moved = float(np.linalg.norm(again[0] - at[0])) / across
        errors = [np.linalg.norm(p - want, axis=1) / radius for p in (at, again)]
        kept = carbs[j].marks.refined is not None
        out.append(RefinedCarb(errors[0], errors[1], moved, certainty, kept))
    return out


def median(values: Array) -> tuple[float, float, float]:
    """Median of (N,) and its 95 % interval, by the ranks that a binomial count allows."""
    ranked, n = np.sort(values), len(values)
    low = int(binom.ppf(0.025, n, 0.5))
    return (
        float(np.median(ranked)),
        float(ranked[max(low - 1, 0)]),
        float(ranked[min(n - low, n - 1)]),
    )


def table(carbs: Sequence[RefinedCarb]) -> list[str]:
    """Lines to print: every landmark, the rim's five together, then what the guard looked at."""
    read, refined = (np.stack([getattr(c, k) for c in carbs]) for k in ("read", "refined"))
    rows = [(name, read[:, k], refined[:, k]) for k, name in enumerate(KEYPOINTS[:COMMON])]
    rows.append(("rim's five", read[:, :5].mean(1), refined[:, :5].mean(1)))
    lines = [f"{len(carbs)} carbs; median error in rim radii: reader, refiner"]
    for name, a, b in rows:
        words = ("{:.3f} ({:.3f} to {:.3f})".format(*median(v)) for v in (a, b))
        lines.append(f"{name:14s} " + "  ".join(words))
    kept = sum(c.kept for c in carbs)
    lines.append(f"refiner kept: {share_words(share(kept, len(carbs)))}")
    better = int((refined[:, :5].mean(1) < read[:, :5].mean(1)).sum())
    lines.append(f"rim nearer the truth after it: {share_words(share(better, len(carbs)))}")
    for name, numbers in (
        ("rim's centre moved, diameters", [c.moved for c in carbs]),
        ("refiner's median confidence", [c.certainty for c in carbs]),
    ):
        at = ", ".join(
            f"{q:.0%} {v:.3f}" for q, v in zip(SHARES, np.quantile(numbers, SHARES), strict=True)
        )
        lines.append(f"{name}: {at}")
    return lines


def main() -> None:
    """Command line."""
    a = packed_parser(__doc__).parse_args()
    with ProcessPoolExecutor(a.workers) as pool:
        read = pool.map(partial(read_picture, models=a.models), packed_pictures(a), chunksize=4)
        carbs = [c for row in read for c in row]
    print("\n".join(table(carbs)))


if __name__ == "__main__":
    main()
