"""The test print against the sheets: every framed crop is pixels of theirs, at true size and mirrored alike."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pikepdf

from .findings import Findings
from .record import Record

FRAME_PT = 0.4 * 72 / 25.4
"""From the last pixel of a crop to the middle of its frame."""
SAMPLES = 400
"""Pixels of a crop, as many at its edges as anywhere, by which most places of the design are ruled out."""
WHOLE = 6
"""So many of them are looked at everywhere, the rest only where it still may be."""
MOST = 200
"""Places that all these pixels allow and that are compared whole: more of them are all alike."""

Place = tuple[float, float, float, float]


def judge(record: Record, sheets: Path, scrap: Path, found: Findings) -> None:
    """All of it."""
    design, known = laid_together(record, sheets)
    with pikepdf.open(scrap) as pdf:
        found.add("the test print is one page", len(pdf.pages) == 1, f"{len(pdf.pages)}")
        page = pdf.pages[0]
        pixels, (left, bottom, width, height) = picture(page)
        frames = framed(page)
        media = [float(side) for side in page.mediabox]
    paper = [side * 72 / 25400 for side in record.page_um]
    found.add("the test print is on the job's paper", math.dist(media[2:], paper) < 0.01, f"{media[2:]}")
    pitch = 72 / record.ppi
    off = max(abs(width / pixels.shape[1] - pitch), abs(height / pixels.shape[0] - pitch))
    found.add("the test print is at true size", off < 1e-3, f"a pixel is off by {off:.5f} pt")
    found.add("the test print has crops", 1 <= len(frames) <= 3, f"{len(frames)}")
    strange = []
    for x0, y0, x1, y1 in frames:
        columns = [round((x - left) / pitch) for x in (x0 + FRAME_PT, x1 - FRAME_PT)]
        rows = [round((bottom + height - y) / pitch) for y in (y1 - FRAME_PT, y0 + FRAME_PT)]
        crop = pixels[slice(*rows), slice(*columns)]
        if not stands_in(crop[:, ::-1] if record.mirrored else crop, design, known):
            strange.append(f"{crop.shape[1]} x {crop.shape[0]} at {columns[0]}, {rows[0]}")
    found.add("the test print's crops are pixels of the sheets", not strange, "; ".join(strange))


def laid_together(record: Record, sheets: Path) -> tuple[np.ndarray, np.ndarray]:
    """The design as the sheets hold it, pixel by pixel, and where they hold any."""
    pitch = 25400 / record.ppi
    # Whole pixels rounded outward.
    first = lambda um: math.floor(um / pitch + 1e-5)  # noqa: E731
    last = lambda um: math.ceil(um / pitch - 1e-5)  # noqa: E731
    size = [last(record.raw["design"][side]) for side in ("height_um", "width_um")]
    design, known = None, np.zeros(size, bool)
    with pikepdf.open(sheets) as pdf:
        for panel in record.panels:
            part, _ = picture(pdf.pages[panel.page - 1])
            part = part[:, ::-1] if record.mirrored else part
            if design is None:
                design = np.zeros([*size, part.shape[2]], np.int16)
            face = panel.face
            where = np.s_[first(face.y) : last(face.bottom), first(face.x) : last(face.right)]
            design[where], known[where] = part, True
    return design, known


def picture(page: pikepdf.Page) -> tuple[np.ndarray, Place]:
    """The one image of a page, and its left, bottom, width and height in points."""
    (image,) = page.images.values()
    shape = int(image.Height), int(image.Width), -1
    pixels = np.frombuffer(image.read_bytes(), np.uint8).reshape(shape).astype(np.int16)
    for operands, operator in pikepdf.parse_content_stream(page):
        if str(operator) == "cm":
            width, _, _, height, left, bottom = map(float, operands)
            return pixels, (left, bottom, width, height)
    raise ValueError("the page does not place its picture")


def framed(page: pikepdf.Page) -> list[Place]:
    """The closed strokes of four corners: left, bottom, right and top."""
    frames, path = [], []
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "m":
                path = [tuple(map(float, operands))]
            case "l":
                path.append(tuple(map(float, operands)))
            case "S" | "s" if len(set(path)) == 4:
                xs, ys = zip(*path, strict=True)
                frames.append((min(xs), min(ys), max(xs), max(ys)))
    return frames


def stands_in(crop: np.ndarray, design: np.ndarray, known: np.ndarray) -> bool:
    """Whether a crop is somewhere in the design, to within 1 of 255, as far as that is known."""
    (height, width), (rows, columns) = crop.shape[:2], known.shape
    down, across = rows - height + 1, columns - width + 1
    if min(height, width, down, across) < 1:
        return False
    dice = np.random.default_rng(7)
    edges = np.abs(np.diff(crop, axis=1)).max(axis=2)
    strong = dice.permutation(np.argwhere(edges >= np.quantile(edges, 0.99)))[:SAMPLES]
    even = np.stack([dice.integers(height, size=SAMPLES), dice.integers(width, size=SAMPLES)], axis=1)
    points = np.concatenate([strong, even])
    alike = lambda there, pixel: (np.abs(design[there] - pixel).max(axis=-1) <= 1) | ~known[there]  # noqa: E731
    maybe = np.ones((down, across), bool)
    for y, x in points[:WHOLE]:
        maybe &= alike(np.s_[y : y + down, x : x + across], crop[y, x])
    places = np.argwhere(maybe)
    for y, x in points[WHOLE:]:
        places = places[alike((places[:, 0] + y, places[:, 1] + x), crop[y, x])]
    for y, x in places[:MOST]:
        there = np.s_[y : y + height, x : x + width]
        if alike(there, crop).all() and known[there].any():
            return True
    return False
