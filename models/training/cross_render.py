"""Evaluation photographs from a second, independent renderer: Blender's Cycles as a Python module.

    python -m training.cross_render --out cross --environments environments \\
        --seeds 950000:950150 > /dev/null

Run from ``models/`` in an environment of its own (see below); messages go to standard error, Cycles
fills standard output. Writes NNNNNNN.jpg and NNNNNNN.json as ``training.pack`` packs them, so that
``python -m training.evaluation.readings --pictures cross`` reads the folder. A seed whose picture
is there already is skipped: start the same command again to go on.

What it is for: networks trained on one renderer's pictures may lean on that renderer. Pictures of
the same scenes from another one measure how much.

Independent of ``training.render`` (Mitsuba): light transport, BSDF model, sampling and pixel
filter; dirt and relief (Blender's noise in millimetres, not a texture over UV; dust prefers
surfaces that face up); shading normals (from welded faces and an edge angle; the generator's own
normals are not used); lamps with a size, so their shadows have soft edges; and the ray casts
against Blender's BVH that say what can be seen.

Not independent: the denoiser (Open Image Denoise in both), geometry, styles, outlines, base
materials, camera, environment maps, the place of a lamp, and the phone. All random numbers outside
the surfaces are drawn in the same order, so a seed gives the same view of the same scene in the
same light from both renderers, and the two can be compared in pairs.

Environment: bpy 4.5 needs Python 3.11 and numpy below 2, which OpenCV from 4.12 on does not
accept; beside the service it would hold both back. Therefore a separate one: ``python3.11 -m venv
venv-bpy`` and ``venv-bpy/bin/pip install bpy==4.5.15 opencv-python-headless==4.11.0.86
mapbox_earcut``. Blender is GPL-3.0-or-later; it is run here as a tool to make pictures, it is no
dependency of the service, nothing of it is shipped and none of its code is copied.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, cast

import cv2
import numpy as np
from numpy.typing import NDArray

from .generate import load_environments
from .pack import plain
from .render import CAKED, THICKEST, Renderer, surface_textures
from .scene.camera import View
from .scene.photograph import photograph
from .scene.scene import Scene, build_scene

EDGE_DEG = 38.0
"""Faces that meet at a sharper angle show an edge."""

MAX_BOUNCES = 4
SENSOR_MM = 36.0
NOISE_MEAN, NOISE_SD = 0.5, 0.063
"""Of Blender's normalised noise, measured on a rendered plane; the deviation is 0.054 to 0.071 at
4 to 6 octaves and roughness 0.6 to 0.8."""

SUN_FROM_MM = 20000.0
SUN_RADIUS = 0.00465
"""Angular radius of the sun, radians (mean apparent diameter 32 minutes of arc)."""


def weld(scene: Scene) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Vertices to keep (K,) and faces (M, 3) over them: one vertex per place and surface."""
    surface = np.c_[scene.colour, scene.roughness, scene.metallic]
    key = np.c_[scene.vertices * 1e3, surface * 1e4].round().astype(np.int64)
    _, keep, back = np.unique(key, axis=0, return_index=True, return_inverse=True)
    faces = back.reshape(-1)[scene.faces.astype(np.int64)]
    a, b, c = faces.T
    return keep, faces[(a != b) & (b != c) & (c != a)].astype(np.int32)


