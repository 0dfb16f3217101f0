"""Every answer, and every reason for none, from made readings."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from carbpair.vision import rim
from carbpair.vision.bearing import BearingReading
from carbpair.vision.calibration import Calibration
from carbpair.vision.carb import CarbReading
from carbpair.vision.features import HANDS, CarbFeatures, judge
from carbpair.vision.flange import FlangeReading, Hole
from carbpair.vision.landmarks import KEYPOINTS
from carbpair.vision.locator import LocatedCarb
from tests.vision.views import Camera, blank, landmarks

FIXED = Calibration(
    holes_threshold=0.75,
    holes_unverified_threshold=0.9,
    hand_threshold=0.9,
    bowl_readable=0.3,
    chamber_threshold=0.9,
    filter_threshold=0.85,
    flange_readable=0.3,
    mark_threshold=0.8,
    frame_certainty=0.5,
    verdict_threshold=0.95,
)
"""Not the shipped file: these tests are about branches, not about tuning."""

CAMERA = Camera(10, 25)


def flange(
    count: int = 3, sure: float = 8.0, pattern: int | None = 3, whole: float = 0.95,
    against: float = 0.0,
) -> Any:  # fmt: skip
    logits = np.array([sure if n == count else 0.0 for n in (2, 3, 4)])
    lies = None if pattern is None else 30.0  # of three holes one above two
    return FlangeReading(logits, whole, (), pattern, np.eye(3), {count: against}, lies)


def reading(camera: Camera = CAMERA, scale: float = 0.5, **changed: Any) -> CarbReading:
    """A carb that is read in full; `marks` holds what its landmarks' answers change."""
    marks = landmarks(camera.project, **changed.pop("marks", {}))
    plain = CarbReading(
        located=LocatedCarb((500.0, 400.0, 900.0, 900.0), 0.95),
        crop=blank(scale),
        marks=marks,
        facing=0.8,
        flange=flange(),
        rim=rim.plane_of(marks),
        bearing=BearingReading(0.97, 0.01, 3.0, 2.0),
        bearing_logits=None,
        photo_size=(4000, 3000),
    )
    return replace(plain, **changed)


def test_a_carb_in_full_view() -> None:
    got = judge(reading(), FIXED)
    assert (got.flange_holes.value, got.flange_holes.status) == (3, "seen")
    assert got.flange_holes.distribution is not None
    assert sum(got.flange_holes.distribution.values()) == pytest.approx(1.0)
    assert (got.hole_layout.value, got.hole_layout.status) == ("one_above", "seen")
    assert got.bowl_hand.value == "right"
    assert got.mark_bearing_deg.value == 3.0
    assert got.mark_bearing_deg.interval_deg == pytest.approx((3 - 3.29, 3 + 3.29))
    assert got.mark_verdict.value == "faces_intake"
    assert got.chamber.value == "piston"
    assert got.filter_fitted.value is False


FITTED = {"filtered": 8.0}
UNCLEAR = {"filtered": 0.3}


