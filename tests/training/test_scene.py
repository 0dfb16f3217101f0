"""The scene generator: deterministic, true to its own truth, and split for evaluation."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from models.training.scene import material, outline, style
from models.training.scene.camera import View, draw_view, look
from models.training.scene.carb import build_carb
from models.training.scene.cover import bearing_direction
from models.training.scene.material import Material
from models.training.scene.scene import Scene, build_scene
from models.training.scene.style import EVALUATION_OUTLINES, TRAINING_OUTLINES, Style, draw
from models.training.scene.truth import KEYPOINTS, carb_truth

from carbpair.geometry.angles import wrap_deg
from carbpair.vision.landmarks import KEYPOINTS as READER_KEYPOINTS


@pytest.fixture(scope="module")
def pair() -> Scene:
    return build_scene(4, carb_count=2)


def styles(count: int, evaluation: bool = False) -> list[Style]:
    return [draw(np.random.default_rng([seed, 1]), evaluation) for seed in range(count)]


def seen_all(scene: Scene, number: int) -> dict[str, np.ndarray]:
    return {k: np.ones(len(v), bool) for k, v in scene.carbs[number].surface.items()}


def ahead(scene: Scene, azimuth: float = 0.0, elevation: float = 30.0) -> View:
    a, e = np.radians(azimuth), np.radians(elevation)
    target = np.array([0.0, 0.0, 20.0])
    origin = target + 900 * np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    return View(origin, look(origin, target, 0.0), 1500.0, (500.0, 400.0), (1000, 800))


class TestScene:
    def test_a_seed_is_a_scene(self, pair: Scene) -> None:
        again = build_scene(4, carb_count=2)
        for field in fields(Scene):
            one, other = getattr(pair, field.name), getattr(again, field.name)
            if isinstance(one, np.ndarray):
                np.testing.assert_array_equal(one, other)
        for one, other in zip(pair.carbs, again.carbs, strict=True):
            assert one.style == other.style
            assert (one.y, one.filtered) == (other.y, other.filtered)
            for name, points in one.landmarks.items():
                np.testing.assert_array_equal(points, other.landmarks[name])

    def test_other_seeds_and_the_evaluation_side_are_other_scenes(self, pair: Scene) -> None:
        other, evaluation = build_scene(5, carb_count=2), build_scene(4, True, carb_count=2)
        assert other.carbs[0].style != pair.carbs[0].style
        assert evaluation.carbs[0].style != pair.carbs[0].style

    def test_the_mesh_is_sound(self, pair: Scene) -> None:
        assert pair.faces.max() < len(pair.vertices)
        assert np.isfinite(pair.vertices).all()
        assert np.linalg.norm(pair.normals, axis=1) == pytest.approx(
            np.ones(len(pair.normals)), abs=1e-3
        )
        for values, width in (
            (pair.colour, 3),
            (pair.roughness, 1),
            (pair.metallic, 1),
            (pair.uv, 2),
        ):
            assert values.size == width * len(pair.vertices)
        assert (pair.colour >= 0).all()
        assert (pair.colour <= 1).all()
        assert (pair.roughness > 0).all()
        assert (pair.roughness <= 1).all()
        # about 20 to 200 thousand triangles: a scene and not a stand-in
        assert 10_000 < len(pair.faces) < 400_000

    @pytest.mark.parametrize("count", [0, 1, 2, 3])
    def test_any_number_of_carbs(self, count: int) -> None:
        scene = build_scene(11, carb_count=count)
        assert len(scene.carbs) == count
        ys = [c.y for c in scene.carbs]
        assert ys == sorted(ys)
        assert sum(ys) == pytest.approx(0, abs=1e-6)
        assert bool(scene.negatives) == (count == 0)

    def test_a_chosen_case(self) -> None:
        two = styles(2)
        scene = build_scene(3, styles=two, filtered=(True, False))
        assert [c.style for c in scene.carbs] == two
        assert [c.filtered for c in scene.carbs] == [True, False]


class TestFlange:
    @pytest.mark.parametrize("count", [2, 3, 4])
    def test_bolt_holes_lie_on_the_handbooks_circle(self, count: int) -> None:
        # Equal-spaced coordinates in any engineer's handbook:
        # x = R cos(2πk/n + φ), y = R sin(2πk/n + φ)
        found = [s for s in styles(60) if s.hole_count == count and s.pattern_squash == 1.0]
        assert len(found) >= 5
        for s in found:
            radius = s.throat_radius * s.bolt_radius_ratio
            for k, (y, z) in enumerate(outline.bolt_positions(s)):
                turn = 2 * np.pi * k / count + np.radians(s.pattern_angle)
                assert (y, z) == pytest.approx((radius * np.cos(turn), radius * np.sin(turn)))

    def test_a_squashed_pattern_of_four_is_a_rectangle_on_the_circle(self) -> None:
        found = [s for s in styles(120) if s.pattern_squash < 1.0]
        assert found
        for s in found:
            p = outline.bolt_positions(s)
            radius = s.throat_radius * s.bolt_radius_ratio
            assert np.linalg.norm(p, axis=1) == pytest.approx(np.full(4, radius))
            assert p[0] + p[2] == pytest.approx([0, 0], abs=1e-9)
            assert p[1] + p[3] == pytest.approx([0, 0], abs=1e-9)
            sides = np.linalg.norm(np.roll(p, -1, 0) - p, axis=1)
            ratio = min(sides[0], sides[1]) / max(sides[0], sides[1])
            assert ratio == pytest.approx(s.pattern_squash)

    def test_bolts_leave_an_edge_and_vents_stay_clear_of_them(self) -> None:
        import cv2

        vents = 0
        for s in [*styles(60), *styles(30, True)]:
            edge = outline.flange_outline(s).astype(np.float32)
            hole = s.throat_radius * s.hole_radius_ratio
            for bolt in outline.bolt_positions(s):
                inside = cv2.pointPolygonTest(edge, (float(bolt[0]), float(bolt[1])), True)
                assert inside > hole, s.outline
            for vent in outline.vent_positions(s):
                vents += 1
                gap = np.linalg.norm(outline.bolt_positions(s) - vent, axis=1).min()
                assert gap > hole * (1 + s.vent_size)
                assert np.linalg.norm(vent) - hole * s.vent_size > s.throat_radius
        assert vents > 20

    def test_landmarks_carry_the_bolts(self) -> None:
        s = styles(1)[0]
        built = build_carb(s, np.random.default_rng(0), False)
        assert built.landmarks["bolts"][:, 1:] == pytest.approx(outline.bolt_positions(s))
        assert len(built.landmarks["bolts"]) == s.hole_count


class TestBearing:
    def test_90_degrees_is_the_viewers_left(self) -> None:
        # the viewer faces the intakes; +y is to his right
        assert bearing_direction(0) == pytest.approx([1, 0])
        assert bearing_direction(90) == pytest.approx([0, -1])
        assert bearing_direction(-90) == pytest.approx([0, 1])
        assert bearing_direction(180) == pytest.approx([-1, 0], abs=1e-12)

    def test_the_mark_stands_where_its_bearing_says(self) -> None:
        for s in styles(20):
            mark = build_carb(s, np.random.default_rng(0), False).landmarks["mark"][0]
            read = -np.degrees(np.arctan2(mark[1], mark[0]))
            assert abs(wrap_deg(float(read) - s.mark_bearing)) < 1e-6
            assert -180 < s.mark_bearing <= 180

    def test_a_mark_at_90_shows_on_the_left_of_the_picture(self) -> None:
        from dataclasses import replace

        two = [replace(s, mark_bearing=b) for s, b in zip(styles(2), (90.0, -90.0), strict=True)]
        scene = build_scene(3, styles=two, filtered=(False, False))
        view = ahead(scene)
        left = carb_truth(scene.carbs[0], view, seen_all(scene, 0))
        right = carb_truth(scene.carbs[1], view, seen_all(scene, 1))
        assert left["mark"][0] < left["keypoints"][0][0]
        assert right["mark"][0] > right["keypoints"][0][0]
        # and the carb with the smaller y stands on the left
        assert left["keypoints"][0][0] < right["keypoints"][0][0]


class TestTruth:
    def test_projection_by_hand(self) -> None:
        view = View(
            np.array([1000.0, 0, 0]),
            look(np.array([1000.0, 0, 0]), np.zeros(3), 0.0),
            800.0,
            (320.0, 240.0),
            (640, 480),
        )
        xy, depth = view.project(np.array([[0.0, 0, 0], [0, 50, 0], [0, 0, 50], [500, 50, 0]]))
        assert depth == pytest.approx([1000, 1000, 1000, 500])
        assert xy == pytest.approx(np.array([[320, 240], [360, 240], [320, 200], [400, 240]]))

    def test_a_crop_shows_the_same_points(self, pair: Scene) -> None:
        rng = np.random.default_rng(2)
        for _ in range(5):
            view = draw_view(pair, rng)
            points = np.concatenate([c.landmarks["rim"] for c in pair.carbs])
            whole, depth = view.project(points)
            crop, same = view.cropped(123.4, -56.7, 210.0, 384).project(points)
            assert same == pytest.approx(depth)
            assert crop == pytest.approx((whole - (123.4, -56.7)) * 384 / 210.0)

    def test_rotations_are_rotations(self, pair: Scene) -> None:
        rng = np.random.default_rng(7)
        for _ in range(30):
            r = draw_view(pair, rng).rotation
            assert r @ r.T == pytest.approx(np.eye(3), abs=1e-9)
            assert np.linalg.det(r) == pytest.approx(1.0)  # no view is a mirror image

    def test_truth_of_a_carb_in_view(self, pair: Scene) -> None:
        view = ahead(pair)
        got = carb_truth(pair.carbs[0], view, seen_all(pair, 0))
        s = pair.carbs[0].style
        assert got["keypoints"].shape == (len(KEYPOINTS), 2)
        assert KEYPOINTS == READER_KEYPOINTS
        x0, y0, x1, y1 = got["box"]
        for name in ("rim", "rim_front", "cap", "throat"):
            x, y = got["keypoints"][KEYPOINTS.index(name)]
            assert x0 <= x <= x1
            assert y0 <= y <= y1
        assert got["in_front"]
        assert got["in_frame"] == pytest.approx(1.0)
        assert got["facing"] > 0.7
        assert (got["flange_holes"], got["hand"]) == (s.hole_count, s.bowl_hand)
        assert all(v in (0.0, 1.0) for v in got["seen"].values())

    def test_from_behind_the_flange_does_not_face(self, pair: Scene) -> None:
        got = carb_truth(pair.carbs[0], ahead(pair, azimuth=180), seen_all(pair, 0))
        assert got["facing"] < -0.7

    def test_outside_the_picture_nothing_is_seen(self, pair: Scene) -> None:
        view = ahead(pair).cropped(-5000.0, 0.0, 200.0, 384)
        got = carb_truth(pair.carbs[0], view, seen_all(pair, 0))
        assert got["in_frame"] == 0
        assert max(got["seen"].values()) == 0

    def test_the_throat_points_turn_as_the_reader_expects(self, pair: Scene) -> None:
        from carbpair.vision.flange import facing
        from carbpair.vision.landmarks import Landmarks

        def marks(azimuth: float) -> Landmarks:
            truth = carb_truth(pair.carbs[0], ahead(pair, azimuth, 10), seen_all(pair, 0))
            return Landmarks(
                truth["keypoints"].astype(float), np.ones(13), 0, 0, np.zeros(3), 1, 1, 1
            )

        assert facing(marks(10)) > 0.8
        assert facing(marks(170)) < -0.8


class TestSplit:
    def test_outlines_are_disjoint(self) -> None:
        for count in (2, 3, 4):
            assert not set(TRAINING_OUTLINES[count]) & set(EVALUATION_OUTLINES[count])
        for s in styles(80):
            assert s.outline in TRAINING_OUTLINES[s.hole_count]
        for s in styles(80, True):
            assert s.outline in EVALUATION_OUTLINES[s.hole_count]

    def test_training_never_wears_an_evaluation_material(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        worn: set[str] = set()
        real = material.named

        def noted(rng: np.random.Generator, name: str) -> Material:
            worn.add(name)
            return real(rng, name)

        monkeypatch.setattr(material, "named", noted)
        for seed in range(8):
            build_scene(seed)
        for seed in range(300):
            draw(np.random.default_rng(seed))
        assert len(worn) > 20
        assert not worn & material.EVALUATION
        worn.clear()
        for seed in range(4):
            build_scene(seed, True)
        assert len(worn & material.EVALUATION) >= 5

    def test_marks_point_everywhere_and_mostly_to_the_intake(self) -> None:
        rng = np.random.default_rng(1)
        marks = np.array([style.draw_bearing(rng) for _ in range(4000)])
        assert marks.min() > -180
        assert marks.max() <= 180
        assert 0.35 < np.mean(np.abs(marks) < 15) < 0.65
        assert 0.05 < np.mean(np.abs(marks) > 165) < 0.25
        assert 0.10 < np.mean((np.abs(marks) > 40) & (np.abs(marks) < 140)) < 0.5
