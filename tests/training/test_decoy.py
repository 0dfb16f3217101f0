"""What is drawn about a rim to be mistaken for its mark, and what is true about it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from models.training.scene import decoy
from models.training.scene.carb import build_carb
from models.training.scene.decoy import (
    KINDS,
    NO_PARTNER,
    PARTNER_ANYWHERE,
    UNMARKED,
    build_decoys,
    mistakable,
)
from models.training.scene.scene import build_scene
from models.training.scene.style import Style, draw

from carbpair.geometry.angles import wrap_deg


def styles(count: int) -> list[Style]:
    return [draw(np.random.default_rng([seed, 1])) for seed in range(count)]


def bearing_of(points: np.ndarray) -> float:
    """Bearing (degrees) of the middle of points (N, 3) in the carb frame."""
    x, y, _ = points.mean(0)
    return float(-np.degrees(np.arctan2(y, x)))


def test_partner_marks_stand_anywhere_or_in_front_or_are_missing() -> None:
    rng = np.random.default_rng(5)
    drawn = [mistakable(rng, s) for s in styles(60) for _ in range(20)]
    without = sum(s.partner_bearing is None for s in drawn) / len(drawn)
    turned = sum(abs(s.partner_bearing or 0.0) > 15 for s in drawn) / len(drawn)
    bare = sum(s.mark_kind == "none" for s in drawn) / len(drawn)
    assert without == pytest.approx(NO_PARTNER, abs=0.04)
    assert bare == pytest.approx(UNMARKED, abs=0.03)
    assert turned == pytest.approx(PARTNER_ANYWHERE * 330 / 360, abs=0.05)


@pytest.mark.parametrize("kind", sorted(set(KINDS)))
def test_nothing_of_it_stands_on_the_cover(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decoy, "KINDS", (kind,))
    count = 0
    for k, style in enumerate(styles(40)):
        for mesh, slot in build_decoys(style, np.random.default_rng(k)):
            count += 1
            x, y, z = mesh.vertices.T
            # a coil or a leaning rod may reach over the edge, but not onto the cover
            over = (np.hypot(x, y) < 0.9 * style.rim_radius) & (z > style.rim_height)
            assert not over.any(), (k, slot)
    assert count > 60  # up to six about a cover


def test_the_partner_stands_where_its_bearing_says_below_the_cover() -> None:
    for k, style in enumerate(styles(20)):
        bearing = -170.0 + 17 * k
        shown = replace(style, partner_bearing=bearing)
        points = build_carb(shown, np.random.default_rng(0), False).surface["partner"]
        assert abs(wrap_deg(bearing_of(points) - bearing)) < 1e-6
        assert (points[:, 2] < style.rim_height).all()
        # at the rim's edge, where the cover's own mark would be
        assert np.linalg.norm(points[:, :2], axis=1) == pytest.approx(
            np.full(len(points), style.rim_radius + 1.5), abs=2.0
        )
        none = replace(style, partner_bearing=None)
        assert len(build_carb(none, np.random.default_rng(0), False).surface["partner"]) == 0


def test_a_mark_that_is_not_there_lies_inside_the_cover() -> None:
    style = replace(styles(1)[0], mark_kind="none")
    points = build_carb(style, np.random.default_rng(0), False).surface["mark"]
    assert (np.linalg.norm(points[:, :2], axis=1) < 1e-9).all()
    top = style.rim_height + style.rim_thickness
    assert ((points[:, 2] > style.rim_height) & (points[:, 2] < top)).all()


def test_decoys_leave_the_patterns_as_they_are() -> None:
    plain, more = build_scene(21, carb_count=2), build_scene(21, carb_count=2, decoys=True)
    again = build_scene(21, carb_count=2, decoys=True)
    np.testing.assert_array_equal(more.vertices, again.vertices)
    assert len(more.vertices) > len(plain.vertices)
    for one, other in zip(plain.carbs, more.carbs, strict=True):
        same = replace(
            other.style,
            partner_bearing=one.style.partner_bearing,
            mark_kind=one.style.mark_kind,
        )
        assert same == one.style