def blender_environment(env: NDArray[np.float32]) -> NDArray[np.float32]:
    """The generator's environment map (H, W, 3) as Blender's pixels (H, W, 4), bottom row first.

    The generator (Mitsuba's map with its up axis turned to +z) has the left edge towards +y and
    goes to +x; Blender's left edge lies towards -x and goes to +y: a quarter of the width.
    """
    turned = np.roll(env, env.shape[1] // 4, axis=1)[::-1]
    rgba = np.concatenate([turned, np.ones_like(turned[..., :1])], 2)
    return np.ascontiguousarray(rgba, dtype=np.float32)


class CyclesRenderer:
    """Stands in for ``training.render.Renderer`` in ``photograph``; Cycles and Blender's BVH."""

    def __init__(self, threads: int = 1, quality: str = "BALANCED") -> None:
        import bpy

        self.bpy: Any = bpy
        bpy.ops.wm.read_factory_settings(use_empty=True)
        self.scene = s = bpy.context.scene
        s.render.engine = "CYCLES"
        s.cycles.device = "CPU"
        s.render.threads_mode, s.render.threads = "FIXED", threads
        s.cycles.use_adaptive_sampling = False
        s.cycles.use_light_tree = False  # there is one sky and at most one lamp
        s.cycles.use_denoising = True
        s.cycles.denoiser = "OPENIMAGEDENOISE"
        s.cycles.denoising_input_passes = "RGB_ALBEDO_NORMAL"
        s.cycles.denoising_prefilter = "FAST"
        s.cycles.denoising_quality = quality
        s.cycles.max_bounces = s.cycles.glossy_bounces = s.cycles.diffuse_bounces = MAX_BOUNCES
        s.cycles.sample_clamp_indirect = 0.0
        s.render.use_compositing = s.render.use_sequencer = False
        s.view_settings.view_transform = "Raw"
        s.render.image_settings.file_format = "OPEN_EXR"
        s.render.image_settings.color_mode = "RGB"
        s.render.image_settings.color_depth = "32"
        s.render.image_settings.exr_codec = "NONE"
        self._camera()
        self._world()
        self._material()
        self.lamp = self._object("lamp", bpy.data.lights.new("lamp", "POINT"))
        self.lamp.visible_camera = False
        self.pair: Any = None

    def _object(self, name: str, data: Any) -> Any:
        made = self.bpy.data.objects.new(name, data)
        self.scene.collection.objects.link(made)
        return made

    def _camera(self) -> None:
        data = self.bpy.data.cameras.new("camera")
        data.sensor_fit, data.sensor_width = "HORIZONTAL", SENSOR_MM
        data.clip_start, data.clip_end = 5.0, 20000.0
        self.camera = self.scene.camera = self._object("camera", data)

    def _world(self) -> None:
        world = self.scene.world = self.bpy.data.worlds.new("world")
        world.use_nodes = True
        world.cycles.sampling_method = "MANUAL"  # "AUTOMATIC" takes seconds a scene to prepare
        world.cycles.sample_map_resolution = 512
        tree = world.node_tree
        self.sky = tree.nodes.new("ShaderNodeTexEnvironment")
        tree.links.new(self.sky.outputs["Color"], tree.nodes["Background"].inputs["Color"])

    def _material(self) -> None:
        """Principled surface from point attributes, dirt mixed in by noise, relief from noise."""
        self.material = self.bpy.data.materials.new("surface")
        self.material.use_nodes = True
        tree = self.material.node_tree
        tree.nodes.clear()
        new, link = tree.nodes.new, tree.links.new

        def attribute(name: str) -> Any:
            node = new("ShaderNodeAttribute")
            node.attribute_name = name
            return node.outputs["Color" if name == "colour" else "Fac"]

        def maths(operation: str, a: Any, b: float) -> Any:
            node = new("ShaderNodeMath")
            node.operation = operation
            link(a, node.inputs[0])
            node.inputs[1].default_value = b
            return node

        self.place = new("ShaderNodeMapping")
        link(new("ShaderNodeTexCoord").outputs["Object"], self.place.inputs["Vector"])
        self.spots, self.grain = new("ShaderNodeTexNoise"), new("ShaderNodeTexNoise")
        for noise in (self.spots, self.grain):
            link(self.place.outputs[0], noise.inputs["Vector"])
        split = new("ShaderNodeSeparateXYZ")
        link(new("ShaderNodeNewGeometry").outputs["Normal"], split.inputs[0])
        self.settle = maths("MULTIPLY", split.outputs["Z"], 0.0)
        total = maths("ADD", self.spots.outputs["Fac"], 0.0)
        link(self.settle.outputs[0], total.inputs[1])
        self.level = maths("SUBTRACT", total.outputs[0], 0.0)
        self.steep = maths("MULTIPLY", self.level.outputs[0], 1.0)
        self.film = maths("ADD", self.steep.outputs[0], 0.0)
        low = maths("MAXIMUM", self.film.outputs[0], 0.0)
        self.cap = maths("MINIMUM", low.outputs[0], 1.0)
        self.bump = new("ShaderNodeBump")
        link(self.grain.outputs["Fac"], self.bump.inputs["Height"])
        clean, self.soiled = new("ShaderNodeBsdfPrincipled"), new("ShaderNodeBsdfDiffuse")
        mix = new("ShaderNodeMixShader")
        link(attribute("colour"), clean.inputs["Base Color"])
        link(attribute("roughness"), clean.inputs["Roughness"])
        link(attribute("metallic"), clean.inputs["Metallic"])
        for shader in (clean, self.soiled):
            link(self.bump.outputs[0], shader.inputs["Normal"])
        link(self.cap.outputs[0], mix.inputs[0])
        link(clean.outputs[0], mix.inputs[1])
        link(self.soiled.outputs[0], mix.inputs[2])
        link(mix.outputs[0], new("ShaderNodeOutputMaterial").inputs["Surface"])

    def _mesh(self, scene: Scene) -> None:
        from mathutils.bvhtree import BVHTree

        keep, faces = weld(scene)
        if self.pair is not None:
            old = self.pair.data
            self.bpy.data.objects.remove(self.pair)
            self.bpy.data.meshes.remove(old)
        mesh = self.bpy.data.meshes.new("pair")
        mesh.vertices.add(len(keep))
        mesh.vertices.foreach_set("co", np.ascontiguousarray(scene.vertices[keep]).ravel())
        mesh.loops.add(faces.size)
        mesh.loops.foreach_set("vertex_index", faces.ravel())
        mesh.polygons.add(len(faces))
        mesh.polygons.foreach_set("loop_start", np.arange(0, faces.size, 3, dtype=np.int32))
        mesh.update(calc_edges=True)
        colour = mesh.attributes.new("colour", "FLOAT_COLOR", "POINT")
        rgba = np.c_[scene.colour[keep], np.ones(len(keep))].astype(np.float32)
        colour.data.foreach_set("color", rgba.ravel())
        for name, values in (("roughness", scene.roughness), ("metallic", scene.metallic)):
            attribute = mesh.attributes.new(name, "FLOAT", "POINT")
            attribute.data.foreach_set("value", np.ascontiguousarray(values[keep]).ravel())
        mesh.validate()
        mesh.shade_smooth()
        mesh.set_sharp_from_angle(angle=float(np.radians(EDGE_DEG)))
        mesh.materials.append(self.material)
        self.pair = self._object("pair", mesh)
        self.bvh = BVHTree.FromObject(self.pair, self.bpy.context.evaluated_depsgraph_get())

    def _surface(self, scene: Scene, rng: np.random.Generator) -> None:
        """Draw this scene's dirt and relief."""
        self.place.inputs["Location"].default_value = rng.uniform(-2000, 2000, 3).tolist()
        inputs = self.spots.inputs
        inputs["Scale"].default_value = 1 / float(np.exp(rng.uniform(np.log(10), np.log(90))))
        inputs["Detail"].default_value = float(rng.integers(4, 7))
        inputs["Roughness"].default_value = float(rng.uniform(0.6, 0.8))
        cover = float(np.clip(0.75 * scene.dirt, 1e-3, 0.999))
        spread = statistics.NormalDist(NOISE_MEAN, NOISE_SD)
        self.level.inputs[1].default_value = spread.inv_cdf(1 - cover)
        edge = rng.uniform(0.5, 2.0) if rng.random() < CAKED else rng.uniform(0.12, 0.7)
        self.steep.inputs[1].default_value = float(edge) / NOISE_SD
        self.film.inputs[1].default_value = 0.3 * scene.dirt
        self.cap.inputs[1].default_value = float(rng.uniform(*THICKEST))
        self.settle.inputs[1].default_value = float(rng.uniform(0, 0.6)) * NOISE_SD
        self.soiled.inputs["Color"].default_value = (*scene.dirt_rgb, 1.0)
        grain = float(np.exp(rng.uniform(np.log(0.25), np.log(2.5))))
        self.grain.inputs["Scale"].default_value = 1 / grain
        self.grain.inputs["Detail"].default_value = float(rng.integers(0, 2))
        self.bump.inputs["Distance"].default_value = grain * float(rng.uniform(0.0, 0.12))

    def _sky(self, env: NDArray[np.float32]) -> None:
        old = self.sky.image
        h, w = env.shape[:2]
        image = self.bpy.data.images.new("sky", w, h, alpha=False, float_buffer=True, is_data=True)
        image.pixels.foreach_set(blender_environment(env).ravel())
        image.update()
        self.sky.image = image
        if old is not None:
            self.bpy.data.images.remove(old)

    def load(self, scene: Scene, env: NDArray[np.float32], rng: np.random.Generator,
             lamp: tuple[NDArray[np.float64], NDArray[np.float64]] | None) -> None:  # fmt: skip
        """Put a scene in place; ``lamp`` is its position (mm) and radiant intensity RGB."""
        surface_textures(scene, rng)  # not used: keeps ``rng`` in step with the other renderer
        turn = int(rng.integers(env.shape[1]))
        self._mesh(scene)
        self._surface(scene, np.random.default_rng([scene.seed, 41]))
        self._sky(np.roll(env, turn, axis=1))
        self.lamp.hide_render = lamp is None
        if lamp is not None:
            at, intensity = lamp
            power = float(max(intensity))
            self.lamp.location = at
            self.lamp.data.energy = 4 * np.pi * power  # watts, alike in all directions
            self.lamp.data.color = intensity / power
            far = float(np.linalg.norm(at))
            self.lamp.data.shadow_soft_size = SUN_RADIUS * far if far > SUN_FROM_MM else 6.0

    def mean(self, view: View, sensor: int, spp: int, seeds: Sequence[int]) -> NDArray[np.float32]:
        """Mean of one render a seed, as the first renderer gives it."""
        renders = [self.render(view, sensor, spp, k) for k in seeds]
        return np.asarray(np.mean(renders, axis=0), np.float32)

    def render(self, view: View, sensor: int, spp: int, seed: int) -> NDArray[np.float32]:
        """Linear RGB (H, W, 3) of a view; ``sensor`` has no meaning here."""
        from mathutils import Matrix

        del sensor
        s, (w, h) = self.scene, view.size
        s.render.resolution_x, s.render.resolution_y, s.render.resolution_percentage = w, h, 100
        s.cycles.samples, s.cycles.seed = spp, seed
        m = np.eye(4)
        m[:3, :3] = (view.rotation * np.array([[1], [-1], [-1]])).T  # right, up, backward
        m[:3, 3] = view.origin
        self.camera.matrix_world = Matrix(m.tolist())
        data = self.camera.data
        data.lens = view.focal / w * SENSOR_MM
        data.shift_x = 0.5 - view.centre[0] / w
        data.shift_y = (view.centre[1] - h / 2) / w  # both in picture widths
        with tempfile.TemporaryDirectory() as folder:
            s.render.filepath = str(Path(folder) / "linear.exr")
            self.bpy.ops.render.render(write_still=True)
            image = self.bpy.data.images.load(s.render.filepath)
            pixels = np.empty(w * h * 4, np.float32)
            image.pixels.foreach_get(pixels)
            self.bpy.data.images.remove(image)
        out = pixels.reshape(h, w, 4)[::-1, :, :3]
        return np.nan_to_num(np.ascontiguousarray(out), nan=0.0, posinf=1e4, neginf=0.0)

    def visible(
        self, origin: NDArray[np.float64], points: NDArray[np.float64], slack: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        """Which world points (N, 3) are seen: nothing more than ``slack`` (N,) mm before them."""
        rays = points - origin
        length = np.linalg.norm(rays, axis=1)
        units, reach = rays / length[:, None], np.maximum(length - slack, 1e-3)
        cast_ray, start = self.bvh.ray_cast, origin.tolist()
        pairs = zip(units.tolist(), reach.tolist(), strict=True)
        return np.array([cast_ray(start, unit, far)[0] is None for unit, far in pairs], bool)


def save(out: Path, row: dict[str, Any], quality: int) -> None:
    """Write truth, then the picture under its final name: a picture that is there has its truth."""
    name = f"{row['seed']:07d}"
    truth = json.dumps(plain({"seed": row["seed"], "carbs": row["carbs"]}), separators=(",", ":"))
    (out / f"{name}.json").write_text(truth)
    ok, jpg = cv2.imencode(".jpg", row["photo"][..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert ok
    part = out / f"{name}.part"
    part.write_bytes(jpg.tobytes())
    part.rename(out / f"{name}.jpg")


def main() -> None:
    """Command line."""
    p = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    p.add_argument("--out", type=Path, required=True)
    p.add_argument("--environments", type=Path, required=True)
    p.add_argument("--seeds", default="950000:950150", help="first:last, last not included")
    p.add_argument("--width", type=int, default=960)
    p.add_argument("--samples", type=int, default=3, help="a pixel, before denoising")
    p.add_argument("--denoiser", default="BALANCED", choices=("HIGH", "BALANCED", "FAST"))
    p.add_argument("--threads", type=int, default=1)
    p.add_argument("--quality", type=int, default=92, help="of the JPEG, as in training.pack")
    a = p.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    maps = load_environments(a.environments, "evaluation")
    size = (a.width, a.width * 3 // 4)
    first, last = (int(x) for x in a.seeds.split(":"))
    renderer = cast(Renderer, CyclesRenderer(a.threads, a.denoiser))
    done = failed = 0
    start = time.time()
    for seed in range(first, last):
        if (a.out / f"{seed:07d}.jpg").exists():
            continue
        try:
            env = maps[int(np.random.default_rng(seed + 5).integers(len(maps)))]
            scene = build_scene(seed, evaluation=True)
            row = photograph(renderer, scene, env, (a.samples, 0, 0, 0), crops=False, size=size)
            save(a.out, row, a.quality)
        except Exception as error:  # noqa: BLE001  one bad seed must not cost the run; it is counted and named
            failed += 1
            print(f"seed {seed}: {error!r}", file=sys.stderr, flush=True)
            continue
        done += 1
        each = (time.time() - start) / done
        print(f"seed {seed}: {done} pictures, {each:.1f} s each", file=sys.stderr, flush=True)
    print(f"{done} pictures rendered, {failed} failed", file=sys.stderr)
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
