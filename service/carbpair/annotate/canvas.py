"""Lines, circles and words with a dark halo, so that they show on bright and dark ground."""

import math
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from carbpair.annotate.palette import DARK, Colour

Point = tuple[float, float]
Points = NDArray[np.float64]

_SHIFT = 4  # OpenCV takes sub-pixel positions as integers with this many binary digits

SOLID = ()
DASHED = (2.6, 2.4)
DOTTED = (0.8, 1.6)
"""Lengths of stroke and gap in line widths times two."""

MIN_DASHES = 9
"""A closed line shows at least so many dashes, however short it is."""


class Canvas:
    """An RGB picture (H, W, 3) to draw on. `unit` is one 500th of its width, in pixels."""

    def __init__(self, pixels: NDArray[np.uint8]) -> None:
        self.pixels = np.ascontiguousarray(pixels).copy()
        self.unit = max(1.0, self.pixels.shape[1] / 500)
        self._words: list[tuple[Point, str, Colour, int, str]] = []

    def line(
        self,
        points: Points,
        colour: Colour,
        *,
        closed: bool = False,
        width: float = 1.0,
        style: tuple[float, ...] = SOLID,
    ) -> None:
        """Draw a polyline (N, 2) in image coordinates; `width` in units."""
        path = np.concatenate([points, points[:1]]) if closed else np.asarray(points)
        least = MIN_DASHES if closed else 1
        pieces = [path] if not style else _dashes(path, style, 2 * width * self.unit, least)
        thick = max(1, round(width * self.unit))
        halo = thick + max(2, round(0.9 * self.unit))
        for stroke, tone in ((halo, DARK), (thick, colour)):
            cv2.polylines(
                self.pixels,
                [_fixed(piece) for piece in pieces],
                isClosed=False,
                color=tone,
                thickness=stroke,
                lineType=cv2.LINE_AA,
                shift=_SHIFT,
            )

    def circle(
        self,
        centre: Point,
        radius: float,
        colour: Colour,
        *,
        width: float = 1.0,
        style: tuple[float, ...] = SOLID,
    ) -> None:
        """Draw a circle; `radius` in pixels."""
        turn = np.linspace(0, 2 * np.pi, 73)[:-1]
        ring = np.stack([np.cos(turn), np.sin(turn)], axis=1) * radius + centre
        self.line(ring, colour, closed=True, width=width, style=style)

    def arrow(self, start: Point, end: Point, colour: Colour, *, width: float = 1.0) -> None:
        """Draw a line with an open head at its end."""
        self.line(np.array([start, end], dtype=np.float64), colour, width=width)
        length = math.dist(start, end)
        head = min(0.35 * length, 7 * width * self.unit)
        along = math.atan2(start[1] - end[1], start[0] - end[0])
        wings = [
            (end[0] + head * math.cos(along + side), end[1] + head * math.sin(along + side))
            for side in (-0.45, 0.45)
        ]
        self.line(np.array([wings[0], end, wings[1]], dtype=np.float64), colour, width=width)

    def text(
        self, at: Point, words: str, colour: Colour, *, size: float = 12.0, anchor: str = "mm"
    ) -> None:
        """Write one line with a halo, kept inside the picture.

        `size` in units; `anchor` as Pillow names it ("mm": `at` is the middle).
        """
        self._words.append((at, words, colour, round(size * self.unit), anchor))

    def finished(self) -> NDArray[np.uint8]:
        """Return the picture with all words, which lie above all lines."""
        image = Image.fromarray(self.pixels)
        draw = ImageDraw.Draw(image)
        halo = max(2, round(0.8 * self.unit))
        for at, words, colour, height, anchor in self._words:
            font = font_of(height)
            left, top, right, bottom = draw.textbbox(
                at, words, font, anchor=anchor, stroke_width=halo
            )
            dx = max(0.0, -left) - max(0.0, right - image.width)
            dy = max(0.0, -top) - max(0.0, bottom - image.height)
            draw.text(
                (at[0] + dx, at[1] + dy),
                words,
                fill=colour,
                font=font,
                anchor=anchor,
                stroke_width=halo,
                stroke_fill=DARK,
            )
        return np.array(image)


@lru_cache(maxsize=8)
def font_of(size: int) -> ImageFont.FreeTypeFont:
    """Pillow's built-in outline font at `size` pixels."""
    font = ImageFont.load_default(max(8, size))
    if not isinstance(font, ImageFont.FreeTypeFont):
        raise RuntimeError("this Pillow was built without FreeType; install the ordinary wheel")
    return font


def _fixed(points: Points) -> NDArray[np.int32]:
    # Our pixel centres lie at +0.5, OpenCV's at whole numbers.
    fixed = np.rint((np.asarray(points) - 0.5) * 2**_SHIFT)
    return np.asarray(fixed.reshape(-1, 1, 2), dtype=np.int32)


def _dashes(path: Points, style: tuple[float, ...], scale: float, least: int) -> list[Points]:
    steps = np.hypot(*np.diff(path, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    total = float(at[-1])
    stroke, gap = (max(1.0, part * scale) for part in style)
    # Whole periods, so that a closed line shows no seam.
    period = total / max(least, round(total / (stroke + gap)))
    pieces = []
    for start in np.arange(0.0, total - 1e-6, period):
        end = start + period * stroke / (stroke + gap)
        inner = at[(at > start) & (at < end)]
        along = np.concatenate([[start], inner, [min(end, total)]])
        pieces.append(
            np.stack([np.interp(along, at, path[:, 0]), np.interp(along, at, path[:, 1])], axis=1)
        )
    return pieces
