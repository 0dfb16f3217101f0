"""Gather benchmark results as tables for models/EVIDENCE.md.

    python benchmarks/evidence.py --peers P.json --growth G.json --holes H.json \\
        --machine "two cores, busy" --out models/evidence/benchmark.json

Each of the three is optional; run `peers.py`, `growth.py` and `hole_counting.py` for them.
"""

import argparse
import json
from pathlib import Path
from typing import Any

from carbpair.evaluate.summary import share_words

Table = dict[str, Any]


def triple(value: list[float], digits: int) -> str:
    """A median with its interval."""
    middle, low, high = (f"{v:.{digits}f}" for v in value)
    return f"{middle} ({low}–{high})"


def peers_table(data: Any) -> Table:
    """Times beside peers."""
    text = (
        f"{data['photos']} JPEG photos of 12 megapixels, {data['rounds']} rounds in turn, "
        f"{data['machine']}. Median over photos with its 95 % bootstrap interval; the ratios are "
        "paired photo by photo. The detector's weights are random: it stands for what one small "
        "network costs, not for what it finds. Ours over decoding and networks: "
        f"{triple(data['ours_over_decoding_and_networks'], 2)}."
    )
    if data["left_out"]:
        text += f" Not installed: {', '.join(data['left_out'])}."
    rows = [[r["name"], triple(r["ms"], 0), triple(r["ours_over_it"], 2)] for r in data["rows"]]
    head = ["from bytes to result", "milliseconds", "ours over it"]
    return {"title": "Beside general-purpose peers", "text": text, "head": head, "rows": rows}


def growth_tables(data: Any) -> list[Table]:
    """Photos, megapixels, profile."""
    load = f"Load average {data['load']:.1f}; each row is one run in a fresh process, n = 1."
    counts = [[n, w, f"{s:.1f}", f"{1e3 * s / n:.0f}", f"{m:.0f}"] for n, w, s, m in data["counts"]]
    sizes = [[mp, n, f"{s:.2f}", f"{m:.0f}"] for mp, n, s, m in data["megapixels"]]
    profile = data["profile"]
    total = sum(profile["seconds"].values())
    stations = [
        [name, f"{1e3 * s / profile['photos']:.0f}", f"{100 * s / total:.0f} %"]
        for name, s in sorted(profile["seconds"].items(), key=lambda kv: -kv[1])
    ]
    return [
        {
            "title": "Many photos",
            "text": f"1.2 megapixels each. {load}",
            "head": ["photos", "workers", "seconds", "ms a photo", "peak MB (of one process)"],
            "rows": counts,
        },
        {
            "title": "Large photos",
            "text": "One worker; seconds a photo with the start of the process in it.",
            "head": ["megapixels", "photos", "seconds a photo", "peak MB"],
            "rows": sizes,
        },
        {
            "title": "Where the time goes",
            "text": f"{profile['photos']} photos of {profile['megapixels']} megapixels, one "
            "thread, warm.",
            "head": ["station", "ms a photo", "share"],
            "rows": stations,
        },
    ]


def holes_table(data: Any) -> Table:
    """Accuracy of hole counting."""
    rows = [
        [
            r["name"],
            share_words(r["answered"]),
            share_words(r["right"]),
            share_words(r["right_of_all"]),
        ]
        for r in data["rows"]
    ]
    return {
        "title": "Counting bolt holes",
        "text": f"Flanges with all holes in view on {data['pictures']} renders of the unseen "
        f"styles; the transform was tuned on {data['tuned_on']} others of them.",
        "head": ["counter", "answered", "right, of answers", "right, of all"],
        "rows": rows,
    }


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    for name in ("peers", "growth", "holes"):
        p.add_argument(f"--{name}", type=Path)
    p.add_argument("--machine", default="")
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    tables: list[Table] = []
    if a.peers:
        tables.append(peers_table(json.loads(a.peers.read_text())))
    if a.holes:
        tables.append(holes_table(json.loads(a.holes.read_text())))
    if a.growth:
        tables += growth_tables(json.loads(a.growth.read_text()))
    made = {"title": "Benchmarks", "text": a.machine, "tables": tables}
    a.out.write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