@pytest.mark.parametrize(
    ("name", "changed", "blurred", "status", "reason"),
    [
        ("flange_holes", {"marks": FITTED}, False, "not_visible", "filter_fitted"),
        ("flange_holes", {"facing": 0.1}, False, "not_visible", "edge_on"),
        ("flange_holes", {"facing": -0.1}, False, "not_visible", "edge_on"),
        ("flange_holes", {"facing": -0.6}, False, "not_visible", "facing_away"),
        ("flange_holes", {"flange": None}, False, "not_visible", "edge_on"),
        ("flange_holes", {"photo_size": (700, 500)}, False, "not_visible", "out_of_frame"),
        ("flange_holes", {"scale": 8.0}, False, "not_visible", "too_small"),
        ("flange_holes", {"marks": {"flange_readable": 0.1}}, False, "not_visible", "occluded"),
        ("flange_holes", {"marks": {"flange_readable": 0.1}}, True, "not_visible", "blurred"),
        ("flange_holes", {"flange": flange(sure=1.0)}, False, "unsure", "low_confidence"),
        ("flange_holes", {"flange": flange(sure=1.0, whole=0.1)}, False, "unsure", "occluded"),
        ("flange_holes", {"flange": flange(pattern=4)}, False, "unsure",
         "holes_do_not_form_pattern"),
        ("flange_holes", {"flange": flange(pattern=4)}, True, "unsure", "blurred"),
        # 0.86: enough where the holes confirm it, not where too few were found
        ("flange_holes", {"flange": flange(sure=2.5, pattern=None)}, False, "unsure",
         "holes_unconfirmed"),
        # certain, but a plain hole stands where such a flange has none
        ("flange_holes", {"flange": flange(pattern=None, against=0.8)}, False, "unsure",
         "holes_do_not_form_pattern"),
        ("flange_holes", {"marks": UNCLEAR}, False, "unsure", "filter_unclear"),
        ("bowl_hand", {"marks": {"bowl_readable": 0.1}}, False, "unsure", "no_bowl_seen"),
        ("bowl_hand", {"marks": {"bowl_readable": 0.1}}, True, "not_visible", "occluded"),
        ("bowl_hand", {"marks": {"bowl_readable": 0.1, **FITTED}}, False, "not_visible",
         "occluded"),
        ("bowl_hand", {"marks": {"bowl_readable": 0.1}, "facing": -0.1}, False, "not_visible",
         "occluded"),
        ("bowl_hand", {"marks": {"bowl_readable": 0.1}, "rim": None}, False, "not_visible",
         "occluded"),
        ("bowl_hand", {"marks": {"bowl_readable": 0.1}, "scale": 4.0}, False, "not_visible",
         "occluded"),
        ("bowl_hand", {"marks": {"bowl_readable": 0.1}, "photo_size": (700, 500)}, False,
         "not_visible", "out_of_frame"),
        ("bowl_hand", {"marks": {"hand": (0.0, 0.0, 1.0)}}, False, "unsure", "low_confidence"),
        ("mark_bearing_deg", {"bearing": None}, False, "not_visible", "edge_on"),
        ("mark_bearing_deg", {"scale": 8.0}, False, "not_visible", "too_small"),
        ("mark_bearing_deg", {"bearing": BearingReading(0.2, 0.8, 0.0, 2.0)}, False,
         "not_visible", "mark_not_in_view"),
        ("mark_bearing_deg", {"bearing": BearingReading(0.2, 0.8, 0.0, 2.0)}, True,
         "not_visible", "blurred"),
        ("mark_bearing_deg",
         {"bearing": BearingReading(0.2, 0.8, 0.0, 2.0), "photo_size": (700, 500)}, False,
         "not_visible", "out_of_frame"),
        ("mark_bearing_deg", {"bearing": BearingReading(0.5, 0.3, 40.0, 2.0)}, False, "unsure",
         "low_confidence"),
        ("mark_verdict", {"bearing": BearingReading(0.5, 0.3, 40.0, 2.0)}, False, "unsure",
         "low_confidence"),
        ("mark_verdict", {"bearing": BearingReading(0.97, 0.01, 14.5, 3.0)}, False, "unsure",
         "near_tolerance"),
        ("mark_verdict", {"bearing": BearingReading(0.87, 0.1, 0.0, 2.0)}, False, "unsure",
         "low_confidence"),
        ("chamber", {"marks": {"diaphragm": 0.4}}, False, "unsure", "low_confidence"),
        ("filter_fitted", {"marks": UNCLEAR}, False, "unsure", "low_confidence"),
        ("filter_fitted", {"facing": -0.5}, False, "unsure", "facing_away"),
    ],
)  # fmt: skip
def test_every_reason(
    name: str, changed: dict[str, Any], blurred: bool, status: str, reason: str
) -> None:
    got = getattr(judge(reading(**changed), FIXED, blurred), name)
    assert (got.status, got.reason, got.value) == (status, reason, None)
    if status == "not_visible":
        assert (got.probability, got.distribution) == (None, None)


