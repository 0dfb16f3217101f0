"""PNG, WebP, HEIC and CMYK JPEG to RGB, by Pillow."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageChops, ImageCms

from carbpair.photo.colour import to_srgb
from carbpair.photo.errors import PhotoError
from carbpair.photo.header import PhotoHeader, open_image, unreadable
from carbpair.photo.limits import PhotoLimits

_CUT_SHORT = ("truncated", "unexpected end", "end of file", "eof", "incomplete")


def decode_raster(
    data: bytes, file: str, header: PhotoHeader, limits: PhotoLimits
) -> NDArray[np.uint8]:
    """Decode to RGB (H, W, 3), alpha laid on white, not turned upright.

    Raises PhotoError `truncated` or `unreadable`.
    """
    image = open_image(data, file, limits)
    try:
        image.load()
        if header.bits == 16:
            return _deep_png(data)
        return np.array(_to_rgb(image, header), dtype=np.uint8)
    except (MemoryError, Image.DecompressionBombError):
        raise
    except Exception as error:
        words = str(error).lower()
        if any(phrase in words for phrase in _CUT_SHORT):
            raise PhotoError(
                "truncated",
                file,
                "The photo is cut short: part of the picture is missing.",
                "Send it again; the transfer was probably interrupted.",
            ) from error
        raise unreadable(file) from error


def _to_rgb(image: Image.Image, header: PhotoHeader) -> Image.Image:
    if image.mode == "CMYK":
        return _from_cmyk(image, header)
    if image.has_transparency_data:
        rgba = image.convert("RGBA")
        white = Image.new("RGBA", rgba.size, (255, 255, 255, 255))
        return Image.alpha_composite(white, rgba).convert("RGB")
    return image.convert("RGB")


def _from_cmyk(image: Image.Image, header: PhotoHeader) -> Image.Image:
    if not header.adobe:
        # Adobe stores ink upside down and Pillow always undoes that; without Adobe's marker
        # the values are plain ink and must be turned back.
        image = ImageChops.invert(image)
    if header.icc_profile:
        try:
            return to_srgb(image, header.icc_profile)
        except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
            pass  # a broken profile: the plain conversion below is still a usable picture
    return image.convert("RGB")


def _deep_png(data: bytes) -> NDArray[np.uint8]:
    """16 bits a channel, scaled so that 65535 becomes 255, rounded to nearest."""
    encoded = np.frombuffer(data, dtype=np.uint8)
    deep: NDArray[Any] | None = cv2.imdecode(encoded, cv2.IMREAD_UNCHANGED)
    if deep is None or deep.dtype != np.uint16:
        raise ValueError("the 16-bit PNG did not decode to 16 bits")
    levels = deep.reshape(*deep.shape[:2], -1)
    alpha = None
    if levels.shape[2] in (2, 4):
        alpha = levels[:, :, -1:].astype(np.float32) / 65535.0
        levels = levels[:, :, :-1]
    colour = levels[:, :, ::-1] if levels.shape[2] == 3 else np.repeat(levels, 3, axis=2)
    scaled = colour.astype(np.float32) / 257.0
    if alpha is not None:
        scaled = scaled * alpha + 255.0 * (1.0 - alpha)
    return np.ascontiguousarray(np.rint(scaled), dtype=np.uint8)
