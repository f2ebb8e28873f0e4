"""The press plan by its placements alone: what of the artwork's ink is heated, how often, in which order."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from .asked import Asked
from .findings import Findings
from .ink import Inked, inked
from .record import Box, Record


def heated(record: Record) -> list[Box]:
    """What heats well of each platen, on the face: all but the weak edge."""
    press, (left, top) = record.raw["press"], record.raw["blank"]["placed_um"]
    weak = press["weak_edge_um"]
    boxes = [Box(*placement["blank_um"]) for placement in press["placements"]]
    return [Box(box.x + weak - left, box.y + weak - top, box.w - 2 * weak, box.h - 2 * weak) for box in boxes]


def dwells(ink: Inked, boxes: list[Box]) -> np.ndarray:
    """How often each of the artwork's pixels is heated, by its middle."""
    counts = np.zeros(ink.solid.shape, np.int32)
    for box in boxes:
        i = np.searchsorted(ink.x, (box.x - 0.5, box.right + 0.5))
        j = np.searchsorted(ink.y, (box.y - 0.5, box.bottom + 0.5))
        counts[j[0] : j[1], i[0] : i[1]] += 1
    return counts


def evenly(ink: Inked, size: tuple[int, int], overlap: int) -> list[Box]:
    """Plates of a size spread evenly over the box around the ink, those that heat none left out."""
    j, i = (np.flatnonzero(ink.solid.any(axis=axis)) for axis in (1, 0))
    across, down = (_spread(at[k[0]], at[k[-1]], each, overlap) for at, k, each in
                    ((ink.x, i, size[0]), (ink.y, j, size[1])))  # fmt: skip
    boxes = [Box(round(x), round(y), *size) for y in down for x in across]
    return [box for box in boxes if ink.within(box)]


def _spread(first: float, last: float, each: int, overlap: int) -> list[float]:
    length = last - first
    count = 1 if length <= each else math.ceil((length - overlap) / (each - overlap))
    return [first + (length - each) * (k / (count - 1) if count > 1 else 0.5) for k in range(count)]


def judge(record: Record, asked: Asked, art: Path, found: Findings) -> None:
    """Every inked place is heated; numbers, overlaps and clock are those of the placements."""
    press = record.raw["press"]
    if press is None:
        return
    placements, boxes = press["placements"], heated(record)
    ink = inked(record, asked, art)
    counts = dwells(ink, boxes)[ink.solid]
    cold = int((counts == 0).sum())
    found.add("every inked place is heated", cold == 0, f"{cold} of {counts.size} inked pixels are not")
    twice = float((counts > 1).mean())
    found.add("heated twice as said", abs(twice - press["heated_twice"]) < 0.02, f"{twice:.3f}, said {press['heated_twice']:.3f}")
    grid = evenly(ink, (boxes[0].w, boxes[0].h), press["overlap_um"])
    mean, even = counts.mean(), dwells(ink, grid)[ink.solid].mean()
    # Ink is told by cells of a millimetre or more there, by pixels here.
    fine = len(boxes) < len(grid) or (len(boxes) == len(grid) and mean <= even * 1.005)
    found.add("no more heat than spread evenly", fine, f"{len(boxes)} placements, {mean:.3f} dwells; {len(grid)}, {even:.3f}")
    order(placements, boxes, found)
    clock(press, found)


def order(placements: list[dict], boxes: list[Box], found: Findings) -> None:
    """Placements are numbered as pressed, none is jumped over, and they say which they overlap."""
    platens = [Box(*placement["blank_um"]) for placement in placements]
    numbers = [placement["n"] for placement in placements]
    found.add("placements are counted from 1", numbers == list(range(1, len(boxes) + 1)), str(numbers))
    middles = [(2 * box.x + box.w, 2 * box.y + box.h) for box in platens]
    jumps = [n for n in range(1, len(middles)) if any(_between(at, middles[n - 1], middles[n]) for at in middles)]
    sizes = {(box.w, box.h) for box in boxes}
    found.add("one plate, lying one way", len(sizes) == 1, str(sizes))
    wrong = [placement["n"] for n, placement in enumerate(placements)
             if placement["overlaps"] != [m + 1 for m in range(n) if boxes[m].shared(boxes[n])]]  # fmt: skip
    found.add("overlaps are those of the heated areas", not wrong, str(wrong))
    found.add("nothing is jumped over", not jumps, f"after {jumps}" if jumps else "")


def _between(at: tuple[int, int], one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether a place lies within the box between two others."""
    return all(min(a, b) < here < max(a, b) for here, a, b in zip(at, one, other, strict=True))


def clock(press: dict, found: Findings) -> None:
    """Each placement begins when the one before has ended and the plate was moved; cooling comes last."""
    placements = press["placements"]
    ends = [press["preheat_s"], *(placement["start_s"] + placement["dwell_s"] for placement in placements)]
    moves = {placement["start_s"] - end for placement, end in zip(placements, ends, strict=False)}
    found.add("the clock runs", len(moves) == 1 and 20 <= min(moves) <= 40, f"{moves} s to move")
    total = ends[-1] + press["cool_s"]
    found.add("total time", press["total_s"] == total, f"{press['total_s']} s of {total} s")
