"""The report as PDF, made with ReportLab."""

import io
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import reportlab
from PIL import Image
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    Flowable,
    KeepTogether,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from carbpair.cases.case_result import CaseResult
from carbpair.http import words
from carbpair.http.annotated_photo import AnnotatedPhoto
from carbpair.http.overlay import PhotoOverlay
from carbpair.http.report import FeatureRow, Report

MARGIN = 18 * mm
WIDTH = A4[0] - 2 * MARGIN - 12  # the frame pads 6 points on each side
# Longest side of a photo in the PDF, pixels: 200 per inch at full width, small enough to mail.
PHOTO_SIDE = 1400
MAX_PHOTO_HEIGHT = 110 * mm

# ReportLab brings these fonts; unlike the built-in ones they hold more than Latin-1.
_FONTS = {"Body": "Vera.ttf", "Body-Bold": "VeraBd.ttf"}
BODY = ParagraphStyle("body", fontName="Body", fontSize=9, leading=13)
SMALL = ParagraphStyle(
    "small", BODY, fontSize=7.5, leading=10.5, textColor=colors.HexColor("#444444")
)
TITLE = ParagraphStyle("title", BODY, fontName="Body-Bold", fontSize=17, leading=22)
HEAD = ParagraphStyle(
    "head", BODY, fontName="Body-Bold", fontSize=11.5, leading=15, spaceBefore=9, spaceAfter=3
)
GRID = TableStyle(
    [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.HexColor("#bbbbbb")),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ]
)


def report_pdf(
    report: Report,
    result: CaseResult,
    overlays: Mapping[str, PhotoOverlay],
    images: Mapping[str, bytes],
) -> bytes:
    """Return the PDF (A4, English); `images` are JPEG bytes by photo id."""
    _register_fonts()
    buffer = io.BytesIO()
    document = SimpleDocTemplate(
        buffer, pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN,
        bottomMargin=MARGIN, title=f"Report on case {result.case.number}", author="carbpair",
    )  # fmt: skip
    story = [*_head(report, result), *_photos(result, overlays, images), *_rest(report)]

    def footer(canvas: Canvas, _document: Any) -> None:
        canvas.setFont("Body", 7)
        canvas.setFillColor(colors.HexColor("#555555"))
        canvas.drawString(MARGIN, 10 * mm, f"Case {result.case.number}")
        canvas.drawRightString(A4[0] - MARGIN, 10 * mm, f"Page {canvas.getPageNumber()}")

    document.build(story, onFirstPage=footer, onLaterPages=footer)
    return buffer.getvalue()


def _text(text: object, style: ParagraphStyle = BODY) -> Paragraph:
    return Paragraph(escape(str(text)).replace("\n", "<br/>"), style)


def _head(report: Report, result: CaseResult) -> Iterator[Flowable]:
    case = result.case
    kind = "Advice before buying" if report.purchase else "Report"
    yield _text(f"{kind}: {case.title}", TITLE)
    made = datetime.now(UTC).strftime("%d %B %Y, %H:%M UTC")
    yield _text(f"Case {case.number}, made {made}", SMALL)
    said = [("Car", case.car), ("Engine", case.engine), ("Year", case.year), ("Tag", case.tag_text)]
    known = [f"{name}: {value}" for name, value in said if value]
    if known:
        yield _text("As stated. " + "; ".join(known))
    yield _text("Before anyone leans over the engine", HEAD)
    for line in report.cautions:
        yield _text(f"• {line}", SMALL)
    yield _text("Identification", HEAD)
    yield _text(report.summary)
    for line in report.advice:
        yield _text(line)


def _photos(
    result: CaseResult, overlays: Mapping[str, PhotoOverlay], images: Mapping[str, bytes]
) -> Iterator[Flowable]:
    if not result.photos:
        return
    yield _text("Photos with evidence", HEAD)
    cells: list[list[Flowable]] = []
    for photo in result.photos:
        with Image.open(io.BytesIO(images[photo.id])) as opened:
            opened.thumbnail((PHOTO_SIDE, PHOTO_SIDE))
            small = io.BytesIO()
            opened.convert("RGB").save(small, "JPEG", quality=82)
        width = min(WIDTH / 2 - 3 * mm, MAX_PHOTO_HEIGHT * photo.width / photo.height)
        drawn = AnnotatedPhoto(
            small.getvalue(), (photo.width, photo.height), overlays[photo.id], width
        )
        caption = f"{photo.ordinal}: {words.VIEWS[photo.view]}, {words.PHASES[photo.phase]}"
        cells.append([drawn, _text(caption, SMALL), Spacer(1, 2 * mm)])
    for index in range(0, len(cells), 2):
        row = cells[index : index + 2]
        yield Table([row], colWidths=[WIDTH / 2] * len(row), hAlign="LEFT")


