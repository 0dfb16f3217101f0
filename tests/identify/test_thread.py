"""ASME B1.1, Unified Inch Screw Threads: figures of the 5/16-18 UNC and its neighbours.

Limits and drills are from memory of the standard's tables; they are held here against the
standard's own formulas, computed independently.
"""

import math

import pytest

from carbpair.identify.thread import INCH_MM, THREADS, gauge_text


def held(designation: str):
    thread = THREADS[designation]
    assert thread is not None
    return thread


@pytest.mark.parametrize(
    ("designation", "major_in", "per_inch"),
    [("5/16-18 UNC", 5 / 16, 18), ("1/4-20 UNC", 1 / 4, 20), ("5/16-24 UNF", 5 / 16, 24)],
)
def test_unified_basic_sizes(designation: str, major_in: float, per_inch: int) -> None:
    # ASME B1.1: H = (√3/2) P; pitch diameter D − 2·(3/8)H, internal minor D − 2·(5/8)H.
    thread, pitch = held(designation), 1 / per_inch
    height = math.sqrt(3) / 2 * pitch
    assert thread.major_mm / INCH_MM == pytest.approx(major_in)
    assert thread.pitch_mm / INCH_MM == pytest.approx(pitch)
    assert thread.basic_pitch_diameter_mm / INCH_MM == pytest.approx(
        major_in - 2 * 3 / 8 * height, abs=1e-5
    )
    assert thread.basic_minor_diameter_mm / INCH_MM == pytest.approx(
        major_in - 2 * 5 / 8 * height, abs=1e-5
    )


@pytest.mark.parametrize("designation", ["5/16-18 UNC", "1/4-20 UNC", "5/16-24 UNF"])
def test_class_2b_minor_limits(designation: str) -> None:
    # ASME B1.1, class 2B, D ≥ 1/4 in: minor-diameter tolerance 0.25 P − 0.4 P² (inches; from
    # memory). The tables print these limits to 0.001 in.
    thread = held(designation)
    pitch = thread.pitch_mm / INCH_MM
    low = thread.basic_minor_diameter_mm / INCH_MM
    assert thread.minor_limits_mm is not None
    assert thread.minor_limits_mm[0] / INCH_MM == pytest.approx(low, abs=6e-4)
    assert thread.minor_limits_mm[1] / INCH_MM == pytest.approx(
        low + 0.25 * pitch - 0.4 * pitch**2, abs=6e-4
    )


def test_5_16_unc_as_printed_in_the_standard() -> None:
    # From memory of ASME B1.1 table 2: basic pitch diameter 0.2764, minor 0.252 to 0.265.
    thread = held("5/16-18 UNC")
    assert round(thread.basic_pitch_diameter_mm / INCH_MM, 4) == 0.2764
    text = gauge_text("5/16-18 UNC")
    for figure in (
        "0.3125 in",
        "0.0556 in",
        "0.252 to 0.265 in",
        "letter F, 0.257 in",
        "ASME B1.1",
    ):
        assert figure in text


@pytest.mark.parametrize(("designation", "drill_mm"), [("5/16-18 UNC", 6.53), ("M8x1.25", 6.8)])
def test_the_tap_drill_lies_within_the_minor_limits(designation: str, drill_mm: float) -> None:
    limits = held(designation).minor_limits_mm
    assert limits is not None
    assert limits[0] <= drill_mm <= limits[1]


def test_iso_metric_m8() -> None:
    # ISO 724: D1 = D − 1.0825 P; M8: 6.647 mm. ISO 965-1, 6H: 6.912 mm (from memory).
    assert held("M8x1.25").basic_minor_diameter_mm == pytest.approx(6.647, abs=5e-4)


def test_whitworth_of_the_same_pitch_is_warned_about() -> None:
    # BS 84: 5/16 BSW also has 18 threads per inch, with 55° flanks.
    assert held("5/16-18 BSW").pitch_mm == held("5/16-18 UNC").pitch_mm
    assert held("5/16-18 BSW").flank_deg != held("5/16-18 UNC").flank_deg
    assert "BSW" in gauge_text("5/16-18 UNC")


def test_plain_holes_have_no_gauge() -> None:
    assert "plain" in gauge_text("plain")
