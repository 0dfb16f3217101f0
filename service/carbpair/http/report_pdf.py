"""The report as PDF, made with ReportLab."""

import io
import time
from collections.abc import Iterable, Iterator, Mapping
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
from carbpair.http.annotated_photo import AnnotatedPhoto
from carbpair.http.overlay import PhotoOverlay
from carbpair.http.report import FeatureRow, Report
from carbpair.http.wording import Wording

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
    wording: Wording,
) -> bytes:
    """Return the PDF (A4) in `wording`'s language; `images` are JPEG bytes by photo id."""
    _register_fonts()
    _ = wording.text
    buffer = io.BytesIO()
    page = _("Page")
    number = f"{_('Case')} {result.case.number}"
    document = SimpleDocTemplate(
        buffer, pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN,
        bottomMargin=MARGIN, title=f"{_('Report')}, {number}", author="carbpair",
        lang=wording.language,
    )  # fmt: skip
    story = [
        *_head(report, result, wording),
        *_photos(result, overlays, images, wording),
        *_rest(report, wording),
        *_stayed_english(wording),
    ]

    def footer(canvas: Canvas, _document: Any) -> None:
        canvas.setFont("Body", 7)
        canvas.setFillColor(colors.HexColor("#555555"))
        canvas.drawString(MARGIN, 10 * mm, number)
        canvas.drawRightString(A4[0] - MARGIN, 10 * mm, f"{page} {canvas.getPageNumber()}")

    document.build(story, onFirstPage=footer, onLaterPages=footer)
    return buffer.getvalue()


def _text(text: object, style: ParagraphStyle = BODY) -> Paragraph:
    return Paragraph(escape(str(text)).replace("\n", "<br/>"), style)


def _head(report: Report, result: CaseResult, wording: Wording) -> Iterator[Flowable]:
    _, said = wording.text, wording.sentence
    case = result.case
    kind = _("Advice before buying") if report.purchase else _("Report")
    yield _text(f"{kind}: {case.title}", TITLE)
    yield _text(f"{_('Case')} {case.number}, {wording.moment(time.time())}", SMALL)
    stated = [
        (_("Car"), case.car),
        (_("Engine"), case.engine),
        (_("Model year"), case.year),
        (_("Text on the tag"), case.tag_text),
    ]
    known = [f"{name}: {value}" for name, value in stated if value]
    if known:
        yield _text(f"{_('Car, as stated')}. {'; '.join(known)}")
    yield _text(_("Before anyone leans over the engine"), HEAD)
    for line in report.cautions:
        yield _text(f"• {said(line)}", SMALL)
    yield _text(_("Identification"), HEAD)
    yield _text(said(report.summary))
    for line in report.advice:
        yield _text(said(line))


def _photos(
    result: CaseResult,
    overlays: Mapping[str, PhotoOverlay],
    images: Mapping[str, bytes],
    wording: Wording,
) -> Iterator[Flowable]:
    if not result.photos:
        return
    yield _text(wording.text("Photos with evidence"), HEAD)
    sides = {side: wording.word("POSITIONS", side) for side in ("left", "right")}
    cells: list[list[Flowable]] = []
    for photo in result.photos:
        with Image.open(io.BytesIO(images[photo.id])) as opened:
            opened.thumbnail((PHOTO_SIDE, PHOTO_SIDE))
            small = io.BytesIO()
            opened.convert("RGB").save(small, "JPEG", quality=82)
        width = min(WIDTH / 2 - 3 * mm, MAX_PHOTO_HEIGHT * photo.width / photo.height)
        drawn = AnnotatedPhoto(
            small.getvalue(), (photo.width, photo.height), overlays[photo.id], width, sides
        )
        view, phase = wording.word("VIEWS", photo.view), wording.word("PHASES", photo.phase)
        cells.append([drawn, _text(f"{photo.ordinal}: {view}, {phase}", SMALL), Spacer(1, 2 * mm)])
    for index in range(0, len(cells), 2):
        row = cells[index : index + 2]
        yield Table([row], colWidths=[WIDTH / 2] * len(row), hAlign="LEFT")


