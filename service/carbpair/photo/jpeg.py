"""JPEG bytes to RGB by libjpeg-turbo, with damage noticed.

simplejpeg gives the same pixels as OpenCV and Pillow, straight in RGB order, faster, and
unlike OpenCV it reports data that end early instead of filling up with grey.
"""

import io

import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import Image

from carbpair.photo.errors import PhotoError
from carbpair.photo.header import unreadable

# libjpeg's own words (jerror.h) for a stream that stops early, and Pillow's.
_CUT_SHORT = ("Premature end of JPEG", "premature end of data", "no image in file", "truncated")
# Harmless padding that some phones write between segments; simplejpeg refuses it in headers.
_HARMLESS = ("extraneous bytes before marker",)


def decode_jpeg(data: bytes, file: str) -> tuple[NDArray[np.uint8], tuple[str, ...]]:
    """Decode a grey or colour JPEG to RGB (H, W, 3), not turned upright, with notes.

    Raises PhotoError `truncated` when picture data are missing, `unreadable` when they are
    corrupt.
    """
    try:
        return np.asarray(simplejpeg.decode_jpeg(data, colorspace="RGB")), ()
    except ValueError as error:
        words = str(error)
    if any(phrase in words for phrase in _HARMLESS):
        try:
            image = Image.open(io.BytesIO(data), formats=("JPEG",))
            return np.array(image.convert("RGB"), dtype=np.uint8), ("jpeg_padding",)
        except OSError as error:
            words = str(error)
    if any(phrase in words for phrase in _CUT_SHORT):
        raise PhotoError(
            "truncated",
            file,
            "The photo is cut short: part of the picture is missing.",
            "Send it again; the transfer was probably interrupted.",
        )
    raise unreadable(file)
