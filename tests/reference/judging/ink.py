"""What the artwork's own pixels say of the places that got no paper and of the seams that are called bare."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .asked import Asked
from .design import artwork, visible
from .findings import Findings
from .outline import blank
from .record import Box, Record, Touch

DARK = 244
"""Ink has a sample darker than 247, by the rule; three levels less, as decoders may differ by as much."""
SPECK_MM2, NEAR_UM = 0.1, 1000.0
"""Less ink than this within this distance, either way, is a speck. The rule reckons in 3 x 3 cells of a millimetre or
more; whatever cell a pixel is in, they reach as far as this."""


@dataclass
class Inked:
    """Which of the artwork's pixels are ink and no speck, and where their middles lie on the face."""

    solid: np.ndarray
    x: np.ndarray
    y: np.ndarray

    def within(self, box: Box) -> int:
        """How many of them have their middle in a rectangle of the face."""
        i = np.searchsorted(self.x, (box.x, box.right))
        j = np.searchsorted(self.y, (box.y, box.bottom))
        return int(self.solid[j[0] : j[1], i[0] : i[1]].sum())


def inked(record: Record, asked: Asked, art: Path) -> Inked:
    """Reads the artwork."""
    source = artwork(art, tagged=False)
    dark = np.asarray(source).min(axis=2) <= DARK
    left, top, right, bottom = visible(record, source.size)
    at = record.picture
    pitch = at.w / (right - left), at.h / (bottom - top)
    x = at.x + (np.arange(source.width) + 0.5 - left) * pitch[0]
    y = at.y + (np.arange(source.height) + 0.5 - top) * pitch[1]
    shown = ((y > 0) & (y < record.design.h))[:, None] & ((x > 0) & (x < record.design.w))[None, :]
    if record.raw["blank"]["shape"] != "rectangle":
        shown &= blank(record, asked).inside(x[None, :], y[:, None])
    dark &= shown
    reach = [max(int(NEAR_UM / each), 0) for each in pitch]
    around = _sums(_sums(dark.astype(np.float32), reach[0], 1), reach[1], 0)
    return Inked(dark & (around * (pitch[0] * pitch[1] / 1e6) >= SPECK_MM2), x, y)


def _sums(values: np.ndarray, reach: int, axis: int) -> np.ndarray:
    """Each value with its neighbours as far as ``reach`` along an axis."""
    length = values.shape[axis]
    sums = np.insert(np.cumsum(values, axis=axis, dtype=np.float64), 0, 0.0, axis=axis)
    at = np.arange(length)
    last, first = np.minimum(at + reach + 1, length), np.maximum(at - reach, 0)
    return np.take(sums, last, axis=axis) - np.take(sums, first, axis=axis)


def strip(touch: Touch) -> Box | None:
    """The lap along a seam: what both print between the seam's ends."""
    (x1, y1), (x2, y2) = touch.ends
    both = touch.first.face.shared(touch.second.face)
    if both is None:
        return None
    if touch.edge == "right":
        return Box(both.x, y1, both.w, y2 - y1)
    return Box(x1, both.y, x2 - x1, both.h)


def judge(record: Record, asked: Asked, art: Path, found: Findings) -> None:
    """Nothing that is ink got no paper; nothing that crosses ink is called bare."""
    ink = inked(record, asked, art)
    lost = [(box, count) for box in record.left_out if (count := ink.within(box))]
    said = "; ".join(f"{count} inked pixels in {box}" for box, count in lost[:3])
    found.add("nothing inked is left out", not lost, said or f"{len(record.left_out)} parts left out")
    words = {seam.between: seam.word for seam in record.seams if seam.word is not None}
    if not words:
        return
    wrong = []
    for touch in record.touches:
        lap = strip(touch)
        count = ink.within(lap) if lap and words.get(touch.pair) == "bare" else 0
        if count:
            wrong.append(f"{touch.pair} crosses {count} inked pixels")
    tally = {word: list(words.values()).count(word) for word in sorted(set(words.values()))}
    found.add("bare seams cross no ink", not wrong, "; ".join(wrong[:3]) or str(tally))
