"""What the design should look like: the artwork resampled by Pillow, on the record's pixel grid."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms, ImageOps

from .asked import Asked
from .outline import mask
from .record import Record

FAINT = 248
"""What has no sample darker than this is almost bare."""


@dataclass
class Design:
    """The whole design: RGB, where its pixels are known for certain, and which lie beyond the blank's outline."""

    pixels: np.ndarray
    known: np.ndarray
    beyond: np.ndarray


def artwork(path: Path, tagged: bool) -> Image.Image:
    """The artwork upright, flattened on white; through its own profile to sRGB where the sheets are tagged."""
    with Image.open(path) as opened:
        image = ImageOps.exif_transpose(opened)
    profile = image.info.get("icc_profile")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        clear = image.convert("RGBA")
        image = Image.new("RGBA", clear.size, (255, 255, 255, 255))
        image.alpha_composite(clear)
    image = image.convert("RGB")
    if tagged and profile:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        flags = ImageCms.Flags.BLACKPOINTCOMPENSATION
        to = ImageCms.createProfile("sRGB")
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        image = ImageCms.profileToProfile(image, source, to, renderingIntent=intent, flags=flags)
    return image


def visible(record: Record, size: tuple[int, int]) -> tuple[float, float, float, float]:
    """The part of the artwork that the design shows, in its pixels: all but what ``cover`` cuts off evenly."""
    width, height = size
    if record.raw["fit"] != "cover":
        return 0.0, 0.0, float(width), float(height)
    ratio = min(width / record.design.w, height / record.design.h)
    w, h = record.design.w * ratio, record.design.h * ratio
    return (width - w) / 2, (height - h) / 2, (width + w) / 2, (height + h) / 2


def placement_fault(record: Record, size: tuple[int, int]) -> str:
    """What is wrong with where the picture lies in the design, if anything."""
    picture, design = record.picture, record.design
    if record.raw["fit"] != "contain":
        return "" if picture == design else f"{picture} does not fill {design}"
    ratio = min(design.w / size[0], design.h / size[1])
    wanted = (size[0] * ratio, size[1] * ratio)
    centre = abs(2 * picture.x + picture.w - design.w), abs(2 * picture.y + picture.h - design.h)
    off = max(abs(picture.w - wanted[0]), abs(picture.h - wanted[1]))
    return "" if off <= 1 and max(centre) <= 2 else f"{picture}: {off:.1f} um off {wanted}, centre off {centre}"


def grid(record: Record) -> tuple[int, int]:
    """Columns and rows of the design's pixel grid."""
    return tuple(math.ceil(side * record.ppi / 25400 - 1e-5) for side in (record.design.w, record.design.h))


def resampled(record: Record, source: Image.Image, asked: Asked) -> Design:
    """The design as an independent resampling has it: Lanczos over the exact, fractional source box."""
    columns, rows = grid(record)
    left, top, right, bottom = visible(record, source.size)
    pitch = 25400 / record.ppi
    a, b = record.picture.x / pitch, record.picture.y / pitch
    c, d = record.picture.right / pitch, record.picture.bottom / pitch
    i0, j0 = math.ceil(a - 1e-6), math.ceil(b - 1e-6)
    i1, j1 = math.floor(c + 1e-6), math.floor(d + 1e-6)

    def back(at: float, low: float, high: float, first: float, last: float) -> float:
        return min(max(first + (at - low) / (high - low) * (last - first), first), last)

    box = (
        back(i0, a, c, left, right), back(j0, b, d, top, bottom),
        back(i1, a, c, left, right), back(j1, b, d, top, bottom),
    )  # fmt: skip
    picture = np.asarray(source.resize((i1 - i0, j1 - j0), Image.Resampling.LANCZOS, box=box))
    pixels = np.full((rows, columns, 3), 255, np.uint8)
    pixels[j0:j1, i0:i1] = picture
    # Pixels on the picture's edge are part picture, part bare; how they are mixed is the program's choice.
    known = np.ones((rows, columns), bool)
    for axis, (low, high) in enumerate(((j0, j1), (i0, i1))):
        lines = np.moveaxis(known, axis, 0)
        for at in (low, high):
            lines[max(at - 2, 0) : at + 2] = False
    if asked.cleaned:
        palest = pixels.min(axis=2)
        pixels[palest >= FAINT] = 255
        # By a hair it may be cleaned or not.
        known &= np.abs(palest.astype(int) - FAINT) > 3
    outline = mask(record, asked)
    pixels[~outline.inside] = 255
    return Design(pixels, known & outline.sure, ~outline.inside & outline.sure)
