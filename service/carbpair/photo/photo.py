"""From a file to a checked, upright RGB picture."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from carbpair.photo.colour import apply_correction, srgb_correction
from carbpair.photo.errors import PhotoError
from carbpair.photo.exif import upright
from carbpair.photo.header import read_header, too_large
from carbpair.photo.jpeg import decode_jpeg
from carbpair.photo.limits import DEFAULT_LIMITS, PhotoLimits
from carbpair.photo.raster import decode_raster


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """An upright photograph.

    `pixels` (H, W, 3) uint8 sRGB, read-only; `width` and `height` are its upright size.
    `orientation` is the EXIF value that was applied (1 to 8); `mirrored` says that the file
    declared itself a mirror image, so that left and right need a second look, and then
    `notes` holds "mirrored_exif". `source_format`: "jpeg", "png", "webp" or "heic".
    """

    name: str
    pixels: NDArray[np.uint8]
    orientation: int
    mirrored: bool
    source_format: str
    notes: tuple[str, ...] = ()

    @property
    def width(self) -> int:
        """Upright width in pixels."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Upright height in pixels."""
        return int(self.pixels.shape[0])

    @property
    def megapixels(self) -> float:
        """Width × height / 10⁶."""
        return self.width * self.height / 1e6


def load_photo(path: str | Path, limits: PhotoLimits = DEFAULT_LIMITS) -> Photo:
    """Read a photo from disk; its name is the file's. Raises PhotoError."""
    file = Path(path)
    try:
        length = file.stat().st_size
        if length > limits.max_bytes:
            raise too_large(file.name, length, limits)
        data = file.read_bytes()
    except OSError as error:
        raise PhotoError(
            "not_found",
            str(path),
            f"The file cannot be opened ({error.strerror or 'input error'}).",
            "Check its name and that you may read it.",
        ) from None
    return load_photo_bytes(data, file.name, limits)


def load_photo_bytes(data: bytes, name: str, limits: PhotoLimits = DEFAULT_LIMITS) -> Photo:
    """Check and decode a photo's bytes. Raises PhotoError naming `name`."""
    header = read_header(data, name, limits)
    notes = header.notes
    if header.source_format == "jpeg" and header.mode != "CMYK":
        pixels, more = decode_jpeg(data, name)
        notes += more
    else:
        pixels = decode_raster(data, name, header, limits)
    if header.mode not in ("CMYK", "L", "LA", "1"):
        correction = srgb_correction(header.icc_profile)
        if correction is not None:
            pixels = apply_correction(pixels, correction)
    pixels = np.ascontiguousarray(upright(pixels, header.orientation), dtype=np.uint8)
    pixels.flags.writeable = False
    return Photo(name, pixels, header.orientation, header.mirrored, header.source_format, notes)
