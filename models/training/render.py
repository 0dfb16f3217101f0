"""Path tracing with Mitsuba: one scene kept, its buffers updated, so that kernels compile once.

Everything that changes between renders (mesh buffers, textures, environment, lamp, camera) goes
through ``mitsuba.traverse``; nothing that changes is a literal in the kernel. ``fresh=True`` loads
a new scene for every render instead, which is how the gain is measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .denoise import Denoiser
from .scene.camera import View
from .scene.scene import Scene

TEXTURE = 512
ENV_SHAPE = (256, 512)
MAX_DEPTH = 5

GUIDE_SPP = 4
"""Samples a pixel of the albedo and the normals that guide the denoiser."""

CAKED = 0.12
"""Share of scenes whose dirt has hard edges."""

SPECTRUM, EDGE, THICKEST = (1.8, 3.0), (0.12, 0.7), (0.35, 0.95)
"""Ranges of dirt: exponent of its power spectrum, steepness of its edges, most that it covers."""


def tileable_noise(rng: np.random.Generator, size: int, slope: float) -> NDArray[np.float32]:
    """Random field (size, size), mean 0, deviation 1, that wraps around; power ~ f**-slope."""
    f = np.fft.fftfreq(size) * size
    radius = np.maximum(np.hypot(f[:, None], np.fft.rfftfreq(size)[None] * size), 1.0)
    spectrum = radius ** (-slope / 2) * np.exp(2j * np.pi * rng.random(radius.shape))
    out = np.fft.irfft2(spectrum, s=(size, size))
    return np.asarray((out - out.mean()) / out.std(), np.float32)


def surface_textures(
    scene: Scene, rng: np.random.Generator
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Dirt cover in [0, 1] and relief in millimetres, both (512, 512) and tileable.

    Dirt lies as a film, thicker in patches with soft edges; some of it is caked on with hard ones.
    """
    caked = rng.random() < CAKED
    spots = tileable_noise(rng, TEXTURE, float(rng.uniform(*((1.2, 2.2) if caked else SPECTRUM))))
    level = np.quantile(spots, 1 - 0.75 * scene.dirt)
    edge = float(rng.uniform(*((0.8, 3.0) if caked else EDGE)))
    dirt = np.clip((spots - level) * edge + 0.3 * scene.dirt, 0, float(rng.uniform(*THICKEST)))
    grain = tileable_noise(rng, TEXTURE, float(rng.uniform(0.2, 1.6)))
    return dirt.astype(np.float32), (grain * float(rng.uniform(0.0, 0.0016))).astype(np.float32)