def _rest(report: Report) -> Iterator[Flowable]:
    yield _text("Features", HEAD)
    rows: list[list[Flowable]] = [[_text(name, SMALL) for name in ("Feature", "Left", "Right")]]
    for row in report.features:
        rows.append([_text(words.FEATURES[row.feature]), *_cells(row)])
    yield Table(rows, colWidths=[WIDTH * 0.34, WIDTH * 0.33, WIDTH * 0.33], style=GRID)
    if report.candidates:
        yield _text("Candidates", HEAD)
        listed = [
            [_text(_share(one["probability"])), _text(one["name"])] for one in report.candidates
        ]
        yield Table(listed, colWidths=[22 * mm, WIDTH - 22 * mm], style=GRID)
    yield from _lines("", report.inseparable)
    if report.why:
        reasons = [f"{one['bits']:+.1f} bits: {one['text']}" for one in report.why]
        yield from _lines("Why (for the first candidate)", reasons)
    yield from _lines(
        "Could not be used", [f"{p['message']} {p['remedy']}" for p in report.problems]
    )
    yield _text("Deviations", HEAD)
    if not report.deviations:
        yield _text("None found in what was seen.")
    for one in report.deviations:
        carb = f" ({one['carb']})" if one.get("carb") else ""
        yield KeepTogether(
            [
                _text(f"{one['severity']}: {one['title']}{carb}", BODY),
                _text(f"Expected {one['expected']}; seen {one['seen']}. {one['explanation']} "
                      f"{one['action']}", SMALL),
            ]
        )  # fmt: skip
    yield from _lines("Not checked", report.not_checked)
    if report.verification is not None:
        items = [
            f"{words.RESULTS[one['result']]}: {one['item']} {one['carb'] or ''}: expected "
            f"{one['expected']}, seen {one['seen']} ({one['reason']})"
            for one in report.verification["items"]
        ]
        yield from _lines("After reassembly", items)
    if report.checks:
        yield _text("Checklist", HEAD)
        table = [
            [_text(words.OUTCOMES[row.outcome]), _text(row.item["title"]), _text(row.note, SMALL)]
            for row in report.checks
        ]
        yield Table(table, colWidths=[24 * mm, WIDTH * 0.45, WIDTH * 0.55 - 24 * mm], style=GRID)
    if report.next_photo is not None:
        lines = [report.next_photo["title"], *report.next_photo["how"]]
        yield from _lines("The photo that would help most", lines)
    yield from _lines("Notes", report.notes)
    yield from _lines("Made with", [f"{name}: {value}" for name, value in report.versions])


def _cells(row: FeatureRow) -> list[Flowable]:
    cells: list[Flowable] = []
    for held in (row.left, row.right):
        if held is None:
            cells.append(_text("not found", SMALL))
            continue
        status = words.STATUSES.get(held["status"], held["status"])
        reason = words.word("REASONS", held["reason"]) if held.get("reason") else ""
        line = words.value_label(row.feature, held["value"])
        detail = status if held.get("probability") is None else (
            f"{status}, {_share(held['probability'])}"
        )  # fmt: skip
        cells.append(_text(f"{line} ({detail}{'; ' + reason if reason else ''})"))
    return cells


def _share(probability: float) -> str:
    if probability > 0.99:
        return "> 99 %"
    return "< 1 %" if probability < 0.01 else f"{probability:.0%}".replace("%", " %")


def _lines(title: str, lines: Sequence[str]) -> Iterator[Flowable]:
    if not lines:
        return
    if title:
        yield _text(title, HEAD)
    for line in lines:
        yield _text(f"• {line}", SMALL)


def _register_fonts() -> None:
    folder = Path(reportlab.__file__).parent / "fonts"
    for name, file in _FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))
