"""Screw threads met in air flanges, with the figures a thread gauge and a drill confirm.

Unified threads follow ASME B1.1, Unified Inch Screw Threads (UN and UNR Thread Form);
metric ones ISO 261/ISO 965-1; the Whitworth form BS 84. Basic diameters are computed from
each standard's own formulas; the class 2B and 6H minor-diameter limits and the tap drills
are from memory of those standards' tables and are compared with the formulas in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass

INCH_MM = 25.4


@dataclass(frozen=True)
class Thread:
    """One designation; lengths in millimetres.

    ``minor_limits_mm`` are the limits of the internal thread's minor diameter (what a
    caliper or a drill shank feels inside a tapped hole); None where none are quoted.
    """

    designation: str
    major_mm: float
    pitch_mm: float
    flank_deg: float
    minor_limits_mm: tuple[float, float] | None
    tap_drill: str
    source: str
    check: str

    @property
    def basic_pitch_diameter_mm(self) -> float:
        """Basic pitch diameter: D − 0.6495 P (60°) or D − 0.6403 P (55°)."""
        return self.major_mm - (0.649519 if self.flank_deg == 60.0 else 0.640327) * self.pitch_mm

    @property
    def basic_minor_diameter_mm(self) -> float:
        """Basic minor diameter: D − 1.0825 P (60°) or D − 1.2807 P (55°)."""
        return self.major_mm - (1.082532 if self.flank_deg == 60.0 else 1.280654) * self.pitch_mm


def _inch(
    designation: str,
    major_in: float,
    per_inch: int,
    flank_deg: float,
    minor_in: tuple[float, float] | None,
    tap_drill: str,
    source: str,
    check: str,
) -> Thread:
    limits = None if minor_in is None else (minor_in[0] * INCH_MM, minor_in[1] * INCH_MM)
    return Thread(
        designation,
        major_in * INCH_MM,
        INCH_MM / per_inch,
        flank_deg,
        limits,
        tap_drill,
        source,
        check,
    )


_ASME = "ASME B1.1 (limits and drill from memory)"

THREADS: dict[str, Thread | None] = {
    "5/16-18 UNC": _inch(
        "5/16-18 UNC",
        0.3125,
        18,
        60.0,
        (0.252, 0.265),
        "letter F, 0.257 in (6.53 mm)",
        _ASME,
        "An 18-per-inch 60° gauge sits without light along the whole of a known-good bolt; a "
        "clean 5/16-18 UNC bolt turns in by hand for at least five turns without rocking. "
        "5/16 BSW also has 18 threads per inch but 55° flanks: a gauge that nearly fits proves "
        "nothing, and M8 (1.25 mm pitch) binds after two to three turns.",
    ),
    "1/4-20 UNC": _inch(
        "1/4-20 UNC",
        0.25,
        20,
        60.0,
        (0.196, 0.207),
        "number 7, 0.201 in (5.11 mm)",
        _ASME,
        "A 20-per-inch 60° gauge; a clean 1/4-20 UNC bolt turns in by hand for five turns.",
    ),
    "5/16-24 UNF": _inch(
        "5/16-24 UNF",
        0.3125,
        24,
        60.0,
        (0.267, 0.277),
        "letter I, 0.272 in (6.91 mm)",
        _ASME,
        "A 24-per-inch 60° gauge; a clean 5/16-24 UNF bolt turns in by hand for five turns.",
    ),
    "5/16-18 BSW": _inch(
        "5/16-18 BSW",
        0.3125,
        18,
        55.0,
        None,
        "6.5 mm (common practice, no source)",
        "BS 84 (from memory)",
        "An 18-per-inch 55° gauge; do not accept a 60° gauge of the same pitch.",
    ),
    "M8x1.25": Thread(
        "M8x1.25",
        8.0,
        1.25,
        60.0,
        (6.647, 6.912),
        "6.8 mm",
        "ISO 261, ISO 965-1 6H (limits from memory)",
        "A 1.25 mm 60° gauge; a clean M8 bolt turns in by hand for five turns.",
    ),
    "M6x1": Thread(
        "M6x1",
        6.0,
        1.0,
        60.0,
        (4.917, 5.153),
        "5.0 mm",
        "ISO 261, ISO 965-1 6H (limits from memory)",
        "A 1.0 mm 60° gauge; a clean M6 bolt turns in by hand for five turns.",
    ),
    "plain": None,
}
"""Designation → figures; ``plain`` is a drilled hole without a thread."""


def gauge_text(designation: str) -> str:
    """How to confirm ``designation`` with a gauge, with its figures in inches or millimetres."""
    thread = THREADS.get(designation)
    if thread is None:
        return "The holes are plain: a bolt passes through without turning."
    inch = "/" in designation
    unit = "in" if inch else "mm"
    scale = INCH_MM if inch else 1.0
    digits = 4 if inch else 2
    text = (
        f"{designation}: major diameter {thread.major_mm / scale:.{digits}f} {unit}, "
        f"pitch {thread.pitch_mm / scale:.{digits}f} {unit}"
    )
    if thread.minor_limits_mm is not None:
        low, high = (limit / scale for limit in thread.minor_limits_mm)
        text += f", inside a tapped hole {low:.3f} to {high:.3f} {unit}"
    return f"{text}; tap drill {thread.tap_drill}. {thread.check} Source: {thread.source}."
