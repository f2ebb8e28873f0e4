"""Put together by the record, no ink of a mark may be left.

The artwork is one pale tint, so whatever is dark on a page is a mark.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from .assembly import kept
from .findings import Findings
from .record import Record
from .render import page

PPI = 600.0
DARK = 128
"""Brightness below which a pixel is a mark's; the tint is far above."""


def judge(record: Record, pdf: Path, found: Findings) -> None:
    """Looks at the kept paper of every page; a blade's breadth, one device pixel, is left out at each cut."""
    left_over, marks = [], 0
    for panel in record.panels:
        shot = page("poppler", pdf, panel.page, PPI)
        dark = shot.min(axis=2) < DARK
        marks += int(dark.sum())
        paper, face = kept(record, panel), record.on_paper(panel.face)
        left, top = record.page_left_top(panel)
        x0, x1 = ((x - face.x + left) * PPI / 25400 for x in (paper.left, paper.right))
        y0, y1 = ((y - face.y + top) * PPI / 25400 for y in (paper.top, paper.bottom))
        keep = dark[max(0, math.ceil(y0) + 1) : math.floor(y1) - 1, max(0, math.ceil(x0) + 1) : math.floor(x1) - 1]
        if keep.any():
            y, x = np.argwhere(keep)[0]
            left_over.append(f"panel {panel.number}: {int(keep.sum())} pixels, first at {x}, {y} of the kept paper")
    found.add("there are marks at all", marks > 0, f"{marks} dark pixels at {PPI:.0f} ppi")
    found.add("no mark is left after trimming", not left_over, "; ".join(left_over[:3]))
