"""Trimmed mechanically by the record, no ink of a mark may be left.

The artwork is one pale tint, so whatever is dark on a page is a mark. Of each page that paper is kept which a
maker keeps: trimmed edges and the outer edges of the lay-up are cut at the cell, the others keep all their
paper, which will lie on the blank under the neighbour.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from .findings import Findings
from .record import Panel, Record
from .render import page

PPI = 600.0
DARK = 128
"""Brightness below which a pixel is a mark's; the tint is far above."""


def kept(record: Record, panel: Panel) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of the paper that stays, in micrometres on the page."""
    outer = record.outer(panel)
    cut = outer | panel.trim
    left, top = record.page_left_top(panel)
    face, cell = record.on_paper(panel.face), record.on_paper(panel.cell)
    x, y = left + cell.x - face.x, top + cell.y - face.y
    width, height = record.page_um
    return (
        x if "left" in cut else 0.0,
        y if "top" in cut else 0.0,
        x + cell.w if "right" in cut else float(width),
        y + cell.h if "bottom" in cut else float(height),
    )


def judge(record: Record, pdf: Path, found: Findings) -> None:
    """Looks at the kept paper of every page; a blade's breadth, one device pixel, is left out at each cut."""
    left_over, marks = [], 0
    for panel in record.panels:
        shot = page("poppler", pdf, panel.page, PPI)
        dark = shot.min(axis=2) < DARK
        marks += int(dark.sum())
        x0, y0, x1, y1 = (v * PPI / 25400 for v in kept(record, panel))
        keep = dark[max(0, math.ceil(y0) + 1) : math.floor(y1) - 1, max(0, math.ceil(x0) + 1) : math.floor(x1) - 1]
        if keep.any():
            y, x = np.argwhere(keep)[0]
            left_over.append(f"panel {panel.number}: {int(keep.sum())} pixels, first at {x}, {y} of the kept paper")
    found.add("there are marks at all", marks > 0, f"{marks} dark pixels at {PPI:.0f} ppi")
    found.add("no mark is left after trimming", not left_over, "; ".join(left_over[:3]))
