"""What the mark's further limits do: on either half of the rim, and for how sure its frame is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from carbpair.evaluate.intervals import share
from carbpair.evaluate.render_truth import mark_in_view, visible
from carbpair.evaluate.summary import share_words
from carbpair.geometry.angles import wrap_deg
from carbpair.vision.bearing import decode
from carbpair.vision.calibration import Calibration
from carbpair.vision.rim import faces_camera

LIMITS = (0.8, 0.85, 0.88, 0.9, 0.93, 0.95, 0.97)
FRAMES = (0.0, 0.6, 0.7, 0.8, 0.9, 0.95)
FAR_DEG = 15.0


@dataclass(frozen=True, slots=True)
class MarkCase:
    """One visible carb's bearing: error in degrees, and what its limits ask for."""

    error_deg: float
    probability: float
    in_view: bool
    near: bool
    frame: float


def mark_cases(rows: Sequence[dict[str, Any]]) -> list[MarkCase]:
    """The bearings of all visible carbs of raw readings, answered or not."""
    out = []
    for row in rows:
        for i, j in row["found"].items():
            t, c = row["truth"][i], row["carbs"][j]
            if not visible(t) or c["bearing_raw"] is None:
                continue
            b = decode(c["bearing_raw"], 1.0, 0.0)
            error = abs(wrap_deg(b.mean_deg - t["mark_bearing"]))
            near = c["rim"] is None or faces_camera(c["rim"], b.mean_deg)
            frame = c["marks"].frame_certainty
            out.append(MarkCase(error, b.probability, mark_in_view(t), near, frame))
    return out


def limit_lines(cases: Sequence[MarkCase], limits: Calibration) -> Iterator[str]:
    """By half of the rim and limit, then by the frame's certainty at the halves' own limits."""
    for words, near in (("near", True), ("far", False)):
        half = [c for c in cases if c.near is near]
        for limit in LIMITS:
            yield f"mark, {words} half, {limit}: {_words(half, [limit] * len(half), 0.0)}"
    own = [limits.mark_threshold if c.near else limits.mark_threshold_far for c in cases]
    for frame in FRAMES:
        yield f"mark, frame {frame}: {_words(cases, own, frame)}"


def _words(cases: Sequence[MarkCase], limits: Sequence[float], frame: float) -> str:
    said = [
        c
        for c, limit in zip(cases, limits, strict=True)
        if c.probability >= limit and c.frame >= frame
    ]
    shown = [c for c in said if c.in_view]
    answered = share(len(shown), sum(c.in_view for c in cases))
    off, far = (share(sum(bool(c.error_deg > FAR_DEG) for c in x), len(x)) for x in (shown, said))
    turned = sum(bool(c.error_deg > 150) for c in shown)
    return (
        f"answered of those in view {share_words(answered)}, of these beyond {FAR_DEG:g} degrees "
        f"{share_words(off)} (turned round {turned}), of all answers {share_words(far)}"
    )
