"""Artwork files of every format: written here, and read by Pillow as values from 0 to 1 with their profile."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageOps


def chunk(name: bytes, content: bytes) -> bytes:
    """A chunk of a PNG."""
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def iccp(profile: bytes) -> bytes:
    """The chunk that holds a profile."""
    return chunk(b"iCCP", b"profile\0\0" + zlib.compress(profile))


def png(pixels: np.ndarray, *chunks: bytes) -> bytes:
    """A PNG of 8 or 16 bits with these chunks before its pixels; its kind follows from the number of channels."""
    height, width, channels = pixels.shape
    kind = {1: 0, 2: 4, 3: 2, 4: 6}[channels]
    rows = pixels.astype(">u2" if pixels.dtype == np.uint16 else np.uint8).reshape(height, -1).view(np.uint8)
    packed = zlib.compress(b"".join(b"\0" + row.tobytes() for row in rows))
    head = struct.pack(">IIBBBBB", width, height, pixels.dtype.itemsize * 8, kind, 0, 0, 0)
    parts = [chunk(b"IHDR", head), *chunks, chunk(b"IDAT", packed), chunk(b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def saved(pixels: np.ndarray, kind: str, **how: Any) -> bytes:
    """A file as Pillow writes it; four channels are CMYK unless ``alpha`` says that the last is opacity."""
    mode = {1: "L", 3: "RGB", 4: "RGBA" if how.pop("alpha", False) else "CMYK"}[pixels.shape[2]]
    image = Image.frombytes(mode, pixels.shape[1::-1], np.ascontiguousarray(pixels).tobytes())
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def read(file: Path | io.BytesIO) -> tuple[np.ndarray, bytes | None]:
    """Values as Pillow reads them, upright, over white, rounded to what 8 bits hold; and the profile."""
    with Image.open(file) as opened:
        opened.load()
        profile = opened.info.get("icc_profile")
        if profile is None and opened.format == "JPEG" and opened.icclist:
            # Pillow collects the pieces but does not use them where they come after the frame's head.
            profile = b"".join(piece[14:] for piece in sorted(opened.icclist))
        image = ImageOps.exif_transpose(opened)
        # Pillow takes ink in every JPEG as inverted. Without APP14 it is not.
        turned = opened.format == "JPEG" and image.mode == "CMYK" and "adobe" not in opened.info
    if image.mode == "I;16":
        return np.asarray(image)[..., None] / 65535, profile
    if image.mode == "1":
        image = image.convert("L")
    if image.mode == "P" or "transparency" in image.info:
        image = image.convert("RGBA")
    values = np.atleast_3d(np.asarray(image)) / 255
    if image.mode in ("LA", "RGBA"):
        values = over_white(values)
    return (1 - values if turned else values), profile


def over_white(values: np.ndarray) -> np.ndarray:
    """Straight colour and opacity laid over white, in the encoded values as picture editors do, to 8 bits."""
    colour, opacity = values[..., :-1], values[..., -1:]
    return np.rint(255 * (colour * opacity + 1 - opacity)) / 255
