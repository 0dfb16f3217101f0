"""One carb in one photograph: what the networks said, measured on the full-resolution picture.

The locator finds carbs, the reader confirms them and frames a close-up of each, the refiner finds
the landmarks again in it and confirms weak finds, and flange and rim are read there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbpair.vision import bearing, closeup, flange, landmarks, rim
from carbpair.vision.bearing import BearingReading
from carbpair.vision.calibration import Calibration
from carbpair.vision.confirmation import standing
from carbpair.vision.crop import Crop, cut, reader_input
from carbpair.vision.flange import FlangeReading
from carbpair.vision.halvings import Halvings
from carbpair.vision.landmarks import Landmarks
from carbpair.vision.locator import OVERLAP, LocatedCarb, hidden_by, locate, overlap
from carbpair.vision.network import Network
from carbpair.vision.rim import RimPlane

NO_BEARING: tuple[None, None] = (None, None)

INSIDE = 0.7
"""A find of which more than this lies in a drawn box, or the other way round, is that carb."""


@dataclass(frozen=True, slots=True)
class CarbReading:
    """Raw readings of one located carb; view pixels are those of `crop`, the close-up."""

    located: LocatedCarb
    crop: Crop
    marks: Landmarks
    facing: float
    flange: FlangeReading | None
    rim: RimPlane | None
    bearing: BearingReading | None
    bearing_logits: NDArray[np.float32] | None
    photo_size: tuple[int, int]

    def inside(self, points: NDArray[np.float64]) -> bool:
        """Whether view points (N, 2) all lie within the photograph."""
        p = self.crop.to_photo(points)
        w, h = self.photo_size
        return bool(((p >= 0) & (p <= (w, h))).all())

    @property
    def throat_px(self) -> float:
        """Diameter of the throat in photo pixels along its longer axis."""
        m = self.marks
        across = np.linalg.norm(m.point("throat_right") - m.point("throat_left"))
        along = np.linalg.norm(m.point("throat_up") - m.point("throat_down"))
        return float(max(across, along)) / self.crop.scale

    @property
    def rim_px(self) -> float:
        """Diameter of the cover's rim in photo pixels along its longer axis."""
        return rim.diameter(self.marks) / self.crop.scale


def read_carbs(
    pixels: NDArray[np.uint8],
    networks: dict[str, Network],
    calibration: Calibration,
    drawn: Sequence[tuple[float, float, float, float]] = (),
) -> list[CarbReading]:
    """Locate and read every carb of an upright RGB photograph (H, W, 3).

    The boxes in `drawn` (x0, y0, x1, y1) were drawn by a person: they come first, in their
    order, are read whatever the reader thinks of them, and take the place of finds they overlap.
    """
    picture = Halvings(pixels)
    given = [LocatedCarb(box, 1.0) for box in drawn]
    found_carbs = locate(picture, networks["locator"], calibration.locator_threshold)
    located = [*given, *(c for c in found_carbs if _is_new(c, given))]
    if not located:
        return []
    crops = [cut(picture, carb) for carb in located]
    maps, answers = networks["reader"].run(np.stack([reader_input(c) for c in crops]))
    read = [landmarks.decode(m, a) for m, a in zip(maps, answers, strict=True)]
    # What has no carb's landmarks is no carb: the reader confirms every find of the locator.
    kept = [
        i
        for i, (c, m) in enumerate(zip(located, read, strict=True))
        if i < len(given) or m.certainty >= calibration.least_certainty(c.score)
    ]
    if not kept:
        return []
    views = [closeup.cut(picture, crops[i], read[i]) for i in kept]
    finer = networks["refiner"].run(np.stack([closeup.refiner_input(v) for v in views]))[0]
    found = [
        closeup.refined(v, m, crops[i], read[i]) for i, v, m in zip(kept, views, finer, strict=True)
    ]
    scores = [located[i].score for i in kept]
    sure = standing(scores, found, calibration, sum(i < len(given) for i in kept))
    if not sure:
        return []
    kept = [kept[k] for k in sure]
    views, found = [views[k] for k in sure], [found[k] for k in sure]
    flanges = _read_flanges(views, found, networks["flange"], calibration)
    rims = [rim.plane_of(m) for m in found]
    bearings = _read_rims(views, rims, networks["rim"], calibration)
    return [
        CarbReading(
            located[k],
            v,
            m,
            flange.facing(m),
            flanges.get(i),
            rims[i],
            bearings.get(i, NO_BEARING)[0],
            bearings.get(i, NO_BEARING)[1],
            picture.size,
        )
        for i, (k, v, m) in enumerate(zip(kept, views, found, strict=True))
    ]


def _is_new(carb: LocatedCarb, given: list[LocatedCarb]) -> bool:
    """Whether a find is none of the drawn carbs; a person may draw more or less of one."""
    return all(
        overlap(carb.box, g.box) < OVERLAP and hidden_by(carb.box, g.box) < INSIDE for g in given
    )


def _read_flanges(
    views: list[Crop], found: list[Landmarks], network: Network, calibration: Calibration
) -> dict[int, FlangeReading]:
    planes = {
        i: h
        for i, m in enumerate(found)
        if flange.facing(m) > 0.05 and (h := flange.plane_of(m)) is not None
    }
    if not planes:
        return {}
    maps, answers = network.run(np.stack([flange.rectify(views[i], h) for i, h in planes.items()]))
    return {
        i: flange.decode(m, a, h, calibration.hole_peak)
        for (i, h), m, a in zip(planes.items(), maps, answers, strict=True)
    }


def _read_rims(
    views: list[Crop], planes: list[RimPlane | None], network: Network, calibration: Calibration
) -> dict[int, tuple[BearingReading, NDArray[np.float32]]]:
    """Bearings by carb, each on the plane of its rim's landmarks."""
    strips = {i: rim.unroll(views[i], p) for i, p in enumerate(planes) if p is not None}
    if not strips:
        return {}
    bins = network.run(np.stack(list(strips.values())))[0]
    temperature, sd = calibration.mark_temperature, calibration.bearing_sd_deg
    return {i: (bearing.decode(z, temperature, sd), z) for i, z in zip(strips, bins, strict=True)}
