"""Small real pictures for tests where what is on them does not matter."""

import io
from functools import cache

import numpy as np
from PIL import Image

from carbpair.cases.photo import CleanPhoto


@cache
def jpeg(seed: int = 0, size: tuple[int, int] = (320, 240)) -> bytes:
    """JPEG bytes of seeded noise over a gradient; no metadata."""
    rng = np.random.default_rng(seed)
    x = np.linspace(40, 200, size[0])[None, :, None]
    pixels = np.clip(x + rng.normal(0, 12, (size[1], size[0], 3)), 0, 255).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=90)
    return buffer.getvalue()


def clean(seed: int = 0) -> CleanPhoto:
    return CleanPhoto(jpeg(seed), 320, 240, (), {"status": "good", "findings": []})
