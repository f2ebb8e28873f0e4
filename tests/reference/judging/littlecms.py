"""LittleCMS itself, the library that comes with Pillow, in double precision and without its shortcuts.

Pillow hands over 8 bits only, in which LittleCMS is badly off in the shadows of some printer profiles; so its library is
called directly. Not the system's: how black points are found has changed between versions, by up to 9 CIEDE2000 between
2.14 and 2.19.
"""

from __future__ import annotations

import ctypes
import functools
from pathlib import Path

import numpy as np
import PIL

PERCEPTUAL, RELATIVE, SATURATION, ABSOLUTE = range(4)
_SPACES = {b"GRAY": (3, 1), b"RGB ": (4, 3), b"CMYK": (6, 4), b"Lab ": (10, 3)}
"""The library's number of a colour space, and its channels (lcms2.h)."""
_EXACT = 0x0100 | 0x0040
"""No optimisation, no cache."""
_BLACK_POINT = 0x2000
LAB = b"*Lab"
"""Stands for Lab itself among profiles."""


@functools.cache
def library() -> ctypes.CDLL | None:
    """The library, if Pillow was installed with one of its own."""
    files = sorted((Path(PIL.__file__).parent.parent / "pillow.libs").glob("liblcms2*.so*"))
    if not files:
        return None
    found = ctypes.CDLL(str(files[0]))
    for name, result, arguments in (
        ("cmsOpenProfileFromMem", ctypes.c_void_p, [ctypes.c_char_p, ctypes.c_uint32]),
        ("cmsCreateLab4Profile", ctypes.c_void_p, [ctypes.c_void_p]),
        ("cmsCreateTransform", ctypes.c_void_p, [ctypes.c_void_p, ctypes.c_uint32] * 2 + [ctypes.c_uint32] * 2),
        ("cmsDoTransform", None, [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_uint32]),
        ("cmsDeleteTransform", None, [ctypes.c_void_p]),
        ("cmsCloseProfile", ctypes.c_int, [ctypes.c_void_p]),
    ):
        function = getattr(found, name)
        function.restype, function.argtypes = result, arguments
    return found


def convert(
    values: np.ndarray, source: bytes, target: bytes, intent: int = RELATIVE, black_point: bool = False
) -> np.ndarray:
    """Colours through two profiles; device values run from 0 to 1."""
    cms = library()
    ends = [
        cms.cmsCreateLab4Profile(None) if p == LAB else cms.cmsOpenProfileFromMem(p, len(p)) for p in (source, target)
    ]
    spaces = [b"Lab " if p == LAB else p[16:20] for p in (source, target)]
    forms = [1 << 22 | number << 16 | channels << 3 for number, channels in (_SPACES[space] for space in spaces)]
    way = cms.cmsCreateTransform(ends[0], forms[0], ends[1], forms[1], intent, _EXACT | _BLACK_POINT * black_point)
    if not way:
        raise ValueError("LittleCMS cannot convert between these profiles")
    # Ink is counted in percent in there.
    scale = [100.0 if space == b"CMYK" else 1.0 for space in spaces]
    flat = np.ascontiguousarray(values.reshape(-1, values.shape[-1]) * scale[0], np.float64)
    out = np.empty((len(flat), _SPACES[spaces[1]][1]))
    cms.cmsDoTransform(way, flat.ctypes.data, out.ctypes.data, len(flat))
    cms.cmsDeleteTransform(way)
    for end in ends:
        cms.cmsCloseProfile(end)
    out = out / scale[1] if target == LAB else np.clip(out / scale[1], 0, 1)
    return out.reshape(*values.shape[:-1], -1)
