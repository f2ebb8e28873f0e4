"""Lay-ups for made jobs, good and spoilt: their panels, seams and records.

It shares no code with the program nor with the judges: a lay-up is reckoned from its rows, ink side up.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from PIL import Image

from .record import Box


@dataclass(frozen=True)
class Spoil:
    """What is wrong with a made job; nothing by default."""

    shift_um: float = 0.0
    stretch: float = 1.0
    unmirrored: bool = False
    missing_trim: bool = False
    ink_kept: bool = False
    page_larger_pt: float = 0.0
    untagged: bool = False
    gap_um: int = 0
    no_label: bool = False
    swapped: bool = False
    """Panel 1 is said to lie under panel 2, which it is cut to lie on."""
    other_edge: bool = False
    """Panel 1 is trimmed on its left edge instead of its right."""
    seam_um: int = 0
    """The first seam is said to run so far beside where the cells touch."""
    circle: bool = False
    """The last panel is said to lie on the first."""
    late: bool = False
    """Panels are counted from the right."""
    called_bare: bool = False
    """Seams are called bare, whatever they cross."""
    other_upper: int | None = None
    """Which of the seams is said to have the other panel on top."""
    reach_um: int = 0
    """The picture is cut off so far beyond the blank's outline."""
    plate_um: int = 0
    """The first plate stands so far to the right of where it should."""
    crowded: bool = False
    """Plates stand in one column more than they need."""
    jumps: bool = False
    """The second and the last plate are exchanged."""


@dataclass(frozen=True)
class Row:
    """Panels side by side, ink side up: where each cell begins and ends, and which lie on their left neighbour."""

    height_um: int
    spans: tuple[tuple[int, int], ...]
    on_left: frozenset[int] = frozenset()
    on_above: bool = False
    """Whether the row lies on the one above it."""


@dataclass(frozen=True)
class Plan:
    """A lay-up to make, its rows from the top; a row of no panels was left out."""

    rows: tuple[Row, ...]
    width_um: int = 400_000
    page_um: tuple[int, int] = (279_400, 215_900)
    lap_um: int = 5_000
    cut: float = 0.5
    ppi: float = 100.0
    mirrored: bool = True
    left_top_um: tuple[int, int] = (20_123, 30_457)
    shape: str = "rectangle"

    @property
    def height_um(self) -> int:
        return sum(row.height_um for row in self.rows)

    def on_face(self, x: int, y: int, w: int, h: int) -> list[int]:
        """A rectangle of the lay-up, ink side up, on the face."""
        return [self.width_um - x - w if self.mirrored else x, y, w, h]


