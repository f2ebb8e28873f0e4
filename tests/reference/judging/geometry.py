"""The laws of the lay-up, in whole micrometres, from the record alone."""

from __future__ import annotations

import csv
from itertools import combinations
from pathlib import Path

from .findings import Findings
from .record import Box, Panel, Record
from .render import POINT

RULE = Path(__file__).resolve().parents[2] / "data" / "geometry" / "trim_rule.csv"


def judge(record: Record, found: Findings) -> None:
    """All laws."""
    partition(record, found)
    faces(record, found)
    seams(record, found)
    stacking(record, found)
    trim_rule(record, found)
    final_trim(record, found)


def partition(record: Record, found: Findings) -> None:
    """Cells and what was left out cover the design once and nothing twice."""
    parts = [panel.cell for panel in record.panels] + [Box(*box) for box in record.raw["left_out"]]
    outside = [part for part in parts if not record.design.holds(part)]
    twice = [(a, b) for a, b in combinations(parts, 2) if a.shared(b)]
    lacking = record.design.area - sum(part.area for part in parts)
    said = f"{len(parts)} parts, {lacking} um2 lacking, {len(twice)} overlaps, {len(outside)} outside"
    found.add("cells partition the design", not outside and not twice and lacking == 0, said)
    numbers = [panel.number for panel in record.panels]
    order = sorted(record.panels, key=lambda p: (p.row, p.column))
    counted = numbers == list(range(1, len(numbers) + 1)) and [p.number for p in order] == numbers
    places = [(record.on_paper(p.cell).y, record.on_paper(p.cell).x) for p in record.panels]
    row_by_row = all(a < b for a, b in zip(places, places[1:], strict=False) if a[0] == b[0])
    found.add("panels are counted by rows, ink side up", counted and row_by_row, f"{len(numbers)} panels")
    pages = sorted(panel.page for panel in record.panels)
    found.add("every panel has its page", pages == list(range(1, len(pages) + 1)))


def faces(record: Record, found: Findings) -> None:
    """Each page prints its cell and the laps, at true size, inside the page."""
    wrong = []
    for panel in record.panels:
        x, y, w, h = (v * POINT for v in panel.page_pt)
        size = max(abs(w - panel.face.w), abs(h - panel.face.h))
        inside = x >= 0 and y >= 0 and x + w <= record.page_um[0] + 0.5 and y + h <= record.page_um[1] + 0.5
        held = panel.face.holds(panel.cell) and record.design.holds(panel.face)
        if size > 0.5 or not inside or not held:
            wrong.append(f"panel {panel.number}: {size:.2f} um off size, inside {inside}, holds cell {held}")
    found.add("faces hold their cells at true size", not wrong, "; ".join(wrong))
    scales = {tuple(p["scale"]) for p in record.raw["panels"]}
    found.add("no calibration was applied", scales == {(1.0, 1.0)}, str(scales))


def neighbours(record: Record) -> list[tuple[Panel, Panel, str]]:
    """Panels whose cells touch along an edge: upper, lower, and the upper one's edge, ink side up."""
    pairs = []
    for a in record.panels:
        for b in record.panels:
            one, two = record.on_paper(a.cell), record.on_paper(b.cell)
            if one.right == two.x and one.y < two.bottom and two.y < one.bottom:
                pairs.append((a, b, "right"))
            if one.bottom == two.y and one.x < two.right and two.x < one.right:
                pairs.append((a, b, "bottom"))
    return pairs


def seams(record: Record, found: Findings) -> None:
    """A seam wherever two cells touch, one lap of paper printed on both, the upper panel trimmed there."""
    wrong, lap = [], record.raw["lap_um"]
    listed = {tuple(seam["between"]): seam for seam in record.raw["seams"]}
    pairs = neighbours(record)
    for upper, lower, edge in pairs:
        both = upper.face.shared(lower.face)
        across = 0 if both is None else (both.w if edge == "right" else both.h)
        if lap is not None and across != lap:
            wrong.append(f"{upper.number}/{lower.number}: {across} um printed on both, not {lap}")
        seam = listed.get((min(upper.number, lower.number), max(upper.number, lower.number)))
        if seam is None or seam["upper"] != upper.number:
            wrong.append(f"{upper.number}/{lower.number}: seam {seam}")
            continue
        x1, y1, x2, y2 = seam["face_um"]
        a, b = upper.cell, lower.cell
        if edge == "right":
            at = a.x if record.mirrored else a.right
            line = {(at, max(a.y, b.y)), (at, min(a.bottom, b.bottom))}
        else:
            line = {(max(a.x, b.x), a.bottom), (min(a.right, b.right), a.bottom)}
        if {(x1, y1), (x2, y2)} != line:
            wrong.append(f"{upper.number}/{lower.number}: seam runs {seam['face_um']}, cells touch {sorted(line)}")
    if len(listed) != len(pairs):
        wrong.append(f"{len(listed)} seams listed, {len(pairs)} pairs of cells touch")
    found.add("seams and laps", not wrong, "; ".join(wrong[:3]) or f"{len(pairs)} seams, lap {lap} um")


