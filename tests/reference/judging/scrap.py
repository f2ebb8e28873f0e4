"""The test print against the sheets: every framed crop is pixels of theirs, from where its caption says, mirrored alike."""

from __future__ import annotations

import math
import re
import tempfile
from pathlib import Path

import numpy as np
import pikepdf

from .findings import Findings
from .record import Record
from .tools import run

FRAME_PT = 0.4 * 72 / 25.4
"""From the last pixel of a crop to the middle of its frame."""
CAPTION = re.compile(r"([\d.]+) (in|mm) from the left, ([\d.]+) (?:in|mm) from the top")
ROUNDED_UM = {"in": 127, "mm": 50}
"""Half of a caption's last digit."""

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
        said = captions(page, record.mirrored)
    paper = [side * 72 / 25400 for side in record.page_um]
    found.add("the test print is on the job's paper", math.dist(media[2:], paper) < 0.01, f"{media[2:]}")
    pitch = 72 / record.ppi
    off = max(abs(width / pixels.shape[1] - pitch), abs(height / pixels.shape[0] - pitch))
    found.add("the test print is at true size", off < 1e-3, f"a pixel is off by {off:.5f} pt")
    found.add("the test print has crops", 1 <= len(frames) <= 3, f"{len(frames)}")
    found.add("every crop says where it is from", len(said) == len(frames), f"{len(said)} of {len(frames)}")
    strange = []
    for (x0, y0, x1, y1), place in zip(frames, said, strict=False):
        columns = [round((x - left) / pitch) for x in (x0 + FRAME_PT, x1 - FRAME_PT)]
        rows = [round((bottom + height - y) / pitch) for y in (y1 - FRAME_PT, y0 + FRAME_PT)]
        crop = pixels[slice(*rows), slice(*columns)]
        if not stands(crop[:, ::-1] if record.mirrored else crop, design, known, place, 25400 / record.ppi):
            strange.append(f"{crop.shape[1]} x {crop.shape[0]} at {columns[0]}, {rows[0]}, said to be from {place}")
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


def captions(page: pikepdf.Page, mirrored: bool) -> list[tuple[float, float, int]]:
    """Where each crop says it is from, left and top in micrometres, and half of the last digit said."""
    with pikepdf.new() as alone, tempfile.TemporaryDirectory() as folder:
        alone.pages.append(page)
        if mirrored:
            # Mirrored words can be read once the page is.
            alone.pages[0].contents_add(f"-1 0 0 1 {page.mediabox[2]} 0 cm\n".encode(), prepend=True)
        alone.save(file := Path(folder) / "page.pdf")
        text = " ".join(run("pdftotext", "-raw", file, "-").split())
    scale = {"in": 25400, "mm": 1000}
    return [
        (float(x) * scale[unit], float(y) * scale[unit], ROUNDED_UM[unit]) for x, unit, y in CAPTION.findall(text)
    ]


def stands(
    crop: np.ndarray, design: np.ndarray, known: np.ndarray, place: tuple[float, float, int], pitch: float
) -> bool:
    """Whether a crop is the design from there on, to within 1 of 255, as far as that is known."""
    x, y, off = place
    # Its first pixel is the one that the crop begins in.
    choices = [range(max(0, int((at - off) // pitch)), int((at + off) // pitch) + 1) for at in (y, x)]
    for top in choices[0]:
        for left in choices[1]:
            there = np.s_[top : top + crop.shape[0], left : left + crop.shape[1]]
            seen = known[there]
            if seen.shape == crop.shape[:2] and seen.any() and np.abs(design[there] - crop)[seen].max() <= 1:
                return True
    return False
