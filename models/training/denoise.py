"""Take the path tracer's grain out of a render with Open Image Denoise, before the phone adds its.

A photograph has no such grain: at the few samples a pixel that the data can afford it is the
largest difference between renders and photographs. The library is the one that the second
renderer's package brings along (Open Image Denoise 2, Apache-2.0); its C interface is called here,
as the package index has no Python binding of it.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.float32]

DEVICE = {"cpu": 1, "cuda": 3}
"""OIDNDeviceType."""

FLOAT3 = 3
"""OIDNFormat of three 32-bit floats a pixel."""

INPUTS = ("color", "albedo", "normal")


class Denoiser:
    """The ray tracing filter of one device, kept for each picture size.

    ``library`` is ``libOpenImageDenoise.so.2`` with the device's own library beside it.
    """

    def __init__(self, library: Path, kind: Literal["cpu", "cuda"] = "cuda") -> None:
        """Raises ``OSError`` where the library, ``RuntimeError`` where the device is missing."""
        self._lib = ctypes.CDLL(str(library))
        for name in ("NewDevice", "NewBuffer", "NewFilter"):
            getattr(self._lib, f"oidn{name}").restype = ctypes.c_void_p
        self._device = ctypes.c_void_p(self._lib.oidnNewDevice(DEVICE[kind]))
        self._lib.oidnCommitDevice(self._device)
        self._check()
        self._kept: dict[tuple[int, int], tuple[ctypes.c_void_p, dict[str, ctypes.c_void_p]]] = {}

    def _check(self) -> None:
        message = ctypes.c_char_p()
        if self._lib.oidnGetDeviceError(self._device, ctypes.byref(message)):
            said = message.value.decode() if message.value else "no message"
            raise RuntimeError(f"Open Image Denoise: {said}")

    def _filter(
        self, height: int, width: int
    ) -> tuple[ctypes.c_void_p, dict[str, ctypes.c_void_p]]:
        if (height, width) not in self._kept:
            lib = self._lib
            chosen = ctypes.c_void_p(lib.oidnNewFilter(self._device, b"RT"))
            buffers = {}
            size = ctypes.c_size_t
            for name in (*INPUTS, "output"):
                room = size(12 * width * height)
                buffers[name] = ctypes.c_void_p(lib.oidnNewBuffer(self._device, room))
                shape = (size(width), size(height), size(0), size(0), size(0))
                lib.oidnSetFilterImage(chosen, name.encode(), buffers[name], FLOAT3, *shape)
            lib.oidnSetFilterBool(chosen, b"hdr", ctypes.c_bool(True))
            lib.oidnCommitFilter(chosen)
            self._check()
            self._kept[height, width] = (chosen, buffers)
        return self._kept[height, width]

    def __call__(self, colour: Image, albedo: Image, normal: Image) -> Image:
        """Denoised linear RGB (H, W, 3) of a render, its albedo and its normals, (H, W, 3) each.

        Raises ``RuntimeError`` with the library's own message when it fails.
        """
        height, width = colour.shape[:2]
        chosen, buffers = self._filter(height, width)
        room = ctypes.c_size_t(12 * width * height)
        start = ctypes.c_size_t(0)
        for name, image in zip(INPUTS, (colour, albedo, normal), strict=True):
            data = np.ascontiguousarray(image, np.float32)
            self._lib.oidnWriteBuffer(buffers[name], start, room, ctypes.c_void_p(data.ctypes.data))
        self._lib.oidnExecuteFilter(chosen)
        out = np.empty((height, width, 3), np.float32)
        self._lib.oidnReadBuffer(buffers["output"], start, room, ctypes.c_void_p(out.ctypes.data))
        self._check()
        return out


def denoiser_of(library: Path | None, variant: str) -> Denoiser | None:
    """The denoiser on the device that a Mitsuba variant renders on; None without a library."""
    if library is None:
        return None
    return Denoiser(library, "cuda" if variant.startswith("cuda") else "cpu")
