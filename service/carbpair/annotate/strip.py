"""The strip of words under an annotated photo: every reading, hiding nothing of the picture."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from carbpair.annotate.canvas import DASHED, DOTTED, SOLID, Canvas, font_of
from carbpair.annotate.carb_marks import SIDE_STYLE
from carbpair.annotate.palette import BLUISH_GREEN, DARK, REDDISH_PURPLE, WHITE, YELLOW
from carbpair.feature_text import ROWS, feature_words

SIZE = 11.0
"""Height of the letters, units."""

LEADING = 1.35


def strip_of(width: int, photo: Mapping[str, Any]) -> NDArray[np.uint8]:
    """RGB strip (h, width, 3) that tells a photo's readings, one column per carb."""
    unit = max(1.0, width / 500)
    carbs: Sequence[Mapping[str, Any]] = sorted(
        photo["carbs"], key=lambda carb: (carb["position"] or "~", carb["box"][0])
    )
    margin = 8 * unit
    count = max(1, len(carbs))
    column = (width - margin) / count
    if carbs:
        texts = [_lines(carb, column - margin, unit) for carb in carbs]
    else:
        texts = [[_wrap("No carburettor seen in this photo.", column - margin, unit)[0]]]
    step = SIZE * LEADING * unit
    rows = max(len(lines) for lines in texts)
    height = round(step * (rows + (2.6 if carbs else 1.2)))
    canvas = Canvas(np.full((height, width, 3), DARK, np.uint8))
    for index, lines in enumerate(texts):
        x, y = margin + index * column, 0.9 * step
        if carbs:
            _title(canvas, carbs[index], x, y)
            y += step
        for line in lines:
            canvas.text((x, y), line, WHITE, size=SIZE, anchor="lm")
            y += step
    if carbs:
        _legend(canvas, margin, height - 0.75 * step)
    return canvas.finished()


def _title(canvas: Canvas, carb: Mapping[str, Any], x: float, y: float) -> None:
    colour, style = SIDE_STYLE.get(carb["position"], SIDE_STYLE[None])
    sample = np.array([[x, y], [x + 26 * canvas.unit, y]])
    canvas.line(sample, colour, width=1.4, style=style)
    words = (carb["position"] or "side unknown").upper()
    canvas.text((x + 32 * canvas.unit, y), words, colour, size=SIZE + 1, anchor="lm")


def _lines(carb: Mapping[str, Any], width: float, unit: float) -> list[str]:
    found = []
    for name, label in ROWS:
        if name in carb["features"]:  # inspections of earlier versions lack some
            words = f"{label}: {feature_words(name, carb['features'][name])}"
            found.extend(_wrap(words, width, unit))
    return found


def _wrap(words: str, width: float, unit: float) -> list[str]:
    font = font_of(round(SIZE * unit))
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font.getlength(longer) > width:
            lines.append(f"   {word}")
        elif lines:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _legend(canvas: Canvas, x: float, y: float) -> None:
    unit, size = canvas.unit, 8.5
    entries = (
        ("bolt hole", BLUISH_GREEN, SOLID),
        ("hidden bolt hole", BLUISH_GREEN, DASHED),
        ("vent", REDDISH_PURPLE, DOTTED),
        ("mark on the cover", YELLOW, SOLID),
    )
    for words, colour, style in entries:
        canvas.circle((x + 4 * unit, y), 4 * unit, colour, width=0.9, style=style)
        x += 11 * unit
        canvas.text((x, y), words, WHITE, size=size, anchor="lm")
        x += font_of(round(size * unit)).getlength(words) + 12 * unit
