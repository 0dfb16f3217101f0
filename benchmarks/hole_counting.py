"""Accuracy of counting bolt holes: ours beside the circle transform, on the same flanges.

    python benchmarks/hole_counting.py --pictures DIR --tune 100 [--json FILE]

DIR holds packed renders (picture and .json). The transform's settings are chosen on the first
`--tune` pictures by right minus wrong answers, everything is scored on the others. It is run twice:
on the whole photo by itself, and helped, on flanges rectified from the truth.
"""

import argparse
import itertools
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from hough import HoughSettings, count_holes, patch_of, whole_photo

from carbpair.evaluate.intervals import share
from carbpair.evaluate.photo_reading import read_photo
from carbpair.evaluate.render_truth import holes_in_view, photo_truth, throat_px, visible
from carbpair.evaluate.scored import scored
from carbpair.evaluate.summary import share_words
from carbpair.photo import PhotoLimits, load_photo
from carbpair.settings import default_model_dir

GRID = [
    HoughSettings(votes=votes, least=least)
    for votes, least in itertools.product((10, 13, 16, 19, 22, 26, 30), (0.12, 0.16, 0.2))
]
THROAT_VOTES = (25, 30, 35, 40, 45, 55, 70)
Answers = list[tuple[int, int | None]]


def flanges(path: Path) -> tuple[Any, list[dict[str, Any]]]:
    """Photo and the true carbs whose holes are all in view."""
    photo = load_photo(path)
    carbs = json.loads(path.with_suffix(".json").read_text())["carbs"]
    return photo, [c for c in carbs if visible(c) and holes_in_view(c)]


def helped(grey: np.ndarray, carb: dict[str, Any], settings: HoughSettings) -> int | None:
    """The transform's count on the flange that the truth rectifies."""
    k = np.asarray(carb["keypoints"], float)
    patch = patch_of(grey, k[7], (k[8] - k[9]) / 2, (k[11] - k[10]) / 2)
    return count_holes(patch, settings)


def alone(found: list[tuple[float, float, int]], carb: dict[str, Any]) -> int | None:
    """Its count for the throat nearest to the true one, if it is that throat."""
    centre, radius = np.asarray(carb["keypoints"], float)[7], throat_px(carb) / 2
    near = [(np.hypot(x - centre[0], y - centre[1]), n) for x, y, n in found]
    near = [(d, n) for d, n in near if d <= 0.6 * radius]
    return min(near)[1] if near else None


def tune(files: list[Path]) -> HoughSettings:
    """The settings with the most right minus wrong answers: first holes, then throats."""
    patches = []
    for path in files:
        photo, carbs = flanges(path)
        grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
        patches += [(grey, c) for c in carbs]

    def gain(said: Answers) -> int:
        return sum(1 if a == b else -1 for a, b in said if b is not None)

    def with_help(settings: HoughSettings) -> int:
        return gain([(c["flange_holes"], helped(g, c, settings)) for g, c in patches])

    def by_itself(settings: HoughSettings) -> int:
        said: Answers = []
        for path in files:
            photo, carbs = flanges(path)
            found = whole_photo(photo.pixels, settings) if carbs else []
            said += [(c["flange_holes"], alone(found, c)) for c in carbs]
        return gain(said)

    best = max(GRID, key=with_help)
    return max((replace(best, throat_votes=v) for v in THROAT_VOTES), key=by_itself)


def ours(path: Path, carbs: list[dict[str, Any]]) -> Answers:
    """Our count for each flange in view; a carb that was not found has no answer."""
    reading = read_photo(path, default_model_dir(), PhotoLimits())
    truth = photo_truth(path.name, carbs, (reading.width or 1, reading.height or 1))
    done = scored(truth, reading)
    out: Answers = []
    for i, carb in enumerate(truth.carbs):
        feature = None
        if i in done.matched:
            feature = reading.carbs[done.matched[i]].features["flange_holes"]
        value = feature.value if feature is not None and feature.status == "seen" else None
        out.append((int(carb.values["flange_holes"]), value))  # type: ignore[arg-type]
    return out


def row(name: str, said: Answers) -> dict[str, Any]:
    """Coverage and accuracy."""
    answered = [(a, b) for a, b in said if b is not None]
    return {
        "name": name,
        "answered": share(len(answered), len(said)),
        "right": share(sum(a == b for a, b in answered), len(answered)),
        "right_of_all": share(sum(a == b for a, b in answered), len(said)),
    }


def main() -> None:
    """Print and keep the table."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--pictures", type=Path, required=True)
    p.add_argument("--tune", type=int, default=100)
    p.add_argument("--limit", type=int)
    p.add_argument("--json", type=Path)
    a = p.parse_args()
    files = sorted(f for f in a.pictures.glob("*.jpg") if f.with_suffix(".json").is_file())
    settings = tune(files[: a.tune])
    test = files[a.tune : a.limit]
    answers: dict[str, Answers] = {
        "carbpair": [],
        "circle transform by itself": [],
        "circle transform, flange rectified from the truth": [],
    }
    first, second, third = answers.values()
    for path in test:
        photo, carbs = flanges(path)
        if not carbs:
            continue
        first += ours(path, carbs)
        grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
        found = whole_photo(photo.pixels, settings)
        second += [(c["flange_holes"], alone(found, c)) for c in carbs]
        third += [(c["flange_holes"], helped(grey, c, settings)) for c in carbs]
    rows = [row(name, said) for name, said in answers.items()]
    for r in rows:
        print(f"{r['name']:52s} answered {share_words(r['answered'])}")
        print(f"{'':52s} right {share_words(r['right'])}")
    if a.json:
        result = {
            "settings": settings.__dict__,
            "tuned_on": a.tune,
            "pictures": len(test),
            "rows": rows,
        }
        a.json.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
