"""Borrowed pictures: the lists and the rules, checked without any download."""

from __future__ import annotations

import io
import json
import re
import struct
import subprocess
import sys
import tarfile
import zipfile
import zlib
from collections import Counter
from pathlib import Path

import cv2
import numpy as np
import pytest
from models.training.assets import environments, negatives, rcc, sources
from models.training.assets.cutout import SIZE, compose
from models.training.assets.likeness import (
    SAME,
    hash_distance,
    looks_photographic,
    perceptual_hash,
)
from models.training.assets.packages import Package, fetch, members, sha256_of
from PIL import Image
from scipy.fft import dctn
from skimage import data as skimage_data
from sklearn.datasets import load_sample_images

SHA256 = re.compile(r"[0-9a-f]{64}")
README = Path(negatives.__file__).with_name("README.md")


@pytest.fixture(scope="module")
def entries() -> tuple[negatives.Negative, ...]:
    return negatives.load()


def photographs() -> list[np.ndarray]:
    """Real photographs that wheels carry, BGR."""
    rgb = [*load_sample_images().images, skimage_data.coffee(), skimage_data.astronaut()]
    return [np.ascontiguousarray(picture[..., ::-1]) for picture in rgb]


def drawing() -> np.ndarray:
    """A plot-like picture: lines and discs on white, BGR."""
    canvas = np.full((400, 600, 3), 255, np.uint8)
    for i in range(12):
        cv2.circle(canvas, (40 + 47 * i, 200), 25, (20 * i, 90, 255 - 20 * i), -1)
        cv2.line(canvas, (0, 30 * i), (599, 399 - 20 * i), (0, 0, 0), 2, cv2.LINE_AA)
    return canvas


class TestEnvironments:
    def test_split_is_by_name_and_by_capture(self) -> None:
        names = [e.name for e in environments.ENVIRONMENTS]
        captures = [(e.package.name, e.file) for e in environments.ENVIRONMENTS]
        assert len(set(names)) == len(names)
        assert len(set(captures)) == len(captures)
        count = Counter(e.split for e in environments.ENVIRONMENTS)
        assert count["evaluation"] >= 6
        assert count["training"] >= 15

    def test_evaluation_covers_the_lights_we_promise(self) -> None:
        lights = " / ".join(e.light for e in environments.ENVIRONMENTS if e.split == "evaluation")
        for word in ("machine shop", "hard sun", "overcast", "forest", "night"):
            assert word in lights

    def test_committed_list_is_the_code_s_list(self) -> None:
        path = Path(environments.__file__).with_name("environments.json")
        rows = json.loads(path.read_text(encoding="utf-8"))["maps"]
        listed = {(r["name"], r["split"], r["package"], r["package_file"]) for r in rows}
        coded = {(e.name, e.split, e.package.label, e.file) for e in environments.ENVIRONMENTS}
        assert listed == coded
        for row in rows:
            assert SHA256.fullmatch(row["source_sha256"])
            assert SHA256.fullmatch(row["sha256"])
            assert row["licence"]
        assert len({row["source_sha256"] for row in rows}) == len(rows)

    def test_mean_luminance_weights_by_solid_angle(self) -> None:
        # a cap of polar angle θ covers (1 − cos θ)/2 of the sphere (closed form)
        rgb = np.zeros((180, 360, 3))
        rgb[:60] = 1.0
        assert environments.mean_luminance(rgb) == pytest.approx(0.25, abs=1e-4)

    def test_normalise_cleans_averages_and_scales(self) -> None:
        rng = np.random.default_rng(5)
        rgb = rng.lognormal(0.0, 1.0, (512, 1024, 3)).astype(np.float32)
        rgb[10, 10] = np.nan
        rgb[20, 20] = -500.0
        rgb[100, 300] = 6e4
        out = environments.normalise(rgb)
        assert out.shape == (256, 512, 3)
        assert out.dtype == np.float16
        assert np.isfinite(out).all()
        assert out.min() >= 0.0
        assert out.max() <= environments.PEAK
        assert environments.mean_luminance(out) == pytest.approx(1.0, rel=2e-3)

    def test_normalise_refuses_another_shape(self) -> None:
        with pytest.raises(ValueError, match="h, 2h, 3"):
            environments.normalise(np.ones((10, 10, 3), np.float32))

    @pytest.mark.parametrize("column", [0, 5, 15])
    def test_spread_peaks_keeps_the_energy(self, column: int) -> None:
        rgb = np.full((8, 16, 3), 0.5, np.float32)
        rgb[4, column] = 55.0
        out = environments.spread_peaks(rgb, peak=10.0)
        assert out.max() <= 10.0
        assert out.sum() == pytest.approx(rgb.sum(), rel=1e-3)

    def test_likeness_finds_a_turned_copy_and_no_other(self) -> None:
        rng = np.random.default_rng(7)
        maps = [
            np.exp(cv2.GaussianBlur(rng.normal(0, 6, (128, 256, 3)), (0, 0), 6)) for _ in range(2)
        ]
        turned = np.roll(maps[0], 97, axis=1) * 3.0
        assert environments.likeness(maps[0], turned) > environments.DUPLICATE
        assert environments.likeness(maps[0], maps[1]) < environments.DUPLICATE