def grid(columns: int, rows: int, width_um: int = 400_000, height_um: int = 300_000, **others: Any) -> Plan:
    """Cells of one size but for the last row and column."""
    across = [width_um // columns * i for i in range(columns)] + [width_um]
    down = [height_um // rows * i for i in range(rows)] + [height_um]
    made = tuple(Row(b - a, tuple(pairwise(across))) for a, b in pairwise(down))
    return Plan(made, width_um=width_um, **others)


@dataclass
class Piece:
    """A panel in the making: its cell and what it prints, ink side up, by left, top, right, bottom."""

    row: int
    column: int
    cell: list[int]
    print: list[int]
    trim: list[str]


def _pieces(plan: Plan) -> list[Piece]:
    """The panels by rows, each grown and cut where its neighbours are."""
    pieces, top, number = [], 0, 0
    for row in plan.rows:
        number += bool(row.spans)
        for column, (left, right) in enumerate(row.spans, 1):
            cell = [left, top, right, top + row.height_um]
            pieces.append(Piece(number, column, cell, list(cell), []))
        top += row.height_um
    cut = math.floor(plan.lap_um * plan.cut)
    for first, second, along in _joins(pieces):
        upper = first if _lies_on(plan, first, second) else second
        for piece, edge, sign in ((first, along + 2, 1), (second, along, -1)):
            piece.print[edge] = piece.cell[edge] + sign * (plan.lap_um - cut if piece is upper else cut)
            word = ("left", "top", "right", "bottom")[edge]
            if piece is upper and word not in piece.trim:
                piece.trim.append(word)
    for piece in pieces:
        piece.trim.sort(key=lambda edge: edge in ("top", "bottom"))
    return pieces


def _joins(pieces: list[Piece]) -> list[tuple[Piece, Piece, int]]:
    """Every two that touch, and whether side by side (0) or one below the other (1)."""
    found = []
    for a in pieces:
        for b in pieces:
            for along in (0, 1):
                other = 1 - along
                ends = max(a.cell[other], b.cell[other]), min(a.cell[other + 2], b.cell[other + 2])
                if a.cell[along + 2] == b.cell[along] and ends[0] < ends[1]:
                    found.append((a, b, along))
    return found


def _lies_on(plan: Plan, first: Piece, second: Piece) -> bool:
    """Whether the first of two, by their numbers, lies on the second."""
    printed = [row for row in plan.rows if row.spans]
    if first.row == second.row:
        return second.column not in printed[second.row - 1].on_left
    return not printed[second.row - 1].on_above


def _overlap(a: Piece, b: Piece) -> bool:
    """Whether their prints share a place."""
    return all(max(a.print[i], b.print[i]) < min(a.print[i + 2], b.print[i + 2]) for i in (0, 1))


def _box(plan: Plan, edges: list[int]) -> list[int]:
    left, top, right, bottom = edges
    return plan.on_face(left, top, right - left, bottom - top)


def _panels(plan: Plan, pieces: list[Piece], spoil: Spoil) -> list[dict]:
    """The record's panels."""
    panels = []
    for n, piece in enumerate(pieces, 1):
        face, cell = _box(plan, piece.print), _box(plan, piece.cell)
        left, top = plan.left_top_um
        page = (left, plan.page_um[1] - top - face[3], face[2], face[3])
        under = [m for m, other in enumerate(pieces, 1) if other is not piece and _overlap(piece, other)
                 and (_lies_on(plan, piece, other) if n < m else not _lies_on(plan, other, piece))]  # fmt: skip
        panels.append(
            {
                "panel": n, "row": piece.row, "column": piece.column, "page": n, "face_um": face, "cell_um": cell,
                "page_pt": [round(v * 72 / 25400, 6) for v in page], "scale": [1.0, 1.0],
                "trim": list(piece.trim), "on_top_of": under, "image_sha256": None,
            }
        )  # fmt: skip
    _spoil_panels(panels, spoil)
    return panels


def _spoil_panels(panels: list[dict], spoil: Spoil) -> None:
    """What is wrong with single panels."""
    first, last = panels[0], panels[-1]
    if spoil.gap_um:
        first["cell_um"][3] -= spoil.gap_um
    if spoil.missing_trim:
        first["trim"] = []
    if spoil.other_edge:
        first["trim"] = ["left" if edge == "right" else edge for edge in first["trim"]]
    if spoil.swapped:
        first["on_top_of"] = [n for n in first["on_top_of"] if n != 2]
        panels[1]["on_top_of"] = [1, *panels[1]["on_top_of"]]
    if spoil.circle:
        last["on_top_of"] = [1]
    if spoil.late:
        for panel in panels:
            panel["column"] = 1 + sum(p["row"] == panel["row"] for p in panels) - panel["column"]


def _seams(plan: Plan, pieces: list[Piece], spoil: Spoil) -> list[dict]:
    """A seam wherever two touch."""
    seams = []
    for first, second, along in _joins(pieces):
        low = [max(a, b) for a, b in zip(first.cell[:2], second.cell[:2], strict=True)]
        high = [min(a, b) for a, b in zip(first.cell[2:], second.cell[2:], strict=True)]
        x, y, w, h = _box(plan, low + high)
        numbers = [n for n, piece in enumerate(pieces, 1) if piece is first or piece is second]
        upper = first if _lies_on(plan, first, second) else second
        seam = {"between": numbers, "face_um": [x, y, x + w, y + h],
                "upper": next(n for n, piece in enumerate(pieces, 1) if piece is upper)}  # fmt: skip
        seams.append(seam | {"score": 0.0, "class": "bare"} if spoil.called_bare else seam | {"score": 0.5, "class": "busy"})
    if spoil.other_upper is not None:
        seam = seams[spoil.other_upper]
        seam["upper"] = sum(seam["between"]) - seam["upper"]
    if spoil.seam_um:
        line = seams[0]["face_um"]
        across = 0 if line[0] == line[2] else 1
        line[across] += spoil.seam_um
        line[across + 2] += spoil.seam_um
    return seams


def left_out(plan: Plan) -> list[list[int]]:
    """What no cell holds, on the face."""
    found, top = [], 0
    for row in plan.rows:
        borders = [0, *(at for span in row.spans for at in span), plan.width_um]
        found += [plan.on_face(a, top, b - a, row.height_um) for a, b in zip(borders[::2], borders[1::2], strict=True)
                  if a < b]  # fmt: skip
        top += row.height_um
    return found


def _final_trim(plan: Plan, pieces: list[Piece]) -> dict[str, int]:
    """By the outermost panel on each side."""
    (page_w, page_h), (left, top) = plan.page_um, plan.left_top_um
    last = [max(pieces, key=lambda piece: piece.cell[edge]).print for edge in (2, 3)]
    right, bottom = (edges[i + 2] - edges[i] for i, edges in enumerate(last))
    return {"left": left, "top": top, "right": page_w - left - right, "bottom": page_h - top - bottom}


PLATE = (180_000, 150_000)
WEAK, OVERLAP = 5_000, 10_000


def _press(plan: Plan, spoil: Spoil) -> dict:
    """Plates over all of the design, row by row to and fro, the surplus hanging over right and bottom: good where all of
    it is ink."""
    across, down = (range(0, side, each - 2 * WEAK - OVERLAP) for side, each in
                    ((plan.width_um, PLATE[0]), (plan.height_um, PLATE[1])))  # fmt: skip
    across, down = ([at for at in ats if at == 0 or at + OVERLAP < side] for ats, side in
                    ((across, plan.width_um), (down, plan.height_um)))  # fmt: skip
    if spoil.crowded:
        across = [across[0], across[0] + 20_000, *across[1:]]
    places = [(x, y) for row, y in enumerate(down) for x in (reversed(across) if row % 2 else across)]
    if spoil.jumps:
        places[1], places[-1] = places[-1], places[1]
    places[0] = places[0][0] + spoil.plate_um, places[0][1]
    good = [Box(x, y, PLATE[0] - 2 * WEAK, PLATE[1] - 2 * WEAK) for x, y in places]
    placements = [
        {"n": n + 1, "blank_um": [box.x - WEAK, box.y - WEAK, *PLATE], "turned": False, "dwell_s": 50,
         "start_s": 40 + 80 * n, "overlaps": [m + 1 for m in range(n) if good[m].shared(box)], "new_mm2": 0.0, "shift": None}
        for n, box in enumerate(good)
    ]  # fmt: skip
    return {
        "name": "plate", "placements": placements, "moves": "plate", "weak_edge_um": WEAK, "overlap_um": OVERLAP,
        "heat_c": 195.0, "heat_range_c": [190.0, 200.0], "dwell_s": 50, "dwell_range_s": [35, 70], "origin": "made up",
        "preheat_s": 10, "pressure": "medium", "cool_s": 180, "peel": "hot",
        "total_s": 10 + 80 * len(good) + 180, "heated_twice": _twice(plan, good),
    }  # fmt: skip


def _twice(plan: Plan, good: list[Box]) -> float:
    """The share of the design that two or more of them heat, by points 2 mm apart."""
    points = [(x, y) for x in range(1_000, plan.width_um, 2_000) for y in range(1_000, plan.height_um, 2_000)]
    often = [sum(box.x <= x < box.right and box.y <= y < box.bottom for box in good) for x, y in points]
    return sum(count > 1 for count in often) / len(often)


def record_of(plan: Plan, file: Path, spoil: Spoil) -> dict:
    """The record of a plan."""
    with Image.open(file) as image:
        width, height = image.size
    pieces = _pieces(plan)
    page_w, page_h = plan.page_um
    size = {"width_um": plan.width_um, "height_um": plan.height_um}
    paper_m2 = len(pieces) * page_w * page_h / 1e12
    weighed = {"paper": "made", "orientation": "landscape", "sheets": len(pieces), "crossed_mm2": None, "paper_m2": paper_m2}
    return {
        "record": 1, "job": file.stem + "-0a1b2c",
        "artwork": {"file": file.name, "sha256": hashlib.sha256(file.read_bytes()).hexdigest(), "width_px": width,
                    "height_px": height, "profile": None},
        "design": size | {"picture_um": [0, 0, plan.width_um, plan.height_um], "sheet_ppi": plan.ppi,
                          "artwork_ppi": [100.0, 100.0]},
        "fit": "stretch", "copies": 1, "print": "no", "note": None, "fields": {}, "row": None, "keep_clear": [], "extra_sheets": 0, "printer": "judge",
        "blank": {"name": "mat", "substrate": "felt", "shape": plan.shape} | size | {"nominal_um": None, "placed_um": [0, 0], "colour_lab": [100, 0, 0]},
        "mirrored": plan.mirrored, "paper": {"name": "made", "width_um": page_w, "height_um": page_h},
        "orientation": "landscape", "weighed": [weighed], "one_more": None, "tape": [], "lap_um": plan.lap_um, "trim_order": "panels-first",
        "panels": _panels(plan, pieces, spoil), "seams": _seams(plan, pieces, spoil),
        "final_trim_um": _final_trim(plan, pieces), "left_out": left_out(plan), "press": None if left_out(plan) else _press(plan, spoil),
        "colour": {"source": "assumed-srgb", "converted": None, "attached": "sRGB", "instruction": "none", "range": None,
                   "contrast": {"on_white": [0, 100], "on_blank": [0, 100]}, "ink": {"coverage": 0.5, "ml": None}},
        "warnings": [], "remarks": [], "files": {"sheets.pdf": "application/pdf", "record.json": "application/json"},
    }  # fmt: skip
