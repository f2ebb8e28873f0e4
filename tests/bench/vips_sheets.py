#!/usr/bin/env python3
"""The yardstick: the sheets of one job, written with libvips as fast as we know how.

Decoded, flattened, scaled (Lanczos), converted, mirrored and streamed out by libvips on all cores; cut into panels, given
the Up predictor and deflated (ISA-L, level 1) on two threads as the rows arrive; one PDF put together by hand.
No marks, no notes, no record. libvips lays an enlarged picture half a pixel aside and enlarges by a bicubic
kernel: it does slightly less than the work it is measured against.
"""

from __future__ import annotations

import fcntl
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from threading import Thread
from typing import Any, BinaryIO

import numpy as np
import panels
import pyvips
from isal import isal_zlib

BAND = 128
"""Rows that are taken together."""


@dataclass
class Panel:
    """One panel being deflated."""

    x: tuple[int, int]
    y: tuple[int, int]
    squeeze: Any = field(default_factory=lambda: isal_zlib.compressobj(1))
    above: np.ndarray | None = None
    parts: list[bytes] = field(default_factory=list)

    def take(self, top: int, rows: np.ndarray) -> None:
        """Takes what is its own of a band of rows that begins at ``top``."""
        low, high = max(top, self.y[0]), min(top + len(rows), self.y[1])
        if low >= high:
            return
        mine = rows[low - top : high - top, self.x[0] : self.x[1]].reshape(high - low, -1)
        if self.above is None:
            self.above = np.zeros(mine.shape[1], np.uint8)
        out = np.empty((len(mine), mine.shape[1] + 1), np.uint8)
        out[:, 0] = 2
        np.subtract(mine[0], self.above, out=out[0, 1:])
        np.subtract(mine[1:], mine[:-1], out=out[1:, 1:])
        self.above = mine[-1].copy()
        self.parts.append(self.squeeze.compress(out))


class Sheets:
    """Takes the design as a stream of bytes and writes a page whenever a row of panels is full."""

    def __init__(self, out: BinaryIO, width: int, panels: list[Panel], page: tuple[float, float], ppi: float) -> None:
        self.out, self.width, self.panels, self.page, self.ppi = out, width, panels, page, ppi
        self.rest, self.top, self.at, self.kids = bytearray(), 0, [0, 0], []
        self.pool = ThreadPoolExecutor(2)
        out.write(b"%PDF-1.7\n")

    def write(self, chunk: bytes) -> None:
        """Rows as they come."""
        self.rest += chunk
        if len(self.rest) >= BAND * self.width * 3:
            self.flush()

    def flush(self) -> None:
        """Deflates the whole rows that have come."""
        count = len(self.rest) // (self.width * 3)
        whole = count * self.width * 3
        rows = np.frombuffer(bytes(memoryview(self.rest)[:whole]), np.uint8).reshape(count, self.width, 3)
        del self.rest[:whole]
        list(self.pool.map(lambda panel: panel.take(self.top, rows), self.panels))
        self.top += count
        while self.panels and self.panels[0].y[1] <= self.top:
            self.put(self.panels.pop(0))

    def put(self, panel: Panel) -> None:
        """Writes a panel's page."""
        body = b"".join([*panel.parts, panel.squeeze.flush()])
        w, h = panel.x[1] - panel.x[0], panel.y[1] - panel.y[0]
        image = self.object(
            b"<</Type/XObject/Subtype/Image/Width %d/Height %d/BitsPerComponent 8/ColorSpace/DeviceRGB/Filter/FlateDecode"
            b"/DecodeParms<</Predictor 15/Colors 3/Columns %d>>/Length %d>>stream\n" % (w, h, w, len(body)),
            body,
            b"\nendstream",
        )
        place = b"%f 0 0 %f 18 18 cm /I Do" % (w * 72 / self.ppi, h * 72 / self.ppi)
        content = self.object(b"<</Length %d>>stream\n" % len(place), place, b"\nendstream")
        self.kids.append(
            self.object(
                b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 %f %f]/Contents %d 0 R/Resources<</XObject<</I %d 0 R>>>>>>"
                % (*self.page, content, image)
            )
        )

    def object(self, *body: bytes, number: int | None = None) -> int:
        """Writes an object and gives its number."""
        if number is None:
            self.at.append(0)
            number = len(self.at)
        self.at[number - 1] = self.out.tell()
        self.out.writelines([b"%d 0 obj " % number, *body, b" endobj\n"])
        return number

    def close(self) -> None:
        """The rest of the file."""
        self.flush()
        kids = b" ".join(b"%d 0 R" % kid for kid in self.kids)
        self.object(b"<</Type/Pages/Count %d/Kids[%b]>>" % (len(self.kids), kids), number=2)
        self.object(b"<</Type/Catalog/Pages 2 0 R>>", number=1)
        start = self.out.tell()
        self.out.write(b"xref\n0 %d\n0000000000 65535 f \n" % (len(self.at) + 1))
        self.out.writelines(b"%010d 00000 n \n" % place for place in self.at)
        self.out.write(b"trailer<</Size %d/Root 1 0 R>>startxref\n%d\n%%%%EOF\n" % (len(self.at) + 1, start))


def stream(image: pyvips.Image, sheets: Sheets) -> None:
    """Lets libvips work on all its threads into a pipe, and takes the rows from it."""
    taking, giving = os.pipe()
    fcntl.fcntl(giving, fcntl.F_SETPIPE_SZ, 1 << 20)

    def give() -> None:
        image.rawsave_fd(giving)
        os.close(giving)

    thread = Thread(target=give)
    thread.start()
    while chunk := os.read(taking, 1 << 20):
        sheets.write(chunk)
    thread.join()


def main() -> None:
    """Reads the command line."""
    asked = panels.asked(__doc__)
    width, height = (round(side * asked.ppi) for side in asked.size)
    image = pyvips.Image.new_from_file(str(asked.artwork), access="sequential")
    if image.hasalpha():
        image = image.flatten(background=[255, 255, 255])
    wider, higher = width / image.width, height / image.height
    if (wider, higher) != (1.0, 1.0):
        image = image.resize(wider, vscale=higher, kernel="lanczos3")
    if asked.profile:
        image = image.icc_transform(
            asked.profile, input_profile="srgb", intent="relative", black_point_compensation=True
        )
    image = image.fliphor()
    across, down = panels.panels(asked, width, height)
    parts = [Panel(x, y) for y in down for x in across]
    with asked.pdf.open("wb") as out:
        sheets = Sheets(out, width, parts, (asked.page[0] * 72, asked.page[1] * 72), asked.ppi)
        stream(image, sheets)
        sheets.close()


if __name__ == "__main__":
    main()
