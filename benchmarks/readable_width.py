"""How wide throat and rim must be to be read: the sample pictures made smaller step by step.

    python benchmarks/readable_width.py

Prints, per range of widths in photo pixels, how many of the carburettors whose part faces the
camera without a filter were answered, with the exact 95 % interval. part_width.NEEDED_PX is half
as much again as the width from which the share no longer rises.
"""

from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from scipy.stats import binomtest

from carbpair.settings import Settings
from carbpair.vision import judge, load_calibration, load_networks, read_carbs

FACTORS = (1, 0.8, 0.65, 0.5, 0.4, 0.32, 0.25, 0.2, 0.16, 0.12)
RANGES = {
    "throat": (0, 14, 20, 30, 40, 60, 90, 150, 1000),
    "rim": (0, 28, 40, 60, 90, 130, 200, 1000),
}
NOT_A_MATTER_OF_SIZE = ("filter_fitted", "edge_on", "facing_away", "out_of_frame")


def main() -> None:
    """Run over the samples."""
    folder = Settings().model_dir
    networks, calibration = load_networks(folder), load_calibration(folder)
    rows: dict[str, list[tuple[float, bool]]] = {part: [] for part in RANGES}
    for path in sorted((Path(__file__).parents[1] / "sample_images").glob("*.jpg")):
        picture = np.ascontiguousarray(cv2.imread(str(path))[..., ::-1])
        for factor in FACTORS:
            size = (round(picture.shape[1] * factor), round(picture.shape[0] * factor))
            small = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)
            for carb in read_carbs(small, networks, calibration):
                seen = judge(carb, calibration)
                for part, width, feature in (
                    ("throat", carb.throat_px, seen.flange_holes),
                    ("rim", carb.rim_px, seen.mark_bearing_deg),
                ):
                    if feature.reason not in NOT_A_MATTER_OF_SIZE:
                        rows[part].append((width, feature.value is not None))
    for part, edges in RANGES.items():
        for low, high in pairwise(edges):
            here = [answered for width, answered in rows[part] if low <= width < high]
            if here:
                share = binomtest(sum(here), len(here)).proportion_ci()
                print(f"{part} {low} to {high} px: {sum(here)} of {len(here)} answered, "
                      f"95 % {share.low:.2f} to {share.high:.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