def _rest(report: Report, wording: Wording) -> Iterator[Flowable]:
    _, said, word = wording.text, wording.sentence, wording.word
    yield _text(_("Features"), HEAD)
    heads = (_("Feature"), _("Left"), _("Right"))
    rows: list[list[Flowable]] = [[_text(name, SMALL) for name in heads]]
    for row in report.features:
        rows.append([_text(word("FEATURES", row.feature)), *_cells(row, wording)])
    yield Table(rows, colWidths=[WIDTH * 0.34, WIDTH * 0.33, WIDTH * 0.33], style=GRID)
    if report.candidates:
        yield _text(_("Candidates"), HEAD)
        listed = [
            [_text(wording.percent(one["probability"])), _text(said(one["name"]))]
            for one in report.candidates
        ]
        yield Table(listed, colWidths=[22 * mm, WIDTH - 22 * mm], style=GRID)
    yield from _lines("", map(said, report.inseparable))
    reasons = [f"{one['bits']:+.1f} {_('bits')}: {said(one['text'])}" for one in report.why]
    yield from _lines(_("Why, for the first candidate"), reasons)
    unused = [f"{said(one['message'])} {said(one['remedy'])}" for one in report.problems]
    yield from _lines(_("Could not be used"), unused)
    yield _text(_("Deviations"), HEAD)
    if not report.deviations:
        yield _text(_("None found in what was seen."))
    for one in report.deviations:
        carb = f" ({word('POSITIONS', one['carb'])})" if one.get("carb") else ""
        found = f"{_('Expected')}: {said(one['expected'])}. {_('Seen')}: {said(one['seen'])}. "
        meaning = f"{said(one['explanation'])} {said(one['action'])}"
        title = f"{word('SEVERITIES', one['severity'])}: {said(one['title'])}{carb}"
        yield KeepTogether([_text(title), _text(found + meaning, SMALL)])
    yield from _lines(_("Not checked"), map(said, report.not_checked))
    if report.verification is not None:
        items = [
            f"{word('RESULTS', one['result'])}: {said(one['item'])} "
            f"{word('POSITIONS', one['carb'] or 'pair')}. {_('Expected')}: "
            f"{said(one['expected'])}. {_('Seen')}: {said(one['seen'])} ({said(one['reason'])})"
            for one in report.verification["items"]
        ]
        yield from _lines(_("After reassembly"), items)
    if report.checks:
        yield _text(_("Checklist: confirm by hand"), HEAD)
        table = [
            [
                _text(word("OUTCOMES", check.outcome)),
                _text(said(check.item["title"])),
                _text(check.note, SMALL),
            ]
            for check in report.checks
        ]
        yield Table(table, colWidths=[24 * mm, WIDTH * 0.45, WIDTH * 0.55 - 24 * mm], style=GRID)
    if report.next_photo is not None:
        lines = [report.next_photo["title"], *report.next_photo["how"]]
        yield from _lines(_("The photo that would help most"), map(said, lines))
    yield from _lines(_("Notes"), map(said, report.notes))
    yield from _lines(_("Made with"), [f"{name}: {value}" for name, value in report.versions])


def _stayed_english(wording: Wording) -> Iterator[Flowable]:
    """Say so when something above has no translation."""
    if wording.unknown:
        yield _text(wording.text("What has no translation yet stands here in English."), SMALL)


def _cells(row: FeatureRow, wording: Wording) -> list[Flowable]:
    cells: list[Flowable] = []
    for held in (row.left, row.right):
        if held is None:
            cells.append(_text(wording.text("not found"), SMALL))
            continue
        detail = wording.word("STATUSES", held["status"])
        if held.get("probability") is not None:
            detail += f", {wording.percent(held['probability'])}"
        if held.get("reason"):
            detail += f"; {wording.word('REASONS', held['reason'])}"
        cells.append(_text(f"{wording.label(row.feature, held['value'])} ({detail})"))
    return cells


def _lines(title: str, lines: Iterable[str]) -> Iterator[Flowable]:
    listed = list(lines)
    if not listed:
        return
    if title:
        yield _text(title, HEAD)
    for line in listed:
        yield _text(f"• {line}", SMALL)


def _register_fonts() -> None:
    folder = Path(reportlab.__file__).parent / "fonts"
    for name, file in _FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))
