"""A studio for colours: pictures that keep every pixel on the sheets, and what the sheets then hold."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf

from .studio import CATALOGUE, Studio

PITCH_UM = 500
"""A pixel's side on the blank: whole micrometres, so that none is resampled."""


@dataclass
class Piece:
    """An artwork file, its pixels across and down as they stand upright, and the printer it is for."""

    name: str
    ending: str
    content: bytes
    size: tuple[int, int]
    printer: str = "judge"

    @property
    def file(self) -> str:
        return f"{self.name}.{self.ending}"

    def sidecar(self) -> dict[str, Any]:
        """An order for a blank that the picture just fills."""
        width, height = (f"{pixels * PITCH_UM / 1000}mm" for pixels in self.size)
        blank = {"width": width, "height": height, "shape": "rectangle", "ppi_floor": 20, "ppi_refuse": 10,
                 "colour": "white", "substrate": "judge-cloth"}  # fmt: skip
        return {"blank": blank, "paper": "letter", "printer": self.printer}


@dataclass
class Workbench(Studio):
    """A studio that tags or converts, with its printers' profiles."""

    ppi: int = 0
    overlap: dict[str, Any] = field(default_factory=dict)
    do: str = "tag"
    printers: dict[str, tuple[bytes, str]] = field(default_factory=dict)
    """Printers by name: their profile and intent."""

    def prepare(self, pieces: list[Piece]) -> None:
        """Writes configuration, printers, artwork and orders."""
        stages = [{"resize": {"ppi": "native"}}, {"profile": {"do": self.do}}, "overlap", "tile", "press"]
        texts: dict[str, Any] = {
            "seamwright.yaml": {"studio": ".", "stages": stages, "writers": ["sheets", "record"], "printer": "judge", "quiet": "0s"},
            **CATALOGUE,
        }  # fmt: skip
        files = {f"incoming/{piece.file}": piece.content for piece in pieces}
        for name, (profile, intent) in self.printers.items():
            files[f"printers/{name}.icc"] = profile
            texts[f"printers/{name}.yaml"] = {
                "papers": ["letter"], "margins": "0.25in", "profile": f"{name}.icc", "intent": intent,
            }  # fmt: skip
        texts |= {f"incoming/{piece.name}.yaml": piece.sidecar() for piece in pieces}
        files |= {name: json.dumps(text).encode() for name, text in texts.items()}
        for name, content in files.items():
            path = self.root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)


@dataclass(frozen=True)
class Sheets:
    """What the sheets of a job hold: the whole design as stored, the attached profile, and the record."""

    stored: np.ndarray
    profile: bytes
    record: dict[str, Any]


def sheets(folder: Path) -> Sheets:
    """The images of a job's pages, laid together by their faces; what no page has is bare."""
    record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    design = record["design"]
    whole = [design[side] // PITCH_UM for side in ("height_um", "width_um")]
    stored, profile = None, b""
    with pikepdf.open(folder / "sheets.pdf") as pdf:
        for panel in record["panels"]:
            image = _only_image(pdf.pages[panel["page"] - 1])
            profile = image.ColorSpace[1].read_bytes()
            channels = int(image.ColorSpace[1].N)
            if stored is None:
                stored = np.full((*whole, channels), 0 if channels == 4 else 255, np.uint8)
            x, y, w, h = (um // PITCH_UM for um in panel["face_um"])
            pixels = np.frombuffer(image.read_bytes(), np.uint8).reshape(int(image.Height), int(image.Width), channels)
            stored[y : y + h, x : x + w] = pixels
    return Sheets(stored, profile, record)


def _only_image(page: pikepdf.Page) -> pikepdf.Object:
    images = [thing for thing in page.Resources.XObject.values() if thing.get("/Subtype") == "/Image"]
    if len(images) != 1 or "/Decode" in images[0]:
        raise ValueError(f"{len(images)} images on a page, or one that is decoded in its own way")
    return images[0]
