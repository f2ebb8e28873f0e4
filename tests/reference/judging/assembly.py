"""The lay-up put together as a maker does it: sheets cut by the record, laid on each other, turned over.

Of each sheet that paper is kept which a maker keeps: trimmed edges, and edges where the lay-up ends, are cut at the
cell; the others keep all their paper, printed or not, which will lie under the neighbour, or beside it on the
blank. Seen ink side up, what is on top is what touches the blank.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .findings import Findings
from .record import Box, Panel, Record
from .stacking import laid


@dataclass(frozen=True)
class Paper:
    """A rectangle of paper in micrometres of the lay-up, ink side up."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass
class Window:
    """A rectangle of the design's pixel grid."""

    i0: int
    j0: int
    i1: int
    j1: int

    @property
    def slices(self) -> tuple[slice, slice]:
        return slice(self.j0, self.j1), slice(self.i0, self.i1)


def window(record: Record, face: Box) -> Window:
    """The grid cells that a rectangle of the face touches."""
    per = record.ppi / 25400
    return Window(
        math.floor(face.x * per + 1e-5), math.floor(face.y * per + 1e-5),
        math.ceil(face.right * per - 1e-5), math.ceil(face.bottom * per - 1e-5),
    )  # fmt: skip


def middles(record: Record, box: Box, at: Window) -> np.ndarray:
    """Which of the window's pixels have their middle in a rectangle of the face."""
    pitch = 25400 / record.ppi
    x = (np.arange(at.i0, at.i1) + 0.5) * pitch
    y = (np.arange(at.j0, at.j1) + 0.5) * pitch
    return ((y >= box.y) & (y < box.bottom))[:, None] & ((x >= box.x) & (x < box.right))[None, :]


def kept(record: Record, panel: Panel) -> Paper:
    """The paper that stays of a panel's sheet."""
    cut = record.outer(panel) | set(panel.trim)
    face, cell = record.on_paper(panel.face), record.on_paper(panel.cell)
    left, top = record.page_left_top(panel)
    x, y = face.x - left, face.y - top
    return Paper(
        cell.x if "left" in cut else x,
        cell.y if "top" in cut else y,
        cell.right if "right" in cut else x + record.page_um[0],
        cell.bottom if "bottom" in cut else y + record.page_um[1],
    )


def turned_over(record: Record, panel: Panel) -> Box:
    """What a panel's kept paper covers of the design."""
    paper = kept(record, panel)
    left, right = paper.left, paper.right
    if record.mirrored:
        left, right = record.design.w - right, record.design.w - left
    x, y = max(math.floor(left), 0), max(math.floor(paper.top), 0)
    right, bottom = min(math.floor(right), record.design.w), min(math.floor(paper.bottom), record.design.h)
    return Box(x, y, right - x, bottom - y)


def cells(record: Record) -> np.ndarray:
    """For each pixel of the design the number of the panel whose cell it is in, or 0."""
    whole = window(record, record.design)
    found = np.zeros((whole.j1, whole.i1), np.int32)
    for panel in record.panels:
        found[middles(record, panel.cell, whole)] = panel.number
    return found


def on_top(record: Record, *, upwards: bool = True) -> np.ndarray | None:
    """For each pixel of the design the number of the panel whose paper is on top, or 0; by an order of laying."""
    order = laid(record, upwards=upwards)
    if order is None:
        return None
    whole = window(record, record.design)
    found = np.zeros((whole.j1, whole.i1), np.int32)
    for panel in order:
        found[middles(record, turned_over(record, panel), whole)] = panel.number
    return found


def judge(record: Record, found: Findings) -> None:
    """In every cell its own panel lies on top, in whatever order panels are laid that ``on_top_of`` does not order."""
    wanted, wrong = cells(record), []
    for upwards in (True, False):
        seen = on_top(record, upwards=upwards)
        if seen is None:
            wrong.append("there is no order to lay them in")
            continue
        odd = (wanted > 0) & (seen != wanted)
        if odd.any():
            y, x = np.argwhere(odd)[0]
            wrong.append(f"{int(odd.sum())} pixels, first at {x}, {y}: panel {seen[y, x]}, not {wanted[y, x]}")
    found.add("its own panel lies on top in every cell", not wrong, "; ".join(wrong))
