"""Small pictures and encodings that the photo tests share."""

import io
import struct
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image


def scene(width: int = 96, height: int = 64) -> NDArray[np.uint8]:
    """A smooth picture whose four corners differ, so that any turn or mirror shows."""
    x, y = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
    rgb = np.stack([40 + 180 * x, 30 + 200 * y, 220 - 150 * x * y], axis=2)
    return rgb.round().astype(np.uint8)


def encode(picture: NDArray[np.uint8] | Image.Image, form: str, **options: Any) -> bytes:
    """Bytes of a picture in one of Pillow's formats."""
    image = picture if isinstance(picture, Image.Image) else Image.fromarray(picture)
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def exif(orientation: int) -> Image.Exif:
    """An EXIF block with an orientation and nothing else."""
    block = Image.Exif()
    block[0x0112] = orientation
    return block


def png(width: int, height: int, bits: int, colour_type: int, rows: bytes) -> bytes:
    """A PNG written chunk by chunk (PNG specification, 2nd ed., chapter 5)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        check = zlib.crc32(kind + body)
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", width, height, bits, colour_type, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )


def matrix_profile(primaries: NDArray[np.float64], gamma: float | None = None) -> bytes:
    """A version 2 RGB matrix profile (ICC.1:2001-04) from D50 XYZ primaries in columns.

    Without `gamma` the tone curve is sRGB's (IEC 61966-2-1), as Display P3's is.
    """

    def s15(value: float) -> bytes:
        return struct.pack(">i", round(value * 65536))

    def xyz(values: Any) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(s15(float(v)) for v in values)

    if gamma is None:
        v = np.linspace(0, 1, 1024)
        linear = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
        samples = (65535 * linear).round().astype(">u2").tobytes()
        curve = b"curv\0\0\0\0" + struct.pack(">I", 1024) + samples
    else:
        curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0"
    text = b"text\0\0\0\0test\0\0\0\0"
    description = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"test\0" + bytes(4 + 4 + 2 + 1 + 67)
    description += bytes(-len(description) % 4)
    tags = [
        (b"desc", description),
        (b"cprt", text),
        (b"wtpt", xyz((0.9642, 1.0, 0.8249))),
        (b"rXYZ", xyz(primaries[:, 0])),
        (b"gXYZ", xyz(primaries[:, 1])),
        (b"bXYZ", xyz(primaries[:, 2])),
        (b"rTRC", curve),
        (b"gTRC", curve),
        (b"bTRC", curve),
    ]
    table, body = struct.pack(">I", len(tags)), b""
    offset = 128 + 4 + 12 * len(tags)
    for name, payload in tags:
        table += name + struct.pack(">II", offset + len(body), len(payload))
        body += payload
    size = offset + len(body)
    head = struct.pack(">I4sI4s4s4s", size, b"none", 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    head += bytes(12) + b"acsp" + bytes(28) + s15(0.9642) + s15(1.0) + s15(0.8249)
    return head + bytes(128 - len(head)) + table + body


# Display P3's primaries adapted to D50 (Bradford), as published with CSS Color 4.
DISPLAY_P3_D50 = np.array(
    [
        [0.5151187, 0.2919778, 0.1571035],
        [0.2411892, 0.6922441, 0.0665668],
        [-0.0010505, 0.0418791, 0.7840713],
    ]
)
# sRGB's primaries adapted to D50 (IEC 61966-2-1 by Bradford, from memory).
SRGB_D50 = np.array([[0.4360, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])
