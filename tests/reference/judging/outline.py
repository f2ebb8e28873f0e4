"""The blank's outline on the design: beyond it nothing may be printed.

An oval grown by a bleed or shrunk by an inset has both half-axes changed by the amount; a half-moon is half of one,
its centre on the blank's flat edge, the flat edge moved by the amount; round corners have their radius changed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .asked import Asked
from .assembly import window
from .findings import Findings
from .record import Record


@dataclass(frozen=True)
class Blank:
    """The blank on the face: its left top and size in micrometres, and what changes its outline."""

    shape: str
    x: float
    y: float
    w: float
    h: float
    reach: float
    radius: float

    def inside(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Which places lie within the outline."""
        across, down = np.abs(x - self.x - self.w / 2), y - self.y
        if self.shape in ("oval", "round"):
            return _oval(across, down - self.h / 2, self.w / 2 + self.reach, self.h / 2 + self.reach)
        if self.shape == "half-moon":
            flat = down - self.h
            return (flat <= self.reach) & _oval(
                across, np.minimum(flat, 0), self.w / 2 + self.reach, self.h + self.reach
            )
        radius = max(self.radius + self.reach, 0.0) if self.shape == "rounded" else 0.0
        # How far beyond the middle of its corner's circle.
        right = across - (self.w / 2 + self.reach - radius)
        below = np.abs(down - self.h / 2) - (self.h / 2 + self.reach - radius)
        return (np.maximum(right, below) <= radius) & (np.hypot(np.maximum(right, 0), np.maximum(below, 0)) <= radius)


def _oval(x: np.ndarray, y: np.ndarray, across: float, down: float) -> np.ndarray:
    """Within half-axes ``across`` and ``down``, from the middle."""
    return (x / across) ** 2 + (y / down) ** 2 <= 1


def blank(record: Record, asked: Asked) -> Blank:
    """The record's blank as it lies under the design."""
    raw = record.raw["blank"]
    x, y = raw["placed_um"]
    return Blank(raw["shape"], -x, -y, raw["width_um"], raw["height_um"], asked.reach_um, asked.radius_um)


@dataclass(frozen=True)
class Mask:
    """Which of the design's pixels have their middle within the outline, and where that is beyond doubt."""

    inside: np.ndarray
    sure: np.ndarray


def mask(record: Record, asked: Asked) -> Mask:
    """Of the whole design; in doubt is a pixel that has not all its neighbours on its own side."""
    pitch, whole = 25400 / record.ppi, window(record, record.design)
    x, y = (np.arange(-1, whole.i1 + 1) + 0.5) * pitch, (np.arange(-1, whole.j1 + 1) + 0.5) * pitch
    wide = blank(record, asked).inside(x[None, :], y[:, None])
    if record.raw["blank"]["shape"] == "rectangle":
        # The design lies within its blank's area; what a pixel's last part is beyond the edge is of no matter.
        wide = np.ones_like(wide)
    near = [wide[j : j + whole.j1, i : i + whole.i1] for j in range(3) for i in range(3)]
    inside = wide[1:-1, 1:-1]
    return Mask(inside, np.logical_and.reduce(near) | ~np.logical_or.reduce(near))


def judge(record: Record, asked: Asked, found: Findings) -> None:
    """The design lies where it was ordered, in the middle of the blank where nothing was."""
    raw, place, off = record.raw["blank"], dict(asked.place), []
    sides = (raw["width_um"], record.design.w, "left", "right"), (raw["height_um"], record.design.h, "top", "bottom")
    for (blank, design, start, end), at in zip(sides, raw["placed_um"], strict=True):
        twice = 2 * place[start] if start in place else 2 * (blank - design - place[end]) if end in place else blank - design
        off.append(abs(2 * at - twice))
    found.add("the design lies where it is to", max(off) <= 1, f"{raw['placed_um']} um")
