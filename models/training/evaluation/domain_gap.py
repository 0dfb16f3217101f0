"""How far renders are from photographs: statistics, a classifier that tells them apart, features.

    python -m training.evaluation.domain_gap --renders DIR --photos DIR \\
        [--other DIR] [--backbone efficientnet_lite0.pth] --out evidence/domain_gap.json

Run from ``models/``. Photos: real ones from registry packages (training.assets.negatives); they
show other things than carburettors, so part of every difference is what is shown and not how it
was made. To see how much, `--other` takes a second set of renders (before a change, or of the
second renderer), and half of the photos are compared with the other half: the floor.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import sqrtm
from scipy.stats import ks_2samp
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import StratifiedKFold, cross_val_predict
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

from .image_statistics import square, statistics, table

Array = NDArray[np.float64]
LONG_SIDE = 1024
ROUNDS = 1000


def pictures(folder: Path, limit: int, seed: int = 0) -> list[NDArray[np.uint8]]:
    """Up to ``limit`` pictures, drawn evenly, each 1024 pixels on its longer side.

    Smaller ones are left out: enlarging would soften them, and this looks at softness.
    """
    files = sorted(f for f in folder.rglob("*") if f.suffix.lower() in (".jpg", ".jpeg", ".png"))
    order = np.random.default_rng(seed).permutation(len(files))
    out: list[NDArray[np.uint8]] = []
    for k in order:
        found = cv2.imread(str(files[k]), cv2.IMREAD_COLOR)
        if found is None or max(found.shape[:2]) < LONG_SIDE:
            continue
        s = LONG_SIDE / max(found.shape[:2])
        small = cv2.resize(found, None, fx=s, fy=s, interpolation=cv2.INTER_AREA)
        if min(small.shape[:2]) < 512:
            continue
        out.append(np.ascontiguousarray(small[..., ::-1]).astype(np.uint8))
        if len(out) == limit:
            break
    return out


def compare(names: Sequence[str], a: Array, b: Array) -> list[dict[str, Any]]:
    """Each number's medians with their bootstrap intervals, and the Kolmogorov distance."""
    rng = np.random.default_rng(0)
    out = []
    for k, name in enumerate(names):
        test = ks_2samp(a[:, k], b[:, k])
        row: dict[str, Any] = {"name": name, "distance": float(test.statistic)}
        for label, x in (("renders", a[:, k]), ("photos", b[:, k])):
            draws = np.median(x[rng.integers(len(x), size=(ROUNDS, len(x)))], axis=1)
            low, high = np.quantile(draws, [0.025, 0.975])
            row[label] = {
                "n": len(x),
                "median": float(np.median(x)),
                "interval95": [float(low), float(high)],
            }
        out.append(row)
    return out


def told_apart(a: Array, b: Array) -> dict[str, Any]:
    """Area under the ROC curve of a logistic regression, five-fold, with a bootstrap interval.

    0.5: cannot be told apart. The interval is over pictures, for the predictions as they are.
    """
    x = np.concatenate([a, b])
    y = np.r_[np.ones(len(a)), np.zeros(len(b))]
    model = make_pipeline(StandardScaler(), LogisticRegression(max_iter=2000, C=0.1))
    folds = StratifiedKFold(5, shuffle=True, random_state=0)
    p = cross_val_predict(model, x, y, cv=folds, method="predict_proba")[:, 1]
    rng = np.random.default_rng(0)
    draws = []
    for _ in range(ROUNDS):
        k = rng.integers(len(y), size=len(y))
        if 0 < y[k].sum() < len(k):
            draws.append(roc_auc_score(y[k], p[k]))
    low, high = np.quantile(draws, [0.025, 0.975])
    return {
        "auc": float(roc_auc_score(y, p)),
        "interval95": [float(low), float(high)],
        "n": [len(a), len(b)],
    }


def frechet(a: Array, b: Array) -> float:
    """Fréchet distance of two Gaussians fitted to features (Heusel et al. 2017, NeurIPS)."""
    mean = a.mean(0) - b.mean(0)
    ca, cb = np.cov(a, rowvar=False), np.cov(b, rowvar=False)
    root = sqrtm(ca @ cb)
    return float(mean @ mean + np.trace(ca + cb - 2 * np.real(root)))


