"""The second renderer's own arithmetic; with bpy installed, also where it draws things."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("mapbox_earcut")

from models.training.cross_render import CyclesRenderer, blender_environment, save, weld
from models.training.scene.camera import View, look
from models.training.scene.scene import Scene, build_scene

SIDE = 400.0


@pytest.fixture(scope="module")
def scene() -> Scene:
    return build_scene(950000, evaluation=True)


@pytest.fixture(scope="module")
def cycles() -> CyclesRenderer:
    pytest.importorskip("bpy")
    return CyclesRenderer()


def plate(scene: Scene, at: np.ndarray, side: float) -> Scene:
    """A grey square that faces up, centred at ``at``, without dirt."""
    corners = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * side / 2 + at
    return replace(
        scene,
        vertices=corners.astype(np.float32),
        normals=np.tile(np.float32([0, 0, 1]), (4, 1)),
        faces=np.array([[0, 1, 2], [0, 2, 3]], np.uint32),
        colour=np.full((4, 3), 0.5, np.float32),
        roughness=np.ones(4, np.float32),
        metallic=np.zeros(4, np.float32),
        uv=np.zeros((4, 2), np.float32),
        dirt=0.0,
    )


def test_weld_moves_no_face_and_leaves_no_double(scene: Scene) -> None:
    keep, faces = weld(scene)
    assert len(keep) < len(scene.vertices)
    corners = scene.vertices[scene.faces.astype(int)]
    a, b, c = (corners[:, i] for i in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2
    welded = scene.vertices[keep][faces]
    d, e, f = (welded[:, i] for i in range(3))
    again = np.linalg.norm(np.cross(e - d, f - d), axis=1).sum() / 2
    assert again == pytest.approx(area, rel=1e-4)
    rows = np.c_[scene.vertices, scene.colour, scene.roughness, scene.metallic][keep]
    assert len(np.unique(rows, axis=0)) == len(rows)
    assert (np.sort(faces, 1)[:, :2] != np.sort(faces, 1)[:, 1:]).all()


@pytest.mark.parametrize("azimuth_deg", [-170.0, -90.0, -20.0, 0.0, 45.0, 100.0, 179.0])
@pytest.mark.parametrize("elevation_deg", [-60.0, 0.0, 30.0])
def test_environment_keeps_its_directions(azimuth_deg: float, elevation_deg: float) -> None:
    """One bright texel lies in the same direction by either program's equirectangular mapping.

    Mitsuba: u = atan2(x, -z) / 2 pi, v = acos(y) / pi from the top, in the map's own frame (source:
    its ``envmap`` plugin), turned by 90 degrees about x. Blender: u = 1/2 - atan2(y, x) / 2 pi, v
    from the bottom = 1/2 + elevation / pi (source: its projection functions, checked by rendering
    below).
    """
    height, width = 64, 128
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    d = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    own = np.array([d[0], d[2], -d[1]])
    u, v = np.arctan2(own[0], -own[2]) / (2 * np.pi) % 1, np.arccos(own[1]) / np.pi
    env = np.zeros((height, width, 3), np.float32)
    env[int(v * height), int(u * width)] = 1.0
    row, column = np.argwhere(blender_environment(env)[..., 0] == 1.0)[0]
    assert (0.5 - a / (2 * np.pi)) % 1 == pytest.approx((column + 0.5) / width, abs=0.51 / width)
    assert 0.5 + e / np.pi == pytest.approx((row + 0.5) / height, abs=0.51 / height)


def test_saved_picture_has_its_truth(tmp_path) -> None:
    row = {"seed": 7, "photo": np.zeros((6, 8, 3), np.uint8), "carbs": [{"box": np.array([1.234])}]}
    save(tmp_path, row, 92)
    assert sorted(f.name for f in tmp_path.iterdir()) == ["0000007.jpg", "0000007.json"]
    assert (tmp_path / "0000007.json").read_text() == '{"seed":7,"carbs":[{"box":[1.23]}]}'


def test_things_are_drawn_where_the_view_projects_them(
    cycles: CyclesRenderer, scene: Scene
) -> None:
    origin, at = np.array([300.0, -120.0, 420.0]), np.array([20.0, 35.0, 10.0])
    view = View(origin, look(origin, np.zeros(3), 12.0), 160.0, (57.0, 61.0), (128, 96))
    rng = np.random.default_rng(1)
    cycles.scene.cycles.use_denoising = False
    cycles.load(plate(scene, at, 12.0), np.ones((32, 64, 3), np.float32) * 0.001, rng,
                (np.array([20.0, 35.0, 400.0]), np.ones(3) * 1e6))  # fmt: skip
    light = cycles.render(view, 0, 64, 1).sum(2)
    light[light < 0.05 * light.max()] = 0
    y, x = np.indices(light.shape) + 0.5
    seen = np.array([(light * x).sum(), (light * y).sum()]) / light.sum()
    expected, _ = view.project(at[None])
    np.testing.assert_allclose(seen, expected[0], atol=0.2)


def test_light_of_a_lamp_follows_the_inverse_square(cycles: CyclesRenderer, scene: Scene) -> None:
    """A matt grey plate under a point source: L = albedo / pi * I / d**2 (Lambert's law)."""
    origin = np.array([0.0, 0.0, 100.0])
    rotation = np.array([[0.0, 1, 0], [1, 0, 0], [0, 0, -1]])
    view = View(origin, rotation, 100.0, (32.0, 24.0), (64, 48))
    intensity = np.array([1.0, 0.8, 0.5]) * 1e5
    cycles.scene.cycles.use_denoising = False
    cycles.load(plate(replace(scene, dirt_rgb=(0.5, 0.5, 0.5)), np.zeros(3), SIDE),
                np.zeros((32, 64, 3), np.float32), np.random.default_rng(1),
                (np.array([0.0, 0.0, 300.0]), intensity))  # fmt: skip
    cycles.film.inputs[1].default_value = 10.0  # all dirt: a diffuse surface of a known reflectance
    cycles.cap.inputs[1].default_value = 1.0
    cycles.bump.inputs["Distance"].default_value = 0.0
    centre = cycles.render(view, 0, 16, 1)[22:26, 30:34].mean((0, 1))
    np.testing.assert_allclose(centre, 0.5 / np.pi * intensity / 300.0**2, rtol=0.01)


@pytest.mark.parametrize(
    ("azimuth_deg", "elevation_deg"), [(0.0, 5.0), (90.0, 40.0), (200.0, -30.0)]
)
def test_sky_is_seen_in_its_direction(
    cycles: CyclesRenderer, scene: Scene, azimuth_deg: float, elevation_deg: float
) -> None:
    """A camera that looks at the bright patch of a map has it in the middle of its picture."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    d = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    height, width = 128, 256
    u, v = np.arctan2(d[0], d[1]) / (2 * np.pi) % 1, np.arccos(d[2]) / np.pi
    rng = np.random.default_rng(3)
    turn = int(np.random.default_rng(3).integers(width))
    env = np.zeros((height, width, 3), np.float32)
    rows, columns = np.indices((height, width)) + 0.5
    away = np.hypot((columns - u * width + width / 2) % width - width / 2, rows - v * height)
    env[away < 4] = 1.0
    hidden = plate(scene, np.array([0.0, 0.0, -9000.0]), 1.0)
    cycles.scene.cycles.use_denoising = False
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("models.training.cross_render.surface_textures", lambda *_: None)
        cycles.load(hidden, np.roll(env, -turn, axis=1), rng, None)
    view = View(np.zeros(3), look(np.zeros(3), d, 0.0), 80.0, (40.0, 30.0), (80, 60))
    light = cycles.render(view, 0, 16, 1).sum(2)
    y, x = np.indices(light.shape) + 0.5
    seen = np.array([(light * x).sum(), (light * y).sum()]) / light.sum()
    np.testing.assert_allclose(seen, [40.0, 30.0], atol=1.5)


def test_a_plate_hides_what_lies_under_it(cycles: CyclesRenderer, scene: Scene) -> None:
    cycles.load(plate(scene, np.zeros(3), 100.0), np.zeros((8, 16, 3), np.float32),
                np.random.default_rng(1), None)  # fmt: skip
    points = np.array([[0.0, 0, -30], [0, 0, 30], [400, 0, -30], [0, 0, -1], [0, 0, -1]])
    slack = np.array([1.2, 1.2, 1.2, 0.5, 6.5])
    seen = cycles.visible(np.array([0.0, 0.0, 500.0]), points, slack)
    assert seen.tolist() == [False, True, True, False, True]
