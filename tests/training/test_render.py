"""One small scene path-traced on the CPU; the training extra is asked for, not required."""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("mitsuba")

import models.training
from models.training.render import Renderer, surface_textures, tileable_noise
from models.training.scene.camera import View, look
from models.training.scene.mesh import box
from models.training.scene.phone import develop, draw_phone
from models.training.scene.photograph import see
from models.training.scene.scene import build_scene

SIZE = (48, 36)


@pytest.fixture(scope="module")
def scene():
    return build_scene(4, carb_count=2, filtered=(False, False))


@pytest.fixture(scope="module")
def view(scene) -> View:
    target = np.array([0.0, 0.0, 20.0])
    origin = target + np.array([520.0, 0.0, 300.0])
    return View(origin, look(origin, target, 0.0), 60.0, (24.0, 18.0), SIZE)


@pytest.fixture(scope="module")
def renderer(scene) -> Renderer:
    made = Renderer("scalar_rgb", (SIZE, SIZE))
    sky = np.full((256, 512, 3), 0.05, np.float32)
    sky[:90] = 1.0
    made.load(scene, sky, np.random.default_rng(1), None)
    return made


def test_a_render_shows_the_carbs_where_truth_says(renderer, scene, view) -> None:
    linear = renderer.render(view, 0, 8, 1)
    assert linear.shape == (36, 48, 3)
    assert np.isfinite(linear).all()
    assert linear.min() >= 0
    assert linear.max() > 0.05
    assert linear.std() > 0.005
    again = renderer.render(view, 0, 8, 1)
    np.testing.assert_array_equal(linear, again)
    other = renderer.render(view, 0, 8, 2)
    assert not np.array_equal(linear, other)


class Watching:
    """Stands in for the denoiser, which needs a library of its own: keeps what it is given."""

    def __call__(self, colour, albedo, normal):
        self.given = (colour, albedo, normal)
        return colour * np.float32(0.5)


def test_the_denoiser_gets_the_render_its_albedo_and_its_normals(renderer, scene, view) -> None:
    plain = renderer.mean(view, 0, 4, [3, 4])
    renderer.denoiser = Watching()
    try:
        denoised = renderer.mean(view, 0, 4, [3, 4])
        colour, albedo, normal = renderer.denoiser.given
    finally:
        renderer.denoiser = None
    np.testing.assert_array_equal(colour, plain)
    np.testing.assert_array_equal(denoised, plain * np.float32(0.5))
    assert albedo.shape == normal.shape == plain.shape
    assert albedo.min() >= 0
    assert albedo.max() <= 1
    assert albedo.std() > 0.02
    # normals of unit length, shorter only where a pixel's samples disagree, none in the sky
    length = np.linalg.norm(normal, axis=2)
    assert length.max() <= 1.001
    assert np.quantile(length, 0.75) > 0.95


def test_truth_says_what_the_camera_sees(renderer, scene, view) -> None:
    truth = see(renderer, scene, view)
    assert len(truth) == 2
    for carb in truth:
        x, y = carb["keypoints"][0]
        assert 0 < x < SIZE[0]
        assert 0 < y < SIZE[1]
        assert carb["seen"]["cover"] > 0.2
        assert carb["seen"]["cover"] < 0.9  # some of a round cover always faces away
    assert truth[0]["keypoints"][0][0] < truth[1]["keypoints"][0][0]


def test_a_dark_box_shows_where_the_pinhole_formula_puts_it(scene, view) -> None:
    cube = box((16, 16, 16), (0.0, 70.0, 60.0), 1)
    count = len(cube.vertices)
    alone = replace(
        scene,
        vertices=cube.vertices.astype(np.float32),
        normals=cube.normals.astype(np.float32),
        faces=cube.faces.astype(np.uint32),
        colour=np.full((count, 3), 0.002, np.float32),
        roughness=np.full(count, 0.9, np.float32),
        metallic=np.zeros(count, np.float32),
        uv=np.zeros((count, 2), np.float32),
        dirt=0.0,
    )
    large = replace(view, focal=240.0, centre=(96.0, 72.0), size=(192, 144))
    shifted = replace(large, centre=(70.0, 90.0))
    made = Renderer("scalar_rgb", (large.size,))
    made.load(alone, np.ones((256, 512, 3), np.float32), np.random.default_rng(1), None)
    for each in (large, shifted):
        shade = 1 - made.render(each, 0, 4, 1).mean(2)
        assert shade.max() > 0.7
        shade[shade < 0.1] = 0
        ys, xs = np.indices(shade.shape) + 0.5
        found = (shade * xs).sum() / shade.sum(), (shade * ys).sum() / shade.sum()
        (want,), _ = each.project(np.array([[0.0, 70.0, 60.0]]))
        assert found == pytest.approx(tuple(want), abs=0.4)


def test_a_point_in_the_open_is_seen_and_one_inside_is_not(renderer, scene, view) -> None:
    cap = scene.carbs[0].landmarks["cap"][0]
    points = cap + np.array([[0, 0, 30.0], [0, 0, -25.0]])
    assert renderer.visible(view.origin, points, np.full(2, 1.0)).tolist() == [True, False]


def test_the_phone_stores_a_picture(renderer, view) -> None:
    linear = renderer.render(view, 0, 8, 1)
    rng = np.random.default_rng(3)
    picture = develop(draw_phone(rng, linear, False), linear, rng)
    assert picture.dtype == np.uint8
    assert picture.shape == linear.shape
    assert 20 < picture.mean() < 235


def test_noise_wraps_around_and_is_standardised() -> None:
    noise = tileable_noise(np.random.default_rng(0), 128, 2.0)
    assert noise.mean() == pytest.approx(0, abs=1e-5)
    assert noise.std() == pytest.approx(1, abs=1e-4)
    inner = np.abs(np.diff(noise, axis=0)).mean()
    assert np.abs(noise[0] - noise[-1]).mean() < 2 * inner


def test_dirt_covers_more_of_a_dirtier_scene(scene) -> None:
    clean, _ = surface_textures(replace(scene, dirt=0.0), np.random.default_rng(5))
    filthy, relief = surface_textures(replace(scene, dirt=0.9), np.random.default_rng(5))
    assert clean.mean() < 0.05 < filthy.mean()
    assert filthy.max() <= 1
    assert relief.shape == filthy.shape == (512, 512)


def test_every_module_of_the_training_imports() -> None:
    missing: set[str] = set()
    for found in pkgutil.walk_packages(models.training.__path__, "models.training."):
        try:
            importlib.import_module(found.name)
        except ModuleNotFoundError as error:
            missing.add(str(error.name).split(".")[0])
    # What may lack is what only the training extra brings, never a module of ours.
    assert missing <= {"bpy", "mathutils", "onnx", "torch"}