class TestManifest:
    def test_counts(self, entries: tuple[negatives.Negative, ...]) -> None:
        held = [e for e in entries if e.split == "evaluation"]
        train = [e for e in entries if e.split == "training"]
        assert len(held) >= 300
        assert all(e.whole_photo for e in held)
        assert sum(e.whole_photo for e in train) >= 500
        assert sum(e.look_alike is not None for e in held) >= 30
        assert sum(e.look_alike is not None for e in train) >= 60

    def test_every_row_is_complete_and_unique(
        self, entries: tuple[negatives.Negative, ...]
    ) -> None:
        assert len({e.name for e in entries}) == len(entries)
        assert len({e.sha256 for e in entries}) == len(entries)
        for entry in entries:
            assert SHA256.fullmatch(entry.sha256)
            assert re.fullmatch(r"[0-9a-f]{16}", entry.phash)
            assert entry.name == f"{entry.look_alike or entry.kind}_{entry.sha256[:8]}"
            assert entry.licence.strip()
            assert min(entry.width, entry.height) > 0

    def test_each_row_follows_its_source(self, entries: tuple[negatives.Negative, ...]) -> None:
        by_label = {s.package.label: s for s in sources.SOURCES}
        for entry in entries:
            source = by_label[f"{entry.package}=={entry.version}"]
            assert entry.split == source.side(entry.folder)
            assert entry.licence == source.package.licence

    def test_no_package_folder_on_both_sides(self, entries: tuple[negatives.Negative, ...]) -> None:
        sides: dict[tuple[str, str], set[str]] = {}
        for entry in entries:
            sides.setdefault((entry.package, entry.folder), set()).add(entry.split)
        assert all(len(side) == 1 for side in sides.values())
        mixed = {e.package for e in entries if e.split == "evaluation"} & {
            e.package for e in entries if e.split == "training"
        }
        assert mixed == {"debian:gcompris-qt-data"}

    def test_no_near_duplicate_across_the_split(
        self, entries: tuple[negatives.Negative, ...]
    ) -> None:
        held = [int(e.phash, 16) for e in entries if e.split == "evaluation"]
        train = [int(e.phash, 16) for e in entries if e.split == "training"]
        closest = min(hash_distance(a, b) for a in held for b in train)
        assert closest > SAME

    def test_cut_outs_only_train(self, entries: tuple[negatives.Negative, ...]) -> None:
        packages = {e.package for e in entries if not e.whole_photo}
        assert packages == {"debian:tuxpaint-stamps-default"}
        assert {e.split for e in entries if not e.whole_photo} == {"training"}

    def test_nothing_forbids_commercial_use(self) -> None:
        for source in sources.SOURCES:
            assert not re.search(r"\bNC\b|proprietary|non.?commercial", source.package.licence)

    def test_readme_states_every_package(self, entries: tuple[negatives.Negative, ...]) -> None:
        text = README.read_text(encoding="utf-8")
        count = Counter((e.package, e.split) for e in entries)
        for source in sources.SOURCES:
            package = source.package
            key = f"{package.registry}:{package.name}"
            cells = [str(count[key, side] or "–") for side in ("evaluation", "training")]
            row = [package.registry, f"`{package.name}`", package.version, *cells, package.licence]
            assert f"| {' | '.join(row)} |" in text
            assert SHA256.fullmatch(package.sha256)