@pytest.mark.parametrize(
    ("marks", "name", "value"),
    [
        ({"diaphragm": 8.0}, "chamber", "diaphragm"),
        ({"filtered": 8.0}, "filter_fitted", True),
        ({"hand": (8.0, 0.0, 0.0)}, "bowl_hand", "left"),
        ({"hand": (0.0, 8.0, 0.0)}, "bowl_hand", "none"),
    ],
)
def test_other_values(marks: dict[str, Any], name: str, value: object) -> None:
    assert getattr(judge(reading(marks=marks), FIXED), name).value == value


@pytest.mark.parametrize("count", [2, 3, 4])
def test_each_hole_count(count: int) -> None:
    got = judge(reading(flange=flange(count, pattern=count)), FIXED)
    assert got.flange_holes.value == count


def test_a_count_that_the_holes_confirm_needs_less_certainty() -> None:
    assert judge(reading(flange=flange(sure=2.5)), FIXED).flange_holes.value == 3
    assert judge(reading(flange=flange(sure=4.0, pattern=None)), FIXED).flange_holes.value == 3
    assert judge(reading(flange=flange(sure=8.0, pattern=2)), FIXED).flange_holes.value is None


def test_a_doubtful_extra_hole_is_no_objection_to_a_certain_count() -> None:
    doubtful = flange(sure=8.0, pattern=None, against=0.4)
    assert judge(reading(flange=doubtful), FIXED).flange_holes.value == 3
    less_certain = flange(sure=2.5, pattern=None, against=0.4)
    assert judge(reading(flange=less_certain), FIXED).flange_holes.reason == "holes_unconfirmed"


@pytest.mark.parametrize(("apart", "value"), [(0.2, None), (0.3, 3)])
def test_a_hole_that_is_a_bolts_and_a_vents_confirms_nothing(apart: float, value: object) -> None:
    holes = tuple(
        Hole(0.0, 0.0, 3.0, kind, 0.9, plane)
        for kind, plane in (("bolt", (1.5, 0.0)), ("bolt", (-1.5, 0.0)), ("vent", (1.5, apart)))
    )
    got = judge(reading(flange=replace(flange(), holes=holes)), FIXED).flange_holes
    assert got.value == value
    assert got.reason == (None if value else "holes_unconfirmed")


@pytest.mark.parametrize(("whole", "value"), [(0.28, None), (0.32, 3)])
def test_where_a_hole_may_be_hidden_no_count_is_answered(whole: float, value: object) -> None:
    got = judge(reading(flange=flange(whole=whole)), FIXED).flange_holes
    assert got.value == value
    assert got.reason == (None if value else "occluded")


def test_a_turned_mark() -> None:
    got = judge(reading(bearing=BearingReading(0.97, 0.01, -90.04, 2.0)), FIXED)
    assert got.mark_bearing_deg.value == -90.0
    assert got.mark_verdict.value == "turned"


def test_a_mark_on_the_far_half_of_the_rim_needs_more() -> None:
    limits = replace(FIXED, mark_threshold=0.8, mark_threshold_far=0.9)
    for bearing, least in ((0.0, 0.8), (60.0, 0.8), (180.0, 0.9), (-130.0, 0.9)):
        for chance, status in ((least + 0.01, "seen"), (least - 0.01, "unsure")):
            read = BearingReading(chance, 0.01, bearing, 2.0)
            got = judge(reading(bearing=read), limits).mark_bearing_deg  # seen from the front
            assert (got.status, got.probability) == (status, chance), bearing


@pytest.mark.parametrize("name", ["rim_front", "rim_back", "rim_right", "rim_left"])
def test_no_bearing_where_it_is_not_sure_what_is_front(name: str) -> None:
    sure = reading()
    for certainty, status in ((0.81, "seen"), (0.79, "unsure")):
        refined = np.ones(12)
        refined[KEYPOINTS.index(name)] = certainty
        marks = replace(sure.marks, refined=refined)
        got = judge(replace(sure, marks=marks), replace(FIXED, frame_certainty=0.8))
        assert got.mark_bearing_deg.status == got.mark_verdict.status == status
        assert got.mark_bearing_deg.reason == (None if status == "seen" else "low_confidence")
        assert got.flange_holes.status == "seen"  # the flange's own points are as sure as before


