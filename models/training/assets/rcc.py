"""Files inside a Qt binary resource (``.rcc``), as Qt's own ``rcc`` tool writes them.

Layout (Qt's rcc tool, format versions 1 to 3; all integers big-endian): the magic ``qres``, then
the version and the offsets of the tree, the data and the names. A tree node is 14 bytes, 22 from
version 2 on (which adds a time stamp). A name is its length, a hash and UTF-16 text. A data block
is its length and the content, which flag 1 marks as zlib (after a 4-byte plain length).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

MAGIC = b"qres"
COMPRESSED_ZLIB, DIRECTORY, COMPRESSED_ZSTD = 1, 2, 4


def files(data: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield (path, content) of every file; Zstandard-compressed ones are left out.

    Raises:
        ValueError: the bytes are not a Qt resource.
    """
    if data[:4] != MAGIC or len(data) < 20:
        raise ValueError("not a Qt resource: the magic word qres is missing")
    version, tree, contents, names = struct.unpack(">IIII", data[4:20])
    node_size = 14 if version < 2 else 22

    def name_at(offset: int) -> str:
        at = names + offset
        (length,) = struct.unpack(">H", data[at : at + 2])
        return data[at + 6 : at + 6 + 2 * length].decode("utf-16-be")

    def walk(node: int, folder: str) -> Iterator[tuple[str, bytes]]:
        at = tree + node * node_size
        name, flags = struct.unpack(">IH", data[at : at + 6])
        path = folder + name_at(name) if node else ""
        if flags & DIRECTORY:
            count, first = struct.unpack(">II", data[at + 6 : at + 14])
            for child in range(first, first + count):
                yield from walk(child, f"{path}/" if path else "")
            return
        if flags & COMPRESSED_ZSTD:
            return
        (offset,) = struct.unpack(">I", data[at + 10 : at + 14])
        start = contents + offset
        (length,) = struct.unpack(">I", data[start : start + 4])
        content = data[start + 4 : start + 4 + length]
        yield path, zlib.decompress(content[4:]) if flags & COMPRESSED_ZLIB else content

    yield from walk(0, "")
