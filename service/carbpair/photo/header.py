"""What a picture's header says, read without decoding a pixel."""

import io
import warnings
from dataclasses import dataclass
from functools import lru_cache

import pi_heif
from PIL import (  # the plugins register themselves; Pillow's own search would load all 40
    Image,
    JpegImagePlugin,  # noqa: F401
    PngImagePlugin,  # noqa: F401
    WebPImagePlugin,  # noqa: F401
)

from carbpair.photo.errors import PhotoError
from carbpair.photo.exif import MIRRORED_ORIENTATIONS, read_orientation
from carbpair.photo.limits import PhotoLimits

FORMATS = {"JPEG": "jpeg", "MPO": "jpeg", "PNG": "png", "WEBP": "webp", "HEIF": "heic"}
"""Pillow's names of the formats read, and ours."""

_OPENED_AS = ("JPEG", "PNG", "WEBP", "HEIF")  # several pictures in one JPEG open as "JPEG" too

# First bytes of what people send by mistake: offset, bytes, name.
_KNOWN_OTHERS = (
    (0, b"GIF8", "a GIF"),
    (0, b"BM", "a BMP"),
    (0, b"II*\x00", "a TIFF or a camera's raw file"),
    (0, b"MM\x00*", "a TIFF or a camera's raw file"),
    (0, b"%PDF", "a PDF"),
    (0, b"PK\x03\x04", "a ZIP archive or an office document"),
    (4, b"ftypavif", "an AVIF picture"),
    (4, b"ftypqt", "a video"),
    (4, b"ftypisom", "a video"),
    (4, b"ftypmp4", "a video"),
)


@dataclass(frozen=True, slots=True)
class PhotoHeader:
    """Stored (not upright) size in pixels, orientation 1 to 8 still to be applied, and more.

    `mirrored`: the file says that the camera stored a mirror image. `bits` per channel,
    `mode` as Pillow names it. `adobe`: a JPEG with Adobe's marker.
    """

    source_format: str
    width: int
    height: int
    orientation: int
    mirrored: bool
    mode: str
    bits: int
    icc_profile: bytes | None
    adobe: bool
    notes: tuple[str, ...]


def read_header(data: bytes, file: str, limits: PhotoLimits) -> PhotoHeader:
    """Identify the picture and check its size. Raises PhotoError, never decodes."""
    _check_length(data, file, limits)
    image = open_image(data, file, limits)
    with image:
        width, height = image.size
        _check_size(width, height, file, limits)
        source_format = FORMATS[str(image.format)]
        if source_format in ("png", "webp") and getattr(image, "n_frames", 1) > 1:
            raise PhotoError(
                "animated", file, "This is an animation.", "Send a single still photograph."
            )
        notes = []
        orientation = read_orientation(image)
        if orientation is None:
            notes.append("unreadable_exif")
        orientation = orientation or 1
        mirrored = orientation in MIRRORED_ORIENTATIONS
        if source_format == "heic":
            # libheif turns the picture by the container's own instructions; the EXIF value
            # only repeats them and must not be applied twice.
            original = image.info.get("original_orientation")
            mirrored = original in MIRRORED_ORIENTATIONS or b"imir" in data[:65536]
            orientation = 1
        if mirrored:
            notes.append("mirrored_exif")
        icc = image.info.get("icc_profile")
        return PhotoHeader(
            source_format=source_format,
            width=width,
            height=height,
            orientation=orientation,
            mirrored=mirrored,
            mode=image.mode,
            bits=_png_bits(data) if source_format == "png" else 8,
            icc_profile=icc if isinstance(icc, bytes) else None,
            adobe="adobe" in image.info,
            notes=tuple(notes),
        )


def open_image(data: bytes, file: str, limits: PhotoLimits) -> Image.Image:
    """Open lazily with Pillow, only the formats we read. Raises PhotoError."""
    _register_heif()
    try:
        with warnings.catch_warnings():
            # Of bombs, where our own cap is stricter, and of damaged EXIF entries.
            warnings.simplefilter("ignore")
            return Image.open(io.BytesIO(data), formats=_OPENED_AS)
    except Image.DecompressionBombError:
        raise too_many_pixels(file, None, limits) from None
    except Exception as error:  # Pillow's parsers raise many kinds on damaged headers
        raise _unidentified(data, file) from error


def too_many_pixels(file: str, megapixels: float | None, limits: PhotoLimits) -> PhotoError:
    """Make the error for a picture above the pixel cap."""
    size = "far more" if megapixels is None else f"{megapixels:.1f} megapixels, more"
    return PhotoError(
        "too_many_pixels",
        file,
        f"The picture has {size} than the {limits.max_megapixels:g} megapixels allowed.",
        "Send it at the camera's normal size, or cut out the carburettors.",
    )


def unreadable(file: str) -> PhotoError:
    """Make the error for a damaged or exotic picture."""
    return PhotoError(
        "unreadable",
        file,
        "The picture is damaged or of a variant that cannot be decoded.",
        "Open it on the phone or computer it came from, save it as a JPEG and send that.",
    )


def _check_length(data: bytes, file: str, limits: PhotoLimits) -> None:
    if not data:
        raise PhotoError("empty", file, "The file is empty.", "Send the photo again.")
    if len(data) > limits.max_bytes:
        raise too_large(file, len(data), limits)


def too_large(file: str, length: int, limits: PhotoLimits) -> PhotoError:
    """Make the error for a file above the size cap."""
    return PhotoError(
        "too_large",
        file,
        f"The file has {length / 2**20:.1f} MB, more than the "
        f"{limits.max_bytes / 2**20:.3g} MB allowed.",
        "Save it as a JPEG at normal quality, which needs 2 to 8 MB, and send that.",
    )


def _check_size(width: int, height: int, file: str, limits: PhotoLimits) -> None:
    if width * height > limits.max_megapixels * 1e6:
        raise too_many_pixels(file, width * height / 1e6, limits)
    if min(width, height) < limits.min_side:
        raise PhotoError(
            "too_few_pixels",
            file,
            f"The picture is only {width} × {height} pixels.",
            "Send the original photo, not a thumbnail or an icon.",
        )


def _unidentified(data: bytes, file: str) -> PhotoError:
    for offset, magic, name in _KNOWN_OTHERS:
        if data[offset : offset + len(magic)] == magic:
            return PhotoError(
                "unsupported_format",
                file,
                f"The file is {name}; JPEG, PNG, WebP and HEIC photos are read.",
                "Save or export the photo as a JPEG and send that.",
            )
    starts = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"RIFF")
    if data.startswith(starts) or data[4:8] == b"ftyp":
        return PhotoError(
            "truncated",
            file,
            "The file begins like a photo but ends or breaks before the picture starts.",
            "Send the photo again; the transfer was probably cut short.",
        )
    return PhotoError(
        "not_an_image",
        file,
        "The file is not a picture.",
        "Send JPEG, PNG, WebP or HEIC photos.",
    )


def _png_bits(data: bytes) -> int:
    # Byte 24 of a PNG is the bit depth in its header chunk (PNG specification, 11.2.2).
    return data[24] if len(data) > 24 else 8


@lru_cache(maxsize=1)
def _register_heif() -> None:
    pi_heif.register_heif_opener(thumbnails=False)
