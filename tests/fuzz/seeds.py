"""Small valid photos of each kind, from which mutations start."""

import io

import numpy as np
import pillow_heif
from PIL import Image


def photo_seeds() -> list[bytes]:
    """JPEG (plain, progressive, CMYK, with EXIF), PNG (8 and 16 bit), WebP and HEIC."""
    pillow_heif.register_heif_opener()
    rng = np.random.default_rng(11)
    # The smallest that the intake takes at all, smooth so that files stay short.
    small = rng.integers(0, 256, (9, 12, 3), dtype=np.uint8)
    picture = Image.fromarray(small).resize((320, 240))
    exif = Image.Exif()
    exif[0x0112] = 6
    found = []
    for kind, image, more in (
        ("JPEG", picture, {"quality": 40}),
        ("JPEG", picture, {"quality": 40, "progressive": True, "exif": exif}),
        ("JPEG", picture.convert("CMYK"), {"quality": 30}),
        ("PNG", picture.quantize(16), {}),
        ("PNG", Image.new("I;16", (320, 240), 30_000), {}),
        ("WEBP", picture, {"quality": 30}),
        ("HEIF", picture, {"quality": 20}),
    ):
        buffer = io.BytesIO()
        image.save(buffer, kind, **more)
        found.append(buffer.getvalue())
    return found