def test_a_fitted_filter_does_not_hide_the_rest() -> None:
    got: CarbFeatures = judge(reading(marks=FITTED), FIXED)
    assert got.filter_fitted.value is True
    assert got.chamber.status == got.bowl_hand.status == got.mark_bearing_deg.status == "seen"


def test_hands_are_in_the_order_of_the_readers_answers() -> None:
    assert [name for name, _ in sorted(HANDS.items(), key=lambda x: x[1])] == [
        "left",
        "none",
        "right",
    ]


def test_an_empty_place_of_a_bowl_speaks_for_an_integral_one() -> None:
    got = judge(reading(marks={"bowl_readable": 0.05}), FIXED).bowl_hand
    assert (got.value, got.reason) == (None, "no_bowl_seen")
    assert got.distribution is not None
    assert max(got.distribution, key=lambda k: (got.distribution or {})[k]) == "none"
    assert sum(got.distribution.values()) == pytest.approx(1.0)
    beside = judge(reading(Camera(65, 25), marks={"bowl_readable": 0.05}), FIXED)
    assert beside.bowl_hand.reason == "occluded"  # from the side the carb hides its far side
    above = judge(reading(Camera(10, 70), marks={"bowl_readable": 0.05}), FIXED)
    assert above.bowl_hand.reason == "no_bowl_seen"
    # The same carb at the picture's edge: one of the two places is cut off.
    cut = reading(marks={"bowl_readable": 0.05}, photo_size=(700, 3000))
    assert judge(cut, FIXED).bowl_hand.status == "not_visible"


def test_on_vague_landmarks_nothing_is_answered() -> None:
    vague = reading()
    marks = replace(vague.marks, confidence=np.full(13, 0.6))
    got, sure = judge(replace(vague, marks=marks), FIXED), judge(vague, FIXED)
    for name in CarbFeatures.__dataclass_fields__:
        was, now = getattr(sure, name), getattr(got, name)
        assert was.status == "seen", name
        if name == "hole_layout":  # nothing is said of holes that were not counted
            assert (now.value, now.status, now.reason) == (None, "not_visible", "low_confidence")
            continue
        assert (now.value, now.status, now.reason) == (None, "unsure", "low_confidence"), name
        assert now.distribution == was.distribution, name


def test_how_holes_lie_needs_a_count_and_a_pattern_that_lies_plainly() -> None:
    half_way = replace(flange(), pattern_deg=45.0)  # between one above and one at a side
    got = judge(reading(flange=half_way), FIXED).hole_layout
    assert (got.value, got.status, got.reason) == (None, "unsure", "low_confidence")
    assert got.distribution is not None
    assert got.distribution["one_above"] == pytest.approx(got.distribution["one_aside"])
    unconfirmed = judge(reading(flange=flange(pattern=None, sure=12.0)), FIXED)
    assert unconfirmed.flange_holes.value == 3
    assert unconfirmed.hole_layout.reason == "holes_unconfirmed"
    covered = judge(reading(marks=FITTED), FIXED)
    assert covered.hole_layout.status == "not_visible"
    assert covered.hole_layout.reason == "filter_fitted"


@pytest.mark.parametrize(("out", "status"), [(1.8, "seen"), (1.6, "seen"), (1.35, "unsure")])
def test_four_holes_on_two_circles_may_be_two_bolts_and_two_vents(out: float, status: str) -> None:
    at = ((1.8, 0.0), (0.0, out), (-1.8, 0.0), (0.0, -out))
    found = tuple(Hole(0.0, 0.0, 1.0, "bolt", 0.9, plane) for plane in at)
    four = replace(flange(4, 12.0, 4), holes=found, pattern_deg=0.0)
    got = judge(reading(flange=four), FIXED).flange_holes
    assert got.status == status
    assert got.reason == (None if status == "seen" else "holes_do_not_form_pattern")
