"""The whole line: photographs in, one inspection out.

photo bytes → upright image → located carbs → features → pair
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from carbpair import __version__
from carbpair.advice import advice_for
from carbpair.drawn_carb import DrawnCarb
from carbpair.geometry.ellipse import circle_image
from carbpair.geometry.homography import apply_homography
from carbpair.pair import (
    NAMES,
    Facing,
    PairReading,
    Position,
    Shot,
    Stance,
    assemble,
    bowl_side,
    contradictions,
    difference_hash,
    groups,
    opposed,
    place,
)
from carbpair.pair.position import Places
from carbpair.photo import Photo, PhotoError, Quality, assess_quality, load_photo, load_photo_bytes
from carbpair.settings import Settings
from carbpair.vision import (
    Calibration,
    CarbReading,
    Feature,
    judge,
    load_calibration,
    load_networks,
    model_hashes,
    read_carbs,
)
from carbpair.withheld_mark import mirrored_bearing, opposed_mark

SCHEMA = "carbpair/inspection/1"

Progress = Callable[[int, int, str], None]
Readings = dict[str, Feature]


@dataclass(frozen=True, slots=True)
class CarbInspection:
    """One carb in one photograph."""

    position: str | None
    box: tuple[float, float, float, float]
    score: float
    features: Readings
    evidence: dict[str, Any]
    widths: tuple[float, float] = (0.0, 0.0)
    """Throat and cover's rim in photo pixels, each along its longer axis."""

    def as_json(self) -> dict[str, Any]:
        """As the inspection's JSON has it."""
        return {
            "position": self.position,
            "box": [round(v, 1) for v in self.box],
            "score": round(self.score, 4),
            "widths_px": {"throat": round(self.widths[0], 1), "rim": round(self.widths[1], 1)},
            "features": {k: self.features[k].as_json() for k in NAMES},
            "evidence": self.evidence,
        }


@dataclass(frozen=True, slots=True)
class PhotoInspection:
    """One photograph: its quality and carbs, or why it could not be read."""

    file: str
    width: int | None = None
    height: int | None = None
    error: PhotoError | None = None
    notes: tuple[str, ...] = ()
    quality: Quality | None = None
    carbs: tuple[CarbInspection, ...] = ()
    fingerprint: int = 0

    def as_json(self) -> dict[str, Any]:
        """As the inspection's JSON has it."""
        return {
            "file": self.file,
            "width": self.width,
            "height": self.height,
            "error": self.error.as_json() if self.error else None,
            "notes": list(self.notes),
            "quality": self.quality.as_json() if self.quality else None,
            "carbs": [c.as_json() for c in self.carbs],
        }


@dataclass(frozen=True, slots=True)
class Inspection:
    """All photographs of one pair, and the pair."""

    photos: tuple[PhotoInspection, ...]
    pair: PairReading
    models: tuple[tuple[str, str], ...]

    def to_json(self) -> dict[str, Any]:
        """The object that `carbpair inspect --json` prints."""
        return {
            "schema": SCHEMA,
            "software": {"name": "carbpair", "version": __version__},
            "models": [{"name": n, "sha256": h} for n, h in self.models],
            "photos": [p.as_json() for p in self.photos],
            "pair": self.pair.as_json(),
            "identification": None,
        }


def inspect_photos(
    paths: Sequence[Path | str], settings: Settings | None = None, progress: Progress | None = None
) -> Inspection:
    """Inspect photographs of one pair. One that cannot be read is reported, the rest go on.

    Raises ModelError if the networks are missing.
    """
    settings = settings or Settings()
    limits = settings.photo_limits()
    sources = [(Path(p).name, lambda p=p: load_photo(Path(p), limits)) for p in paths]
    return _inspect(sources, settings, progress)


def inspect_bytes(
    photos: Sequence[tuple[str, bytes]],
    settings: Settings | None = None,
    progress: Progress | None = None,
    stated: Sequence[str | None] = (),
    drawn: Mapping[int, Sequence[DrawnCarb]] | None = None,
) -> Inspection:
    """Inspect photographs given as (name, bytes). As :func:`inspect_photos`.

    `stated`: for each photograph the carb, "left" or "right", that the sender says it shows close
    up, or None. It counts where one carb alone is found, whose place no picture of it can tell.
    `drawn` holds carburettors that a person drew, by the photograph's index: they are read there.
    """
    settings = settings or Settings()
    limits = settings.photo_limits()
    sources = [(n, lambda n=n, b=b: load_photo_bytes(b, n, limits)) for n, b in photos]
    return _inspect(sources, settings, progress, stated, drawn or {})