def stacking(record: Record, found: Findings) -> None:
    """Trimmed are the right and bottom edges that have a neighbour; on top lies the lower number, diagonals too."""
    wrong = []
    cut: dict[int, set[str]] = {panel.number: set() for panel in record.panels}
    for upper, _, edge in neighbours(record):
        cut[upper.number].add(edge)
    for panel in record.panels:
        if panel.trim != cut[panel.number]:
            wrong.append(f"panel {panel.number} is trimmed {sorted(panel.trim)}, not {sorted(cut[panel.number])}")
        # Two sheets lie on each other where their prints do.
        under = tuple(p.number for p in record.panels if p.number > panel.number and p.face.shared(panel.face))
        if panel.on_top_of != under:
            wrong.append(f"panel {panel.number} is on top of {panel.on_top_of}, its print lies on {under}")
    found.add("trim edges and stacking", not wrong, "; ".join(wrong[:3]))


def trim_rule(record: Record, found: Findings) -> None:
    """The published rule's table, for the grids it lists."""
    rows = max(panel.row for panel in record.panels)
    columns = max(panel.column for panel in record.panels)
    with RULE.open(encoding="utf-8") as file:
        table = [line for line in csv.DictReader(file) if line["layout_rows_x_cols"] == f"{rows}x{columns}"]
    if not table or len(table) != len(record.panels):
        return
    wrong = []
    level = {}
    for line in table:
        row, column = int(line["row"]) + 1, int(line["col"]) + 1
        panel = next(p for p in record.panels if (p.row, p.column) == (row, column))
        level[panel.number] = int(line["stack_level_0_is_laid_first_when_seen_ink_up"])
        edges = frozenset(line["trim_edges_seen_ink_up"].split("+")) - {"none"}
        if panel.trim != edges:
            wrong.append(f"panel {panel.number}: {sorted(panel.trim)} instead of {sorted(edges)}")
    for panel in record.panels:
        for other in record.panels:
            if other.number not in panel.on_top_of:
                continue
            beside = panel.row == other.row or panel.column == other.column
            # Diagonal neighbours may have one level: nothing orders them but their common neighbours.
            if level[panel.number] < level[other.number] + beside:
                wrong.append(f"panel {panel.number} lies on {other.number} against the order of laying")
    found.add("trim rule table", not wrong, "; ".join(wrong[:3]) or f"{rows} x {columns}")


def final_trim(record: Record, found: Findings) -> None:
    """The last cut takes what is between the paper's edge and the design's, on each side of the lay-up."""
    page_w, page_h = record.page_um
    reach: dict[str, list[float]] = {"left": [], "top": [], "right": [], "bottom": []}
    places = [record.on_paper(panel.cell) for panel in record.panels]
    edge = {
        "left": min(p.x for p in places), "top": min(p.y for p in places),
        "right": max(p.right for p in places), "bottom": max(p.bottom for p in places),
    }  # fmt: skip
    for panel, place in zip(record.panels, places, strict=True):
        left, top = record.page_left_top(panel)
        right, bottom = page_w - left - panel.face.w, page_h - top - panel.face.h
        for side, at, paper in (
            ("left", place.x, left), ("top", place.y, top), ("right", place.right, right), ("bottom", place.bottom, bottom),
        ):  # fmt: skip
            if at == edge[side]:
                reach[side].append(paper)
    said = record.raw["final_trim_um"]
    wrong = [f"{side} {said[side]} not of {[round(v) for v in reach[side]]}" for side in reach
             if not any(abs(said[side] - paper) < 1.5 for paper in reach[side])]  # fmt: skip
    found.add("final trim", not wrong, "; ".join(wrong))
