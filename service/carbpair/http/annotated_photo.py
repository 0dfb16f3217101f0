"""A photo with its evidence as a ReportLab drawing: vectors over the picture, words beside."""

import io
from collections.abc import Mapping
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable

from carbpair.http.overlay import CarbOverlay, PhotoOverlay

# Okabe and Ito's palette, told apart by all kinds of colour vision; each with its own dashes.
STYLES: Mapping[str | None, tuple[str, list[int]]] = {
    "left": ("#0072B2", []),
    "right": ("#D55E00", [4, 2]),
    None: ("#000000", [1, 2]),
}
HAND = HexColor("#CC79A7")


class AnnotatedPhoto(Flowable):
    """Draws JPEG bytes `width` points wide; `size` is that of the pixels the overlay is in.

    `names` are the words for the positions left and right.
    """

    def __init__(
        self,
        jpeg: bytes,
        size: tuple[int, int],
        overlay: PhotoOverlay,
        width: float,
        names: Mapping[str, str],
    ) -> None:
        super().__init__()
        self._names = names
        self._jpeg, self._overlay = jpeg, overlay
        self._scale = width / size[0]
        self.width, self.height = width, size[1] * self._scale

    def wrap(self, *_available: float) -> tuple[float, float]:
        """Return the size in points."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw picture, then boxes, ellipses and points; image y runs down, PDF y up."""
        canvas: Any = self.canv
        canvas.drawImage(ImageReader(io.BytesIO(self._jpeg)), 0, 0, self.width, self.height)
        for carb in self._overlay.carbs:
            self._carb(canvas, carb)
        canvas.setStrokeColor(HAND)
        canvas.setDash([])
        for drawing in self._overlay.drawings:
            for x, y in drawing.points:
                canvas.circle(*self._at(x, y), 3)
            if drawing.box is not None:
                self._box(canvas, drawing.box)

    def _carb(self, canvas: Any, carb: CarbOverlay) -> None:
        colour, dashes = STYLES.get(carb.position, STYLES[None])
        canvas.setStrokeColor(HexColor(colour))
        canvas.setFillColor(HexColor(colour))
        canvas.setLineWidth(1.2)
        canvas.setDash(dashes)
        self._box(canvas, carb.box)
        canvas.setDash([])
        for ellipse in carb.ellipses:
            canvas.saveState()
            canvas.translate(*self._at(ellipse.x, ellipse.y))
            canvas.rotate(-ellipse.turn_deg)
            a, b = ellipse.half_a * self._scale, ellipse.half_b * self._scale
            canvas.ellipse(-a, -b, a, b)
            canvas.restoreState()
        for dot in carb.dots:
            # Hidden holes, placed by the pattern alone, are dashed; the mark is a small ring.
            canvas.setDash([] if dot.seen else [1, 1])
            canvas.circle(*self._at(dot.x, dot.y), max(2.0, dot.radius * self._scale))
        x, y = self._at(carb.box[0], carb.box[1])
        canvas.setFont("Body-Bold", 7)
        name = self._names.get(carb.position or "", "?")
        width = canvas.stringWidth(name, "Body-Bold", 7) + 4
        base = min(y, self.height - 9)
        canvas.rect(x, base, width, 9, stroke=0, fill=1)
        canvas.setFillColor(HexColor("#ffffff"))
        canvas.drawString(x + 2, base + 2, name)

    def _box(self, canvas: Any, box: tuple[float, float, float, float]) -> None:
        x, y = self._at(box[0], box[3])
        canvas.rect(x, y, (box[2] - box[0]) * self._scale, (box[3] - box[1]) * self._scale)

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return x * self._scale, self.height - y * self._scale
