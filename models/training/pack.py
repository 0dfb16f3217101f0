"""Pack rendered shards as JPEG files and a truth file, in tar archives of a bounded size.

python -m training.pack --shards shards --out set --limit 600 --archive-mib 15
"""

from __future__ import annotations

import argparse
import io
import json
import pickle
import tarfile
from pathlib import Path
from typing import Any

import cv2
import numpy as np


def plain(value: Any) -> Any:
    """Truth as JSON can hold it: arrays as nested lists with two decimals."""
    if isinstance(value, np.ndarray):
        return np.round(value.astype(float), 2).tolist()
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, np.generic):
        return value.item()
    return value


def pack(shards: Path, out: Path, limit: int, archive_bytes: int, quality: int) -> int:
    """Write ``out``-0.tar, ``out``-1.tar ... of .jpg and .json; returns the number of pictures."""
    count = part = 0
    tar = None
    for path in sorted(shards.glob("*.pkl")):
        photos = np.load(str(path)[:-4] + ".photos.npy")
        for row, photo in zip(pickle.loads(path.read_bytes()), photos, strict=True):
            if count >= limit:
                break
            ok, jpg = cv2.imencode(".jpg", photo[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
            assert ok
            if tar is None or tar.offset + len(jpg) + 65536 > archive_bytes:
                if tar is not None:
                    tar.close()
                tar = tarfile.open(f"{out}-{part}.tar", "w")  # noqa: SIM115 - several in turn
                part += 1
            truth = json.dumps(
                plain({"seed": row["seed"], "carbs": row["carbs"]}), separators=(",", ":")
            ).encode()
            for name, data in (
                (f"{row['seed']:07d}.jpg", jpg.tobytes()),
                (f"{row['seed']:07d}.json", truth),
            ):
                info = tarfile.TarInfo(name)
                info.size = len(data)
                tar.addfile(info, io.BytesIO(data))
            count += 1
    if tar is not None:
        tar.close()
    return count


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--shards", type=Path, required=True)
    p.add_argument("--out", type=Path, required=True)
    p.add_argument("--limit", type=int, default=10**9)
    p.add_argument("--archive-mib", type=float, default=15)
    p.add_argument("--quality", type=int, default=92)
    a = p.parse_args()
    print(pack(a.shards, a.out, a.limit, int(a.archive_mib * 2**20), a.quality), "pictures packed")


if __name__ == "__main__":
    main()