class Renderer:
    """Keeps one Mitsuba scene per light set-up and sensor size."""

    def __init__(
        self,
        variant: str = "cuda_ad_rgb",
        sizes: tuple[tuple[int, int], ...] = ((640, 480), (384, 384)),
        fresh: bool = False,
        denoiser: Denoiser | None = None,
    ) -> None:
        import mitsuba

        mitsuba.set_variant(variant)
        self.mi: Any = mitsuba
        self.sizes = sizes
        self.fresh = fresh
        self.denoiser = denoiser
        self.scalar = variant.startswith("scalar")
        self._kept: dict[bool, tuple[Any, Any]] = {}
        # a kernel of its own: within the path tracer's it doubled the time of every render
        self._guide = mitsuba.load_dict({"type": "aov", "aovs": "albedo:albedo,normal:sh_normal"})

    def _description(self, lamp: bool, vertices: int = 3, faces: int = 1) -> dict[str, Any]:
        mi = self.mi

        def surface(
            colour: dict[str, Any], rough: dict[str, Any], metal: dict[str, Any]
        ) -> dict[str, Any]:
            return {
                "type": "principled",
                "base_color": colour,
                "roughness": rough,
                "metallic": metal,
                "specular": 0.5,
            }

        clean = surface(
            {"type": "mesh_attribute", "name": "vertex_colour"},
            {"type": "mesh_attribute", "name": "vertex_roughness"},
            {"type": "mesh_attribute", "name": "vertex_metallic"},
        )
        flat = np.zeros((2, 2, 1), np.float32)

        def bitmap() -> dict[str, Any]:
            return {
                "type": "bitmap",
                "bitmap": mi.Bitmap(np.zeros((TEXTURE, TEXTURE, 1), np.float32) + flat[:1, :1]),
                "raw": True,
            }

        soiled = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.1, 0.08, 0.05]}}
        mesh = mi.Mesh(
            "pair",
            vertices,
            faces,
            has_vertex_normals=True,
            has_vertex_texcoords=True,
            props=self._mesh_props(
                {
                    "type": "twosided",
                    "nested": {
                        "type": "bumpmap",
                        "arbitrary": bitmap(),
                        "scale": 1.0,
                        "bsdf": {
                            "type": "blendbsdf",
                            "weight": bitmap(),
                            "clean": clean,
                            "soiled": soiled,
                        },
                    },
                }
            ),
        )
        for name, width in (("vertex_colour", 3), ("vertex_roughness", 1), ("vertex_metallic", 1)):
            mesh.add_attribute(name, width, [0.5] * (vertices * width))
        p = mi.traverse(mesh)
        p["vertex_positions"] = np.resize([0.0, 0, 0, 1, 0, 0, 0, 1, 0], 3 * vertices).tolist()
        p["vertex_normals"] = [0, 0, 1] * vertices
        p["vertex_texcoords"] = [0.0] * (2 * vertices)
        p["faces"] = [0, 1, 2] * faces
        p.update()
        out: dict[str, Any] = {
            "type": "scene",
            "integrator": {"type": "path", "max_depth": MAX_DEPTH},
            "env": {
                "type": "envmap",
                "bitmap": mi.Bitmap(np.ones((*ENV_SHAPE, 3), np.float32)),
                "to_world": mi.ScalarTransform4f().rotate([1, 0, 0], 90),
            },
            "pair": mesh,
        }
        if lamp:
            out["lamp"] = {
                "type": "point",
                "position": [0, 0, 1000],
                "intensity": {"type": "rgb", "value": [1.0, 1.0, 1.0]},
            }
        for i, (w, h) in enumerate(self.sizes):
            out[f"camera{i}"] = {
                "type": "perspective",
                "fov": 50,
                "near_clip": 5.0,
                "far_clip": 20000.0,
                "principal_point_offset_x": 0.0,
                "principal_point_offset_y": 0.0,
                "film": {
                    "type": "hdrfilm",
                    "width": w,
                    "height": h,
                    "rfilter": {"type": "box"},
                    "pixel_format": "rgb",
                    "component_format": "float32",
                },
                "sampler": {"type": "independent"},
            }
        return out

    def _mesh_props(self, bsdf: dict[str, Any]) -> Any:
        props = self.mi.Properties()
        props["mesh_bsdf"] = self.mi.load_dict(bsdf)
        return props

    def load(
        self,
        scene: Scene,
        env: NDArray[np.float32],
        rng: np.random.Generator,
        lamp: tuple[NDArray[np.float64], NDArray[np.float64]] | None,
    ) -> None:
        """Put geometry, surfaces and light in. ``lamp``: position (mm), radiant intensity RGB."""
        mi = self.mi
        key = lamp is not None
        if self.fresh or self.scalar or key not in self._kept:
            # a scalar variant compiles nothing and cannot change a buffer's length
            counts = (len(scene.vertices), len(scene.faces)) if self.scalar else (3, 1)
            loaded = mi.load_dict(self._description(key, *counts))
            self._kept[key] = (loaded, mi.traverse(loaded))
        self.scene, p = self._kept[key]
        self.params = p
        base = next(k for k in list(p.keys()) if k.endswith("vertex_positions"))[
            : -len("vertex_positions")
        ]
        names = {"colour": scene.colour, "roughness": scene.roughness, "metallic": scene.metallic}

        def put(key: str, values: NDArray[Any]) -> None:
            # the buffer's own type: an array of the device, or of the CPU in a scalar variant
            p[key] = type(p[key])(np.ascontiguousarray(values).ravel())

        put(base + "faces", scene.faces)
        put(base + "vertex_positions", scene.vertices)
        put(base + "vertex_normals", scene.normals)
        put(base + "vertex_texcoords", scene.uv)
        for n, v in names.items():
            put(base + "vertex_" + n, v)
        dirt, relief = surface_textures(scene, rng)
        textures = [k for k in list(p.keys()) if k.endswith(".data") and "env" not in k]
        for k in textures:
            p[k] = mi.TensorXf((dirt if "weight" in k else relief)[..., None])
        colour = next(k for k in list(p.keys()) if k.endswith("reflectance.value"))
        p[colour] = mi.Color3f(*scene.dirt_rgb)
        rolled = np.roll(env, int(rng.integers(env.shape[1])), axis=1)
        padded = np.concatenate(
            [rolled[:, -1:], rolled, rolled[:, :1]], 1
        )  # Mitsuba 3.9 keeps a column on either side
        p["env.data"] = mi.TensorXf(np.ascontiguousarray(padded, dtype=np.float32))
        if lamp is not None:
            p["lamp.position"] = mi.Point3f(*(float(x) for x in lamp[0]))
            p["lamp.intensity.value"] = mi.Color3f(*(float(x) for x in lamp[1]))
        p.update()

    def render(self, view: View, sensor: int, spp: int, seed: int) -> NDArray[np.float32]:
        """Linear RGB (H, W, 3) of a view with one of the sensors given at construction."""
        return self.mean(view, sensor, spp, [seed])

    def mean(self, view: View, sensor: int, spp: int, seeds: Sequence[int]) -> NDArray[np.float32]:
        """Mean of one render a seed: more samples than fit into memory at once."""
        self._aim(view, sensor)
        total = self._sampled(sensor, spp, seeds[0])
        for seed in seeds[1:]:
            total += self._sampled(sensor, spp, seed)
        traced = np.asarray(total / np.float32(len(seeds)))
        if self.denoiser is None:
            return traced
        guide = self._sampled(sensor, GUIDE_SPP, seeds[0], self._guide)
        return self.denoiser(traced, np.clip(guide[..., :3], 0, 1), guide[..., 3:])

    def _aim(self, view: View, sensor: int) -> None:
        mi, p = self.mi, self.params
        w, h = self.sizes[sensor]
        assert view.size == (w, h), (view.size, w, h)
        m = np.eye(4)
        m[:3, 0], m[:3, 1], m[:3, 2] = -view.rotation[0], -view.rotation[1], view.rotation[2]
        m[:3, 3] = view.origin
        c = f"camera{sensor}."
        p[c + "to_world"] = type(p[c + "to_world"])(m)
        p[c + "x_fov"] = mi.Float(float(np.degrees(2 * np.arctan(w / 2 / view.focal))))
        p[c + "principal_point_offset_x"] = mi.Float(float(0.5 - view.centre[0] / w))
        p[c + "principal_point_offset_y"] = mi.Float(float(0.5 - view.centre[1] / h))
        p.update()

    def _sampled(
        self, sensor: int, spp: int, seed: int, integrator: Any = None
    ) -> NDArray[np.float32]:
        """Pixels (H, W, channels) of the scene's own integrator or of another."""
        own = {} if integrator is None else {"integrator": integrator}
        image = self.mi.render(self.scene, sensor=sensor, spp=spp, seed=seed, **own)
        w, h = self.sizes[sensor]
        out: NDArray[np.float32] = np.array(image, dtype=np.float32).reshape(h, w, -1)
        return np.nan_to_num(out, nan=0.0, posinf=1e4, neginf=0.0)

    def visible(
        self, origin: NDArray[np.float64], points: NDArray[np.float64], slack: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        """World points (N, 3) that are seen: nothing is more than ``slack`` (N,) mm before them."""
        mi = self.mi
        d = points - origin
        dist = np.linalg.norm(d, axis=1)
        if self.scalar:  # one ray at a time: slow, but the test needs no GPU
            rays = (
                mi.Ray3f(mi.Point3f(*origin), mi.Vector3f(*(v / n)), max(n - s, 1e-3), 0.0, [])
                for v, n, s in zip(d, dist, slack, strict=True)
            )
            return np.array([not self.scene.ray_test(ray) for ray in rays])
        count = -len(d) % 2048
        d = np.concatenate([d, np.tile([[0.0, 0, 1]], (count, 1))])
        far = np.concatenate([dist - slack, np.ones(count)])
        unit = d / np.linalg.norm(d, axis=1, keepdims=True)
        o = mi.Point3f(*(mi.Float(np.full(len(d), x)) for x in origin))
        v = mi.Vector3f(*(mi.Float(np.ascontiguousarray(unit[:, i])) for i in range(3)))
        ray = mi.Ray3f(o, v)
        ray.maxt = mi.Float(np.maximum(far, 1e-3))
        hit = np.array(self.scene.ray_test(ray))
        return np.asarray(~hit[: len(points)])