class TestLikeness:
    def test_hash_is_the_sign_of_low_cosine_terms(self) -> None:
        # against SciPy's own DCT-II
        picture = photographs()[0]
        grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
        small = cv2.resize(grey, (32, 32), interpolation=cv2.INTER_AREA).astype(float)
        low = dctn(small, norm="ortho")[:8, :8].ravel()
        bits = low > np.median(low[1:])
        bits[0] = False
        expected = int("".join("1" if b else "0" for b in bits), 2)
        assert hash_distance(perceptual_hash(picture), expected) <= 1  # a term near the median

    def test_copies_are_the_same_and_others_are_not(self) -> None:
        pictures = photographs()
        for picture in pictures:
            half = cv2.resize(picture, None, fx=0.4, fy=0.4, interpolation=cv2.INTER_AREA)
            ok, coded = cv2.imencode(".jpg", half, [cv2.IMWRITE_JPEG_QUALITY, 60])
            assert ok
            copy = cv2.imdecode(coded, cv2.IMREAD_COLOR)
            assert hash_distance(perceptual_hash(picture), perceptual_hash(copy)) <= SAME
        for i, a in enumerate(pictures):
            for b in pictures[:i]:
                assert hash_distance(perceptual_hash(a), perceptual_hash(b)) > SAME

    def test_photographs_pass_and_drawings_do_not(self) -> None:
        assert all(looks_photographic(picture, lossy=True) for picture in photographs())
        assert not looks_photographic(drawing(), lossy=False)
        # a colourful drawing stored as JPEG passes, and is left to the person who looks;
        # a two-tone mask never does
        mask = np.kron(np.indices((8, 8)).sum(axis=0) % 2, np.ones((40, 40)))
        assert not looks_photographic(cv2.merge([mask.astype(np.uint8) * 255] * 3), lossy=True)


class TestPackages:
    def test_members_of_wheel_and_tarball(self, tmp_path: Path) -> None:
        wheel, ball = tmp_path / "a.whl", tmp_path / "a.tgz"
        with zipfile.ZipFile(wheel, "w") as archive:
            archive.writestr("pkg/b.jpg", b"two")
            archive.writestr("pkg/a.jpg", b"one")
            archive.writestr("pkg/a.py", b"no")
        with tarfile.open(ball, "w:gz") as archive:
            info = tarfile.TarInfo("./package/a.jpg")
            info.size = 3
            archive.addfile(info, io.BytesIO(b"one"))
        assert list(members(wheel, "*.jpg")) == [("pkg/a.jpg", b"one"), ("pkg/b.jpg", b"two")]
        assert list(members(ball, "*.jpg")) == [("package/a.jpg", b"one")]

    def test_another_file_than_the_pinned_one_is_refused(self, tmp_path: Path) -> None:
        package = Package("pypi", "x", "1", "x.whl", "0" * 64, "MIT")
        (tmp_path / "x.whl").write_bytes(b"something else")
        with pytest.raises(RuntimeError, match="delete it and run"):
            fetch(package, tmp_path)

    def test_sha256_of_the_published_vector(self, tmp_path: Path) -> None:
        # FIPS 180-2, appendix B.1: the message "abc"
        (tmp_path / "abc").write_bytes(b"abc")
        expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        assert sha256_of(tmp_path / "abc") == expected


def qt_resource(version: int) -> bytes:
    """A resource with one folder and two files, the second compressed (layout as in rcc.py)."""
    plain, packed = b"plain content", b"x" * 200
    squeezed = struct.pack(">I", len(packed)) + zlib.compress(packed)
    names, offsets = b"", []
    for name in ("photos", "a.jpg", "b.jpg"):
        offsets.append(len(names))
        names += struct.pack(">HI", len(name), 0) + name.encode("utf-16-be")
    data = struct.pack(">I", len(plain)) + plain
    second = len(data)
    data += struct.pack(">I", len(squeezed)) + squeezed
    stamp = b"" if version < 2 else bytes(8)
    tree = struct.pack(">IHII", 0, 2, 1, 1) + stamp
    tree += struct.pack(">IHII", offsets[0], 2, 2, 2) + stamp
    tree += struct.pack(">IHHHI", offsets[1], 0, 0, 0, 0) + stamp
    tree += struct.pack(">IHHHI", offsets[2], 1, 0, 0, second) + stamp
    head = struct.pack(">4sIIII", b"qres", version, 20, 20 + len(tree), 20 + len(tree) + len(data))
    return head + tree + data + names