def _inspect(
    sources: Sequence[tuple[str, Callable[[], Photo]]],
    settings: Settings,
    progress: Progress | None,
    stated: Sequence[str | None] = (),
    drawn: Mapping[int, Sequence[DrawnCarb]] = MappingProxyType({}),
) -> Inspection:
    networks = load_networks(settings.model_dir)
    calibration = load_calibration(settings.model_dir)
    done: list[PhotoInspection] = []
    for i, (name, load) in enumerate(sources):
        if progress:
            progress(i, len(sources), name)
        try:
            photo = load()
        except PhotoError as error:
            done.append(PhotoInspection(name, error=error))
            continue
        boxes = [one.box for one in drawn.get(i, ())]
        carbs = read_carbs(photo.pixels, networks, calibration, boxes)
        side = stated[i] if i < len(stated) else None
        given = [one.position for one in drawn.get(i, ())]
        done.append(examine(photo, carbs, calibration, side, given))
    if progress:
        progress(len(sources), len(sources), "")
    return Inspection(tuple(done), pair_of(done, calibration), model_hashes(settings.model_dir))


def examine(
    photo: Photo,
    carbs: Sequence[CarbReading],
    calibration: Calibration,
    stated: str | None = None,
    given: Sequence[Position] = (),
) -> PhotoInspection:
    """Judge the carbs of one photograph and place them left and right, the first as `given`.

    A lone carb is at the `stated` place, if one is. Its bowl's side is then still not told: the
    sender may have mixed left and right up, which turns inboard into outboard and nothing else.
    """
    quality = assess_quality(photo.pixels)
    blurred = any(f.kind == "blur" for f in quality.findings)
    places = place([_stance(c) for c in carbs], given)
    out = [
        _carb(c, places.positions[i], places, calibration, photo.mirrored, blurred)
        for i, c in enumerate(carbs)
    ]
    against = opposed([_facing(c) for c in carbs])
    out = [_turned(c) if a else c for c, a in zip(out, against, strict=True)]
    if stated in ("left", "right") and len(out) == 1 and out[0].position is None:
        out = [replace(out[0], position=stated)]
    return PhotoInspection(
        photo.name,
        photo.width,
        photo.height,
        None,
        tuple(photo.notes),
        quality,
        tuple(out),
        difference_hash(photo.pixels),
    )


def _carb(
    reading: CarbReading,
    position: str | None,
    places: Places,
    calibration: Calibration,
    mirrored: bool,
    blurred: bool,
) -> CarbInspection:
    f = judge(reading, calibration, blurred)
    features = {
        "flange_holes": f.flange_holes,
        "hole_layout": f.hole_layout,
        "bowl_side": bowl_side(f.bowl_hand, position, places.reason, mirrored),
        "mark_bearing_deg": f.mark_bearing_deg,
        "mark_verdict": f.mark_verdict,
        "chamber": f.chamber,
        "filter_fitted": f.filter_fitted,
    }
    if mirrored and f.mark_bearing_deg.status != "not_visible":
        features["mark_bearing_deg"] = mirrored_bearing(f.mark_bearing_deg)
    return CarbInspection(
        position,
        reading.located.box,
        reading.located.score,
        features,
        _evidence(reading, features),
        (reading.throat_px, reading.rim_px),
    )


def _turned(carb: CarbInspection) -> CarbInspection:
    """A carb that faces against its neighbour: which of the two is read turned is not known."""
    marks = {n: opposed_mark(carb.features[n]) for n in ("mark_bearing_deg", "mark_verdict")}
    evidence = {**carb.evidence, "mark": None}
    return replace(carb, features={**carb.features, **marks}, evidence=evidence)


def _facing(reading: CarbReading) -> Facing:
    m = reading.marks
    front, right = (
        m.point(f"rim_{ahead}") - m.point(f"rim_{behind}")
        for ahead, behind in (("front", "back"), ("right", "left"))
    )
    axes = [
        (float(x), float(y)) for x, y in (front / reading.crop.scale, right / reading.crop.scale)
    ]
    return Facing(axes[0], axes[1], m.frame_certainty)


