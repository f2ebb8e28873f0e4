"""Pages as pixels, by three readers that share no code: poppler, MuPDF, Ghostscript.

Two things are read out of a rendered page.

``samples`` takes the device pixel under the middle of each cell of the design's pixel grid. At four
device pixels to one of the design, every reader repeats source pixels instead of blending them, and the
middle stays inside its source pixel even though poppler and MuPDF draw images up to a device pixel too
large. So the very values that were written come back.

``areas`` averages the page over each cell of the grid, edges weighted by their share. It moves with every
fraction of a pixel that the panel moves, so it is what panels are registered by. It needs a reader that puts
pixel borders on the nearest device pixel (Ghostscript) and a resolution that is no multiple of the
design's, so that the rounding of the borders averages out instead of adding up.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from .tools import run

Image.MAX_IMAGE_PIXELS = None

POINT = 25400.0 / 72.0
"""Micrometres in a point."""


def page(reader: str, pdf: Path, number: int, ppi: float) -> np.ndarray:
    """A page as RGB, rendered at ``ppi`` without smoothing."""
    with tempfile.TemporaryDirectory(prefix="page-") as folder:
        out = Path(folder) / "page"
        if reader == "poppler":
            off = ["-aa", "no", "-aaVector", "no"]
            run("pdftoppm", "-r", f"{ppi:.6f}", "-f", number, "-l", number, "-singlefile", *off, pdf, out)
            file = out.with_suffix(".ppm")
        elif reader == "mupdf":
            file = out.with_suffix(".ppm")
            run("mutool", "draw", "-q", "-A", 0, "-c", "rgb", "-r", f"{ppi:.6f}", "-o", file, pdf, number)
        elif reader == "ghostscript":
            file = out.with_suffix(".ppm")
            pages = [f"-dFirstPage={number}", f"-dLastPage={number}"]
            quiet = ["-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-dNOINTERPOLATE", "-dUseTrimBox=false"]
            run("gs", *quiet, "-sDEVICE=ppmraw", f"-r{ppi:.6f}", *pages, f"-sOutputFile={file}", pdf)
        else:
            raise ValueError(reader)
        with Image.open(file) as image:
            return np.asarray(image.convert("RGB"))


def manages_colour(reader: str, pdf: Path) -> bool:
    """Whether a reader heeds attached profiles; Debian's MuPDF is built without, and says so."""
    if reader != "mupdf":
        return True
    with tempfile.TemporaryDirectory(prefix="page-") as folder:
        said = run("mutool", "draw", "-q", "-c", "rgb", "-r", 10, "-o", Path(folder) / "page.ppm", pdf, 1)
    return "ICC support is not available" not in said


def positions(start_um: float, count: int, pitch_um: float, turned: bool, ppi: float) -> np.ndarray:
    """Borders of ``count`` grid cells in device pixels; ``start_um`` is where the first begins on the page."""
    steps = np.arange(count + 1) * pitch_um
    return (start_um - steps if turned else start_um + steps) * ppi / 25400.0


def samples(shot: np.ndarray, across: np.ndarray, down: np.ndarray) -> np.ndarray:
    """The device pixels under the middles of the grid's cells."""
    x = np.clip(np.floor((across[:-1] + across[1:]) / 2).astype(int), 0, shot.shape[1] - 1)
    y = np.clip(np.floor((down[:-1] + down[1:]) / 2).astype(int), 0, shot.shape[0] - 1)
    return shot[np.ix_(y, x)]


def areas(shot: np.ndarray, across: np.ndarray, down: np.ndarray) -> np.ndarray:
    """The mean over each of the grid's cells, of the brightness."""
    bright = shot.astype(np.float32).mean(axis=2).astype(np.float64)
    return _means(_means(bright, across, 1), down, 0)


def _means(values: np.ndarray, borders: np.ndarray, axis: int) -> np.ndarray:
    """Means between borders that need not be whole, along one axis."""
    sums = np.insert(np.cumsum(values, axis=axis), 0, 0.0, axis=axis)
    at = np.clip(borders, 0, values.shape[axis])
    low = np.minimum(np.floor(at).astype(int), values.shape[axis] - 1)
    share = at - low
    shape = (-1, 1) if axis == 0 else (1, -1)
    below, above = np.take(sums, low, axis=axis), np.take(sums, low + 1, axis=axis)
    along = below + (above - below) * share.reshape(shape)
    width = np.diff(at).reshape(shape)
    width = np.where(np.abs(width) < 1e-9, np.nan, width)
    return np.diff(along, axis=axis) / width
