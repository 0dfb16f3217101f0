"""How large a picture may be."""

from dataclasses import dataclass

MAX_BYTES = 25 * 2**20
MAX_MEGAPIXELS = 50.0
MIN_SIDE = 16


@dataclass(frozen=True, slots=True)
class PhotoLimits:
    """Caps that are checked before a picture is decoded.

    `max_bytes` file size in bytes, `max_megapixels` width × height / 10⁶, `min_side`
    shorter side in pixels.
    """

    max_bytes: int = MAX_BYTES
    max_megapixels: float = MAX_MEGAPIXELS
    min_side: int = MIN_SIDE


DEFAULT_LIMITS = PhotoLimits()
