"""A small chart as SVG text: axes, lines, points with intervals, bars.

Self-contained SVG 1.1 that any browser and code-hosting page shows; no plotting library is worth
its hundred megabytes for six kinds of mark. Series differ by dash and marker, not by colour alone;
colours are Okabe and Ito's for colour-blind readers (2008, "Color universal design").
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
DASHES = ("", "7 3", "2 3", "9 3 2 3", "4 2", "1 4", "12 4")
LEFT, RIGHT, TOP, BOTTOM = 66, 24, 34, 44
LEGEND_STEP = 16
FONT = "font-family='system-ui, sans-serif'"

Point = tuple[float, float]


@dataclass
class Plot:
    """One chart; x and y limits in data units. Marks are clipped to the axes by the caller."""

    title: str
    x_label: str
    y_label: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    width: int = 460
    height: int = 320
    percent_x: bool = False
    percent_y: bool = False
    parts: list[str] = field(default_factory=list)
    names: list[tuple[str, int]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def at(self, x: float, y: float) -> Point:
        """Pixels of a data point."""
        (x0, x1), (y0, y1) = self.x_range, self.y_range
        w, h = self.width - LEFT - RIGHT, self.height - TOP - BOTTOM
        return LEFT + w * (x - x0) / (x1 - x0), TOP + h * (1 - (y - y0) / (y1 - y0))

    def line(self, points: Sequence[Point], name: str, series: int) -> None:
        """A line in a series' colour and dash."""
        if not points:
            return
        path = " ".join(f"{a:.1f},{b:.1f}" for a, b in (self.at(*p) for p in points))
        self.parts.append(
            f"<polyline points='{path}' fill='none' stroke='{_colour(series)}' stroke-width='2' "
            f"stroke-dasharray='{DASHES[series % len(DASHES)]}'/>"
        )
        self._name(name, series)

    def dots(
        self, points: Sequence[tuple[float, float, float, float]], name: str, series: int
    ) -> None:
        """Points (x, y, low, high) with their intervals."""
        for x, y, low, high in points:
            (a, b), (_, top), (_, foot) = self.at(x, y), self.at(x, high), self.at(x, low)
            self.parts.append(
                f"<path d='M{a:.1f} {top:.1f}V{foot:.1f}' stroke='{_colour(series)}'/>"
                + _marker(a, b, series)
            )
        if points:
            self._name(name, series)

    def bar(self, left: float, right: float, value: float, series: int = 0) -> None:
        """A bar from 0 to a value."""
        (a, top), (b, foot) = self.at(left, value), self.at(right, 0.0)
        self.parts.append(
            f"<rect x='{a:.1f}' y='{top:.1f}' width='{max(b - a - 1, 0.5):.1f}' "
            f"height='{foot - top:.1f}' fill='{_colour(series)}'/>"
        )

    def reference(self, first: Point, last: Point, name: str = "") -> None:
        """A thin grey line."""
        (a, b), (c, d) = self.at(*first), self.at(*last)
        self.parts.append(
            f"<path d='M{a:.1f} {b:.1f}L{c:.1f} {d:.1f}' stroke='#888' stroke-dasharray='3 3'/>"
        )
        if name:
            self.parts.append(_text(c - 4, d + 14, name, "end", "#666"))

    def note(self, words: str) -> None:
        """A line of words below the chart."""
        self.notes.append(words)

    def svg(self, x_ticks: Sequence[tuple[float, str]] | None = None) -> str:
        """The chart. `x_ticks`: (place, label) instead of numbers."""
        frame = [
            f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {self.width} {self._full()}' "
            f"width='{self.width}' height='{self._full()}' role='img' {FONT} font-size='12'>",
            f"<title>{escape(self.title)}</title>",
            f"<rect width='{self.width}' height='{self._full()}' fill='#fff'/>",
            _text(LEFT, 20, self.title, "start", "#111", "font-size='14' font-weight='600'"),
        ]
        (a, b), (c, d) = self.at(self.x_range[0], self.y_range[0]), self.at(*self._far())
        frame.append(f"<path d='M{a} {d}V{b}H{c}' fill='none' stroke='#333'/>")
        for x, label in x_ticks if x_ticks is not None else _ticks(self.x_range, self.percent_x):
            px, _ = self.at(x, self.y_range[0])
            frame += [f"<path d='M{px:.1f} {b}v4' stroke='#333'/>", _text(px, b + 17, label)]
        for y, label in _ticks(self.y_range, self.percent_y):
            _, py = self.at(self.x_range[0], y)
            frame += [
                f"<path d='M{a} {py:.1f}H{c}' stroke='#e4e4e4'/>",
                _text(a - 6, py + 4, label, "end"),
            ]
        frame.append(_text((a + c) / 2, b + 35, self.x_label))
        middle = (b + d) / 2
        frame.append(
            f"<text transform='translate(14 {middle:.0f}) rotate(-90)' text-anchor='middle' "
            f"fill='#222'>{escape(self.y_label)}</text>"
        )
        return "\n".join([*frame, *self.parts, *self._legend(), "</svg>"]) + "\n"

    def _far(self) -> Point:
        return self.x_range[1], self.y_range[1]

    def _full(self) -> int:
        lines = len(self.names) + len(self.notes)
        return self.height + LEGEND_STEP * lines + (6 if lines else 0)

    def _name(self, name: str, series: int) -> None:
        if name and (name, series) not in self.names:
            self.names.append((name, series))

    def _legend(self) -> list[str]:
        out = []
        for k, (name, series) in enumerate(self.names):
            y = self.height + LEGEND_STEP * k
            out += [
                f"<path d='M{LEFT} {y}h26' stroke='{_colour(series)}' stroke-width='2' "
                f"stroke-dasharray='{DASHES[series % len(DASHES)]}'/>",
                _marker(LEFT + 13, y, series),
                _text(LEFT + 34, y + 4, name, "start"),
            ]
        for k, words in enumerate(self.notes, len(self.names)):
            out.append(_text(LEFT, self.height + LEGEND_STEP * k + 4, words, "start"))
        return out


def _colour(series: int) -> str:
    return COLOURS[series % len(COLOURS)]


def _marker(x: float, y: float, series: int) -> str:
    """Circle, square or diamond by series."""
    fill = f"fill='{_colour(series)}'"
    if series % 3 == 0:
        return f"<circle cx='{x:.1f}' cy='{y:.1f}' r='3.5' {fill}/>"
    turn = "" if series % 3 == 1 else f" transform='rotate(45 {x:.1f} {y:.1f})'"
    return f"<rect x='{x - 3.2:.1f}' y='{y - 3.2:.1f}' width='6.4' height='6.4' {fill}{turn}/>"


def _text(
    x: float, y: float, words: str, anchor: str = "middle", colour: str = "#222", more: str = ""
) -> str:
    return (
        f"<text x='{x:.1f}' y='{y:.1f}' text-anchor='{anchor}' fill='{colour}' {more}>"
        f"{escape(words)}</text>"
    )


def _ticks(limits: tuple[float, float], percent: bool) -> list[tuple[float, str]]:
    """Five even ticks with labels."""
    low, high = limits
    places = [low + (high - low) * k / 4 for k in range(5)]
    return [(v, f"{100 * v:.3g} %" if percent else f"{v:.3g}") for v in places]
