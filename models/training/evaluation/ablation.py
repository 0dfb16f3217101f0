"""Stations taken away one at a time, with the networks as they are.

    python -m training.evaluation.ablation --pictures DIR --limit 300 --workers 2 \\
        --out evidence/ablation.json

Run from ``models/``; DIR holds packed renders. What a station gains is what the numbers lose
without it. Networks were trained with the stations in place: a network trained without one would
lose less, so rectification's gain is an upper bound.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.evaluate.render_truth import photo_truth
from carbpair.evaluate.scored import Scored, scored
from carbpair.evaluate.summary import degrees_words, share_words
from carbpair.inspection import examine
from carbpair.photo import load_photo
from carbpair.vision import (
    closeup,
    features,
    flange,
    load_calibration,
    load_networks,
    locator,
    read_carbs,
)
from carbpair.vision import rim as rim_
from carbpair.vision.crop import Crop
from carbpair.vision.halvings import Halvings
from carbpair.vision.landmarks import Landmarks
from carbpair.vision.locator import FINE_SIDE, LONG_SIDE, LocatedCarb, look
from carbpair.vision.network import Network

from .packed import packed_parser, packed_pictures
from .robustness import short_table

VARIANTS = {
    "everything": "",
    "coarse look only": "the locator at one scale, 512 pixels",
    "fine look only": "the locator at one scale, 1216 pixels",
    "looks of 448 and 864 pixels": "a smaller input of the locator",
    "looks of 640 and 1216 pixels": "a larger input of the locator",
    "half the pixels of a close-up": "a smaller input of refiner, flange and rim reader",
    "finds not confirmed": "carbs without a carb's landmarks are kept",
    "landmarks found once": "the reader's, though flange and rim are read in the close-up",
    "pattern not verified": "hole counts stand without a bolt pattern",
    "tilt ignored": "flange and rim taken as if seen face on",
    "perspective ignored": "flange and rim by an affine map",
}
SHOWN = (
    ("carbs found", ("found",)),
    ("boxes without a carb", ("boxes_without_a_carb",)),
    ("holes answered", ("flange_holes", "coverage")),
    ("holes right", ("flange_holes", "accuracy_of_answers")),
    ("bowl answered", ("bowl_side", "coverage")),
    ("bowl right", ("bowl_side", "accuracy_of_answers")),
    ("mark's verdict answered", ("verdict", "coverage")),
)
Array = NDArray[np.float64]
REFINED = closeup.refined
CUT = closeup.cut


def one_look(long_side: int) -> Any:
    """A stand-in for ``locate`` with a single scale."""

    def locate(picture: Halvings, network: Network, threshold: float) -> list[LocatedCarb]:
        return look(picture, network, min(long_side, max(picture.size)), threshold)

    return locate


def two_looks(long_side: int, fine_side: int) -> Any:
    """A stand-in for ``locate`` with other sizes of its two looks."""

    def locate(picture: Halvings, network: Network, threshold: float) -> list[LocatedCarb]:
        with (
            patch.object(locator, "LONG_SIDE", long_side),
            patch.object(locator, "FINE_SIDE", fine_side),
        ):
            return locator.locate(picture, network, threshold)

    return locate


def half_cut(picture: Halvings, crop: Crop, marks: Landmarks) -> Crop:
    """A stand-in for ``closeup.cut`` that keeps a quarter of the close-up's pixels."""
    view = CUT(picture, crop, marks)
    size = view.pixels.shape[0]
    small = cv2.resize(view.pixels, (size // 2, size // 2), interpolation=cv2.INTER_AREA)
    again = cv2.resize(small, (size, size), interpolation=cv2.INTER_LINEAR)
    return replace(view, pixels=np.asarray(again, np.uint8))


def face_on(points: Array, flip: bool) -> Array:
    """Homography that takes a unit circle to an upright circle of the points' larger radius.

    ``points``: centre and the images of two opposite pairs (5, 2); ``flip``: the second
    coordinate of the reference runs to the right and the first up, as on a rim seen from above.
    """
    a, b = np.linalg.norm(points[1] - points[2]) / 2, np.linalg.norm(points[3] - points[4]) / 2
    r = float(max(a, b))
    turn = np.array([[0.0, r], [r, 0.0]]) if flip else np.array([[r, 0.0], [0.0, r]])
    h = np.eye(3)
    h[:2, :2], h[:2, 2] = turn, points[0]
    return h


def affine(reference: Array, points: Array) -> Array:
    """Least-squares affine map as a homography (3, 3)."""
    source = np.c_[reference, np.ones(len(reference))]
    found, *_ = np.linalg.lstsq(source, points, rcond=None)
    return np.asarray(np.vstack([found.T, [0.0, 0.0, 1.0]]))


def _planes(kind: str) -> tuple[Any, Any]:
    def flange_plane(marks: Landmarks) -> Array:
        points = np.asarray(marks.points[7:12], float)
        return face_on(points, False) if kind == "face on" else affine(flange.REFERENCE, points)

    def rim_plane(marks: Landmarks) -> rim_.RimPlane:
        points = np.asarray(marks.points[:5], float)
        h = face_on(points, True) if kind == "face on" else affine(rim_.REFERENCE, points)
        return rim_.RimPlane(h, marks.point("rim_axis") - marks.point("rim"))

    return flange_plane, rim_plane


def found_once(view: Crop, maps: NDArray[np.float32], crop: Crop, marks: Landmarks) -> Landmarks:
    """A stand-in for ``closeup.refined`` that leaves the reader's landmarks where they are.

    How sure the refiner was stays, so that the same finds are confirmed.
    """
    found = REFINED(view, maps, crop, marks)
    return replace(found, points=view.from_photo(crop.to_photo(marks.points)))


@contextmanager
def without(variant: str) -> Iterator[None]:
    """Take a station away for a while."""
    with ExitStack() as stack:
        if variant in ("coarse look only", "fine look only"):
            side = LONG_SIDE if variant.startswith("coarse") else FINE_SIDE
            stack.enter_context(patch("carbpair.vision.carb.locate", one_look(side)))
        elif variant.startswith("looks of"):
            sides = (int(word) for word in variant.split() if word.isdigit())
            stack.enter_context(patch("carbpair.vision.carb.locate", two_looks(*sides)))
        elif variant.startswith("half the pixels"):
            stack.enter_context(patch.object(closeup, "cut", half_cut))
        elif variant == "landmarks found once":
            stack.enter_context(patch.object(closeup, "refined", found_once))
        elif variant == "pattern not verified":
            stack.enter_context(patch.object(features, "_objection", lambda *_: None))
        elif variant in ("tilt ignored", "perspective ignored"):
            a, b = _planes("face on" if variant == "tilt ignored" else "affine")
            stack.enter_context(patch.object(flange, "plane_of", a))
            stack.enter_context(patch.object(rim_, "plane_of", b))
        yield


def read_variants(path: Path, models: Path) -> dict[str, Scored]:
    """One picture read with each station taken away in turn."""
    photo = load_photo(path)
    carbs = json.loads(path.with_suffix(".json").read_text())["carbs"]
    truth = photo_truth(path.name, carbs, (photo.width, photo.height))
    networks = load_networks(models)
    out = {}
    for variant in VARIANTS:
        calibration = load_calibration(models)
        if variant == "finds not confirmed":
            calibration = replace(
                calibration, landmark_confidence=0.0, landmark_floor=0.0, weak_score=0.0
            )
        with without(variant):
            found = read_carbs(photo.pixels, networks, calibration)
            out[variant] = scored(truth, examine(photo, found, calibration))
    return out


def ablation(files: Sequence[Path], models: Path, workers: int) -> dict[str, Any]:
    """The table of the evidence page."""
    with ProcessPoolExecutor(workers) as pool:
        rows = list(pool.map(partial(read_variants, models=models), files, chunksize=4))
    table = []
    for variant, words in VARIANTS.items():
        short = short_table([r[variant] for r in rows])
        cells = []
        for _, path in SHOWN:
            cell: Any = short
            for key in path:
                cell = cell[key]
            cells.append(share_words(cell))
        error = degrees_words(short["bearing_mean_absolute_error_deg"])
        table.append([f"{variant}: {words}" if words else variant, *cells, error])
    return {
        "title": "Stations taken away",
        "text": f"{len(files)} renders, seeds {int(files[0].stem)} to {int(files[-1].stem)} "
        "(those from 900000 on are of unseen styles, others for calibration); the same pictures "
        "and networks in each row. Networks were trained with every station in place, so what a "
        "row loses is an upper bound for rectification.",
        "tables": [
            {
                "head": ["without", *(w for w, _ in SHOWN), "bearing, mean error"],
                "rows": table,
            }
        ],
    }


def main() -> None:
    """Command line."""
    p = packed_parser(__doc__)
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    made = ablation(packed_pictures(a), a.models, a.workers)
    a.out.write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    for row in made["tables"][0]["rows"]:
        print(" | ".join(row))


if __name__ == "__main__":
    main()
