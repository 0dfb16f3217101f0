"""An identification and a verification as text that is read at a glance."""

from __future__ import annotations

from collections.abc import Iterator

from carbpair.identify.identification import Identification
from carbpair.identify.verification import Verification

BAR = 20
BRIEF_ROWS = 4
BRIEF_SHARE = 0.02
SIGNS = {"pass": "PASS       ", "fail": "FAIL       ", "cannot_see": "CANNOT SEE "}


def identification_text(held: Identification, full_checklist: bool = True) -> str:
    """Plain text: the answer first, cautions before the checklist, all steps in order."""
    return "\n".join(_lines(held, full_checklist))


def identification_brief(held: Identification) -> str:
    """A few lines for under an inspection: answer, candidates, deviations, next photo."""
    stamp = held.catalogue
    demo = " [demonstration: invented data; give yours with --catalogue]" if stamp.demo else ""
    lines = [f"Identification with {stamp.name}{demo}", f"  ANSWER: {held.answer or 'none'}"]
    lines.append(f"  {held.summary}")
    lines += [
        f"  {row.probability:6.1%} {row.id}: {row.name}"
        for row in held.candidates[:BRIEF_ROWS]
        if row.probability >= BRIEF_SHARE
    ]
    lines += [f"  = {group.text}" for group in held.inseparable if group.reason == "no_photo_can"]
    for deviation in held.deviations:
        carb = f" ({deviation.carb})" if deviation.carb else ""
        lines.append(f"  {deviation.severity.upper()}: {deviation.title}{carb}: {deviation.seen}")
    if held.next_photo is not None:
        lines.append(f"  Next photo: {held.next_photo.view.title}. {held.next_photo.why}")
    lines.append("  The whole advice with checklist: carbpair identify (state --car and --engine)")
    return "\n".join(lines)


def _lines(held: Identification, full: bool) -> Iterator[str]:
    stamp = held.catalogue
    demo = " [demonstration: invented data]" if stamp.demo else ""
    yield f"Catalogue: {stamp.name}, version {stamp.version}{demo}"
    yield ""
    yield f"ANSWER: {held.answer or 'none'}"
    yield f"  {held.summary}"
    for line in held.contradictions:
        yield f"  ! {line}"
    yield ""
    yield "Candidates"
    for row in held.candidates:
        filled = round(row.probability * BAR)
        yield f"  {row.probability:6.1%} {'█' * filled}{'·' * (BAR - filled)} {row.id}: {row.name}"
    for group in held.inseparable:
        yield f"  = {group.text}"
    if held.conformal_set is not None:
        named = ", ".join(held.conformal_set) or "none; unlike all that was calibrated on"
        yield f"  Not ruled out at {held.conformal_level:.0%}: {named}"
    if held.why:
        yield ""
        yield f"Why (bits for {' or '.join(held.why_for)}; minus speaks against)"
        for reason in held.why:
            yield f"  {reason.bits:+6.2f}  {reason.text}"
    yield ""
    yield "Deviations" if held.deviations else "Deviations: none found in what was seen"
    for deviation in held.deviations:
        carb = f" ({deviation.carb})" if deviation.carb else ""
        yield f"  {deviation.severity.upper()}: {deviation.title}{carb}"
        yield f"      expected {deviation.expected}; seen {deviation.seen}"
        yield f"      evidence: {deviation.evidence}"
        yield f"      {deviation.explanation}"
        yield f"      Do: {deviation.action}"
    if held.not_checked:
        yield "  Could not be checked: " + "; ".join(held.not_checked)
    if held.next_photo is not None:
        photo = held.next_photo
        yield ""
        yield f"Next photo: {photo.view.title}"
        yield f"  {photo.why}"
        yield from (f"  - {line}" for line in (*photo.advice, *photo.view.how))
    yield ""
    yield from _checklist(held, full)
    for advice in held.kits:
        yield ""
        yield f"Kit for {advice.pattern}: {advice.kind}. {advice.why}"
        for part in (*advice.kits, *advice.gaskets):
            yield f"  {part.quantity} × {part.number} {part.name}"
        yield from (f"  measure: {line}" for line in advice.measure_first)
        yield f"  {advice.confirm}"
    if held.notes:
        yield ""
        yield from (f"Note: {line}" for line in held.notes)


def _checklist(held: Identification, full: bool) -> Iterator[str]:
    yield "Confirm by hand"
    for number, item in enumerate(held.checklist):
        if item.id == "safety":
            yield f"  {item.title}:"
            yield from (f"    ! {line}" for line in item.how)
            continue
        yield f"  [ ] {number}. {item.title} ({item.minutes:g} min): {item.why}"
        if not full and item.reason == "never_in_photos":
            continue
        if item.tools:
            yield f"        tools: {', '.join(item.tools)}"
        yield from (f"        - {step}" for step in item.how)
        yield f"        good: {item.good}"
        if item.caution:
            yield f"        caution: {item.caution}"


def verification_text(held: Verification) -> str:
    """One line per item, then the whole."""
    lines = [f"Held against {held.against}"]
    for item in held.items:
        carb = f" ({item.carb})" if item.carb else ""
        lines.append(
            f"  {SIGNS[item.result]}{item.item}{carb}: expected {item.expected}; "
            f"seen {item.seen}; {item.reason}"
        )
    lines.append(f"Result: {held.result.replace('_', ' ')}")
    if held.result == "cannot_see":
        lines.append("What cannot be seen has not passed: look by hand or send another photo.")
    return "\n".join(lines)