class TestResource:
    @pytest.mark.parametrize("version", [1, 3])
    def test_files_of_a_resource(self, version: int) -> None:
        assert dict(rcc.files(qt_resource(version))) == {
            "photos/a.jpg": b"plain content",
            "photos/b.jpg": b"x" * 200,
        }

    def test_other_bytes_are_refused(self) -> None:
        with pytest.raises(ValueError, match="qres"):
            list(rcc.files(b"not a resource at all"))


class TestPictures:
    def entry(self, split: sources.Split) -> negatives.Negative:
        return negatives.Negative(
            "x", split, "object", None, True, "pypi:x", "1", "", "MIT", "0" * 64, 1, 1, "0" * 16
        )

    def test_evaluation_jpeg_is_kept_as_it_came(self, tmp_path: Path) -> None:
        buffer = io.BytesIO()
        Image.new("RGB", (300, 200), (90, 40, 10)).save(buffer, "JPEG", quality=55)
        negatives.write(self.entry("evaluation"), buffer.getvalue(), tmp_path / "a.jpg")
        assert (tmp_path / "a.jpg").read_bytes() == buffer.getvalue()

    def test_turned_jpeg_is_stood_upright(self, tmp_path: Path) -> None:
        image = Image.new("RGB", (300, 200), (90, 40, 10))
        exif = image.getexif()
        exif[0x0112] = 6  # stored on its side, Exif 2.32
        buffer = io.BytesIO()
        image.save(buffer, "JPEG", exif=exif)
        negatives.write(self.entry("evaluation"), buffer.getvalue(), tmp_path / "a.jpg")
        with Image.open(tmp_path / "a.jpg") as written:
            assert written.size == (200, 300)

    def test_training_picture_is_made_small(self, tmp_path: Path) -> None:
        buffer = io.BytesIO()
        Image.new("RGB", (3000, 1500)).save(buffer, "PNG")
        negatives.write(self.entry("training"), buffer.getvalue(), tmp_path / "a.jpg")
        with Image.open(tmp_path / "a.jpg") as written:
            assert written.format == "JPEG"
            assert written.size == (1024, 512)

    def test_pack_keeps_below_the_limit(self, tmp_path: Path) -> None:
        folder = tmp_path / "training"
        folder.mkdir()
        for i, picture in enumerate(photographs()):
            cv2.imwrite(str(folder / f"{i}.jpg"), picture)
        side, quality, size = negatives.pack(folder, tmp_path / "small.tar", limit=150_000)
        assert (side, quality) in negatives.TAR_SETTINGS
        assert size <= 150_000
        with tarfile.open(tmp_path / "small.tar") as archive:
            assert archive.getnames() == ["0.jpg", "1.jpg", "2.jpg", "3.jpg"]
        with pytest.raises(RuntimeError, match="do not fit"):
            negatives.pack(folder, tmp_path / "none.tar", limit=1000)


class TestCutout:
    def test_object_lies_on_the_background(self) -> None:
        stamp = np.zeros((80, 80, 4), np.uint8)
        stamp[..., :3] = (255, 0, 255)  # colour of transparent pixels must not show
        cv2.circle(stamp, (40, 40), 30, (0, 200, 0, 255), -1)
        ground = np.full((700, 900, 3), 40, np.uint8)
        made = compose(stamp, ground, np.random.default_rng(3))
        assert made.shape == (SIZE[1], SIZE[0], 3)
        green = (made[..., 1] > 100) & (made[..., 0] < 30)
        untouched = (made == 40).all(axis=-1)
        assert 0.01 < green.mean() < 0.5
        assert untouched.mean() > 0.4
        assert not ((made[..., 0] > 60) & (made[..., 1] < 30)).any()

    def test_same_seed_same_picture(self) -> None:
        stamp = np.full((50, 60, 4), 255, np.uint8)
        ground = photographs()[0]
        first, second = (compose(stamp, ground, np.random.default_rng(11)) for _ in range(2))
        assert np.array_equal(first, second)


@pytest.mark.parametrize("folder", ["models", "."])
def test_the_commands_start_where_the_documents_say(folder: str) -> None:
    root = Path(__file__).parents[2]
    package = "training.assets" if folder == "models" else "models.training.assets"
    names = ("environments", "negatives", "survey")
    imports = "; ".join(f"import {package}.{name}" for name in names)
    subprocess.run([sys.executable, "-c", imports], cwd=root / folder, check=True, timeout=120)