def features(images: Sequence[NDArray[np.uint8]], weights: Path) -> Array:
    """Means over the picture of the backbone's last two feature maps, (N, 432)."""
    import torch

    from ..backbone import pretrained

    body = pretrained(weights).eval()
    out = []
    with torch.no_grad():
        for image in images:
            x = (square(image).astype(np.float32) - 127.0) / 128.0
            maps = body(torch.from_numpy(x.transpose(2, 0, 1)[None]))
            out.append(torch.cat([m.mean((2, 3)) for m in maps[-2:]], 1)[0].numpy())
    return np.array(out, float)


def words(x: dict[str, Any]) -> str:
    """A median or an area with interval and n."""
    if "auc" in x:
        low, high = x["interval95"]
        return f"{x['auc']:.3f} ({low:.3f}–{high:.3f}), n = {x['n'][0]} and {x['n'][1]}"
    low, high = x["interval95"]
    return f"{x['median']:.3g} ({low:.3g}–{high:.3g})"


def gap(
    renders: Sequence[NDArray[np.uint8]],
    photos: Sequence[NDArray[np.uint8]],
    other: Sequence[NDArray[np.uint8]],
    weights: Path | None,
) -> dict[str, Any]:
    """The tables of the evidence page."""
    names, a = table([statistics(p) for p in renders])
    _, b = table([statistics(p) for p in photos])
    rows = sorted(compare(names, a, b), key=lambda r: -float(r["distance"]))
    half = len(b) // 2
    apart = [
        ("renders from photographs", told_apart(a, b)),
        ("photographs from photographs (floor)", told_apart(b[:half], b[half:])),
    ]
    if other:
        _, c = table([statistics(p) for p in other])
        apart.insert(1, ("the other renders from photographs", told_apart(c, b)))
        apart.insert(2, ("renders from the other renders", told_apart(a, c)))
    tables = [
        {
            "title": "Picture statistics",
            "text": f"Medians over {len(a)} renders and {len(b)} photographs, 1024 pixels on the "
            "longer side, central 512 × 512; distance: Kolmogorov and Smirnov's, 0 to 1.",
            "head": ["number", "renders", "photographs", "distance"],
            "rows": [
                [r["name"], words(r["renders"]), words(r["photos"]), f"{r['distance']:.2f}"]
                for r in rows
            ],
        },
        {
            "title": "A classifier told to tell them apart, by these numbers",
            "text": "Logistic regression, area under the ROC curve, five-fold; 0.5 is chance.",
            "head": ["task", "area"],
            "rows": [[name, words(x)] for name, x in apart],
        },
    ]
    if weights is not None:
        fa, fb = features(renders, weights), features(photos, weights)
        n = min(len(fa), half)
        deep = [
            ["renders to photographs", f"{frechet(fa[:n], fb[:n]):.1f}", words(told_apart(fa, fb))],
            [
                "photographs to photographs (floor)",
                f"{frechet(fb[:n], fb[half : half + n]):.1f}",
                words(told_apart(fb[:half], fb[half:])),
            ],
        ]
        if other:
            fc = features(other, weights)
            m = min(n, len(fc))
            pair = [f"{frechet(fc[:m], fb[:m]):.1f} (n = {m})", words(told_apart(fc, fb))]
            deep.insert(1, ["the other renders to photographs", *pair])
        tables.append(
            {
                "title": "In the feature space of an ImageNet backbone",
                "text": f"EfficientNet-Lite0, last two stages, averaged. Fréchet distance with "
                f"{n} pictures a side; it grows when there are fewer, so read it beside its floor.",
                "head": ["sets", "Fréchet distance", "area of a classifier"],
                "rows": deep,
            }
        )
    return {
        "title": "Renders and photographs",
        "text": "The photographs come from registry packages and show other things than "
        "carburettors: what is shown and how it was made cannot be taken apart here.",
        "tables": tables,
    }


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--renders", type=Path, required=True)
    p.add_argument("--photos", type=Path, required=True)
    p.add_argument("--other", type=Path)
    p.add_argument("--backbone", type=Path)
    p.add_argument("--limit", type=int, default=300)
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    sets = [pictures(d, a.limit) if d else [] for d in (a.renders, a.photos, a.other)]
    made = gap(sets[0], sets[1], sets[2], a.backbone)
    a.out.write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    for part in made["tables"]:
        print(part["title"])
        for row in part["rows"]:
            print("  ", " | ".join(row))


if __name__ == "__main__":
    main()
