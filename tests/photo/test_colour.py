"""The fast colour map against LittleCMS, by Pillow's ImageCms."""

import numpy as np
import pytest
from PIL import Image, ImageCms
from skimage import data as pictures

from carbpair.photo import load_photo_bytes
from carbpair.photo.colour import apply_correction, srgb_correction, to_srgb
from tests.photo.pictures import DISPLAY_P3_D50, SRGB_D50, encode, matrix_profile


@pytest.mark.parametrize("name", ["astronaut", "coffee", "rocket", "chelsea"])
def test_wide_gamut_photos_are_close_to_the_exact_conversion(name: str) -> None:
    profile = matrix_profile(DISPLAY_P3_D50)
    picture = getattr(pictures, name)()
    correction = srgb_correction(profile)
    assert correction is not None
    exact = np.asarray(to_srgb(Image.fromarray(picture), profile)).astype(int)
    away = np.abs(apply_correction(picture, correction) - exact)
    dull = np.ptp(picture.astype(int), axis=2) < 60
    assert away[dull].mean() < 2.0
    # And it must be worth having: closer than leaving the values alone.
    assert away.mean() < 0.6 * np.abs(picture.astype(int) - exact).mean()


def test_greys_stay_grey() -> None:
    correction = srgb_correction(matrix_profile(DISPLAY_P3_D50))
    assert correction is not None
    greys = np.repeat(np.arange(0, 256, 5, dtype=np.uint8)[None, :, None], 3, axis=2)
    assert np.ptp(apply_correction(greys, correction).astype(int), axis=2).max() <= 2


def test_srgb_needs_no_correction() -> None:
    builtin = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert srgb_correction(builtin) is None
    assert srgb_correction(None) is None
    assert srgb_correction(b"no profile at all") is None
    assert srgb_correction(bytes(3_000_000)) is None


def test_our_profile_writer_agrees_with_littlecms_on_srgb_primaries() -> None:
    assert srgb_correction(matrix_profile(SRGB_D50)) is None
    # A plain gamma of 2.2 differs little from sRGB's curve but in the shadows.
    patch = Image.new("RGB", (1, 1), (200, 120, 60))
    mapped = np.array(to_srgb(patch, matrix_profile(SRGB_D50, 2.2)))[0, 0]
    assert np.abs(mapped.astype(int) - (200, 120, 60)).max() <= 3


def test_loading_applies_the_embedded_profile() -> None:
    profile = matrix_profile(DISPLAY_P3_D50)
    patch = np.full((40, 40, 3), (170, 110, 80), np.uint8)
    plain = load_photo_bytes(encode(patch, "JPEG", quality=98), "x").pixels[9, 9].astype(int)
    wide = load_photo_bytes(encode(patch, "JPEG", quality=98, icc_profile=profile), "x")
    exact = np.asarray(to_srgb(Image.fromarray(patch), profile))[9, 9].astype(int)
    assert np.abs(wide.pixels[9, 9] - exact).max() <= 4
    assert (wide.pixels[9, 9] - plain)[0] > 5
