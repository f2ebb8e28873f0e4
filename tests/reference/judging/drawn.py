"""Drawings against other renderers: SVG against librsvg, pages of PDF against poppler, in the very pixels of the sheets.

Two renderers never agree on the shades of an edge, and need not. So pixels near an edge are set aside: those within two of a
place where the other renderer's picture changes by more than an eighth of full. Over what is left, the noise that makes ours of
theirs is at least 30 dB below full (PSNR). Setting edges aside must not set shapes aside: so both are also shrunk to a fourth,
each pixel the mean of sixteen, and compared there with no pixel set aside; a line that is missing or elsewhere shows.
"""

from __future__ import annotations

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pikepdf
from PIL import Image

from .scrap import picture
from .studio import CATALOGUE, write

PITCH_UM = 200
"""A pixel's side on the blank, at 127 ppi."""
LARGEST = (1000, 1000)
"""Pixels across and down that go onto one sheet."""
STEP, NEAR, SHRUNK = 32, 2, 4
LEAST, LEAST_SHRUNK = 30.0, 24.0
"""Decibels; between pictures that are shrunk the shades of edges still tell."""
MOST_EDGE = 0.6
"""The share that may be set aside."""


@dataclass(frozen=True)
class Art:
    """A drawing, and the page of it."""

    name: str
    file: Path
    page: int = 1

    @property
    def is_pdf(self) -> bool:
        return self.file.suffix == ".pdf"


@dataclass(frozen=True)
class Compared:
    """How far two pictures are apart."""

    aside: float
    psnr: float
    shrunk: float

    @property
    def held(self) -> bool:
        return self.psnr >= LEAST and self.shrunk >= LEAST_SHRUNK and self.aside <= MOST_EDGE

    def __str__(self) -> str:
        return f"{self.psnr:.1f} dB with {self.aside:.0%} set aside, {self.shrunk:.1f} dB shrunk with none"


def size(art: Art) -> tuple[int, int]:
    """Pixels across and down, of the drawing's own proportions."""
    if art.is_pdf:
        with pikepdf.open(art.file) as pdf:
            page = pdf.pages[art.page - 1]
            box = [float(side) for side in page.cropbox]
            sides = box[2] - box[0], box[3] - box[1]
            if int(page.obj.get("/Rotate", 0)) % 180:
                sides = sides[::-1]
    else:
        told = subprocess.run(["rsvg-convert", "-f", "png", art.file], capture_output=True, check=True).stdout
        sides = np.frombuffer(told[16:24], ">u4").astype(float)
    scale = min(LARGEST[0] / sides[0], LARGEST[1] / sides[1])
    return max(1, round(sides[0] * scale)), max(1, round(sides[1] * scale))


def theirs(art: Art, to: tuple[int, int], folder: Path) -> np.ndarray:
    """What the other renderer makes of it, on white."""
    out = folder / "theirs"
    if art.is_pdf:
        command = ["pdftoppm", "-f", art.page, "-l", art.page, "-singlefile", "-cropbox", "-scale-to-x", to[0], "-scale-to-y", to[1], "-png", art.file, out]
        out = out.with_suffix(".png")
    else:
        command = ["rsvg-convert", "-w", to[0], "-h", to[1], "-b", "white", "-o", out, art.file]
    subprocess.run([str(word) for word in command], capture_output=True, check=True, timeout=120)
    with Image.open(out) as image:
        return np.asarray(image.convert("RGB"), np.int16)


def prepare(root: Path, pieces: dict[Art, tuple[int, int]]) -> None:
    """A studio in which every drawing has the pixels it shall have."""
    stages = [{"resize": {"ppi": 25_400 / PITCH_UM}}, {"profile": {"do": "tag"}}, "overlap", "tile", "press"]
    texts = {"seamwright.yaml": {"studio": ".", "stages": stages, "writers": ["sheets", "record"], "printer": "judge", "quiet": "0s"}} | CATALOGUE
    for art, pixels in pieces.items():
        width, height = (f"{side * PITCH_UM / 1000}mm" for side in pixels)
        blank = {"width": width, "height": height, "shape": "rectangle", "colour": "white", "substrate": "judge-cloth"}
        order = {"blank": blank, "fit": "stretch"} | ({"page": art.page} if art.page > 1 else {})
        texts[f"incoming/{art.name}.yaml"] = order
        (root / "incoming").mkdir(parents=True, exist_ok=True)
        (root / f"incoming/{art.name}{art.file.suffix}").write_bytes(art.file.read_bytes())
    write(root, texts)


def ours(folder: Path) -> np.ndarray:
    """The design as the sheets hold it."""
    record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    width, height = (record["design"][side] // PITCH_UM for side in ("width_um", "height_um"))
    whole = np.full((height, width, 3), 255, np.int16)
    with pikepdf.open(folder / "sheets.pdf") as pdf:
        for panel in record["panels"]:
            pixels, _ = picture(pdf.pages[panel["page"] - 1])
            left, top = (um // PITCH_UM for um in panel["face_um"][:2])
            pixels = pixels[:, ::-1] if record["mirrored"] else pixels
            whole[top : top + pixels.shape[0], left : left + pixels.shape[1]] = pixels
    return whole


def compare(one: np.ndarray, other: np.ndarray) -> Compared:
    """Ours and theirs."""
    near = edges(other)
    inner = (one - other)[~near]
    return Compared(float(near.mean()), psnr(inner), psnr(shrink(one) - shrink(other)))


def psnr(off: np.ndarray) -> float:
    """Decibels below full; a hundred where nothing differs."""
    error = float(np.square(off, dtype=float).mean()) if off.size else np.inf
    return 100.0 if error < 255**2 * 1e-10 else 10 * np.log10(255**2 / error)


def edges(pixels: np.ndarray) -> np.ndarray:
    """Which pixels are near a step."""
    high = low = pixels
    for axis in (0, 1):
        parts = [np.roll(high, shift, axis) for shift in range(-NEAR, NEAR + 1)]
        low = np.minimum.reduce([np.roll(low, shift, axis) for shift in range(-NEAR, NEAR + 1)])
        high = np.maximum.reduce(parts)
    return (high - low).max(2) > STEP


def shrink(pixels: np.ndarray) -> np.ndarray:
    """To a fourth each way, each pixel the mean of those it stands for."""
    height, width = (side // SHRUNK * SHRUNK for side in pixels.shape[:2])
    parts = pixels[:height, :width].reshape(height // SHRUNK, SHRUNK, width // SHRUNK, SHRUNK, 3)
    return parts.mean((1, 3))