def _stance(reading: CarbReading) -> Stance:
    to_photo = reading.crop.to_photo
    m = reading.marks
    right = (m.point("rim_right") - m.point("rim_left")) / 2
    if reading.rim is not None:
        right = reading.rim.axes()[2]
    centre = to_photo(m.point("rim"))
    return Stance(
        (float(centre[0]), float(centre[1])),
        (float(right[0]), float(right[1])),
        reading.rim_px,
        reading.located.score,
    )


def _evidence(reading: CarbReading, features: Readings) -> dict[str, Any]:
    """Points and ellipses in photo pixels for the overlay."""
    s = reading.crop.scale
    to_photo = reading.crop.to_photo
    m = reading.marks
    evidence: dict[str, Any] = {
        "frame": None,
        "throat": None,
        "rim": None,
        "holes": [],
        "mark": None,
    }
    if reading.rim is not None:
        c, ux, uy = reading.rim.axes()
        evidence["frame"] = {
            "c": _xy(to_photo(c)),
            "ux": _xy(ux / s),
            "uy": _xy(uy / s),
            "uz": _xy(reading.rim.up / s),
        }
        evidence["rim"] = _ellipse(to_photo(c), ux / s, uy / s)
        bearing = features["mark_bearing_deg"]
        if bearing.value is not None:
            b = np.radians(float(bearing.value))
            at = apply_homography(reading.rim.homography, np.array([[np.cos(b), -np.sin(b)]]))[0]
            x, y = _xy(to_photo(at))
            evidence["mark"] = {"x": x, "y": y}
    if features["flange_holes"].status != "not_visible" and reading.flange is not None:
        right = (m.point("throat_right") - m.point("throat_left")) / 2
        down = (m.point("throat_down") - m.point("throat_up")) / 2
        evidence["throat"] = _ellipse(to_photo(m.point("throat")), right / s, down / s)
        for h in reading.flange.holes:
            x, y = _xy(to_photo(np.array([h.x, h.y])))
            evidence["holes"].append(
                {
                    "x": x,
                    "y": y,
                    "r": round(h.radius / s, 1),
                    "kind": h.kind,
                    "status": "seen",
                }
            )
    return evidence


def _ellipse(
    c: NDArray[np.float64], u: NDArray[np.float64], v: NDArray[np.float64]
) -> list[float] | None:
    try:
        return [round(x, 2) for x in circle_image(tuple(c), tuple(u), tuple(v)).as_tuple()]
    except ValueError:
        return None


def _xy(p: NDArray[np.float64]) -> list[float]:
    return [round(float(p[0]), 1), round(float(p[1]), 1)]


def pair_of(photos: Sequence[PhotoInspection], calibration: Calibration) -> PairReading:
    """Fuse the carbs of all readable photographs; repeated shots count once."""
    readable = [p for p in photos if p.error is None]
    shots: dict[int, list[PhotoInspection]] = {}
    for p, first in zip(readable, groups([p.fingerprint for p in readable]), strict=True):
        shots.setdefault(first, []).append(p)
    chosen = [max(same, key=lambda p: (len(p.carbs), p.width or 0)) for same in shots.values()]
    sides: dict[str, list[Readings]] = {"left": [], "right": []}
    loose = 0
    for p in chosen:
        for c in p.carbs:
            if c.position is None:
                loose += 1
            else:
                sides[c.position].append(c.features)
    thresholds = {
        "flange_holes": calibration.holes_threshold,
        "hole_layout": calibration.layout_threshold,
        "bowl_side": calibration.hand_threshold,
        "chamber": calibration.chamber_threshold,
        "filter_fitted": calibration.filter_threshold,
        "mark_verdict": calibration.verdict_threshold,
    }
    used = sum(bool(p.carbs) for p in chosen)
    taken = [
        Shot(p.file, "mirrored_exif" in p.notes, [(c.position, c.features) for c in p.carbs])
        for p in chosen
    ]
    return assemble(
        sides["left"],
        sides["right"],
        thresholds,
        used,
        loose,
        advice_for([c for p in chosen for c in p.carbs], loose),
        contradictions(taken),
    )
