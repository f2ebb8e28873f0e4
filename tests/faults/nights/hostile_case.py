"""What a hostile case is: files in a folder of their own in the inbox, and how they must end."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from judging import pictures

from .studio import BLANK

DONE, REFUSED, EITHER, LEFT = "done", "refused", "done or refused", "left alone"
"""Ends. Where the formats leave it open whether a file is still good, either is right."""
PIXEL_MM = 2
"""What a pixel measures on the blanks of the orders below, so that sheets hold the picture's own pixels."""

Maker = Callable[[Path, Path], None]


@dataclass(frozen=True)
class Case:
    """One set of files, in a folder of the inbox that is called ``key``."""

    key: str
    end: str
    files: dict[bytes, bytes] = field(default_factory=dict)
    """Plain files by their name, or their way below the folder."""
    says: str = ""
    """A word that the reason must have."""
    pixels: np.ndarray | None = None
    """What the sheets must hold, from 0 to 1."""
    off: int = 1
    """By how much of 255 they may differ."""
    stays: frozenset[bytes] = frozenset()
    """What must lie where it was in the end, though the rest is taken."""
    make: Maker | None = None
    """Makes what is no plain file, in the case's folder, with what lies outside of the studio."""

    def taken(self) -> dict[bytes, bytes]:
        """The files that must go with the job, by name."""
        gone = {} if self.end == LEFT else self.files
        return {name.rpartition(b"/")[2]: data for name, data in gone.items() if name not in self.stays}

    def left(self) -> frozenset[bytes]:
        """What must lie where it was."""
        return frozenset(self.files) | self.stays if self.end == LEFT else self.stays


def paint(key: str, width: int = 24, height: int = 24, channels: int = 3) -> np.ndarray:
    """Pixels that no other key has, none of them white."""
    seed = int.from_bytes(hashlib.sha256(key.encode()).digest()[:4], "big")
    return np.random.default_rng(seed).integers(20, 200, (height, width, channels), np.uint8)


def good_picture(key: str) -> bytes:
    """A PNG that nothing is wrong with."""
    return pictures.png(paint(key))


def order(width: int = 24, height: int = 24, **more: object) -> bytes:
    """A sidecar for a picture of so many pixels, each of which is printed as it is."""
    blank = BLANK | {"width": f"{width * PIXEL_MM}mm", "height": f"{height * PIXEL_MM}mm"}
    return json.dumps({"blank": blank, "allow_low_ppi": True} | more).encode()


def picture_case(key: str, end: str, picture: bytes, *, says: str = "", name: bytes = b"chart.png", off: int | None = None) -> Case:
    """A picture with an order that nothing is wrong with. Where it must be done, what Pillow sees in it must be printed."""
    if end != DONE or off is None:
        return Case(key, end, {name: picture, b"chart.yaml": order()}, says)
    values, _ = pictures.read(io.BytesIO(picture))
    height, width, _ = values.shape
    return Case(key, end, {name: picture, b"chart.yaml": order(width, height)}, says, values, off)


def order_case(key: str, end: str, sidecar: bytes | str, says: str = "", **more: object) -> Case:
    """An order with a picture that nothing is wrong with."""
    text = sidecar.encode() if isinstance(sidecar, str) else sidecar
    return Case(key, end, {b"chart.png": good_picture(key), b"chart.yaml": text}, says, **more)
