"""The laws of cells, faces and pages, in whole micrometres, from the record alone."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

from .asked import Asked
from .findings import Findings
from .record import ACROSS, Box, Panel, Record
from .render import POINT


def judge(record: Record, asked: Asked, found: Findings) -> None:
    """All laws."""
    partition(record, found)
    numbering(record, found)
    pages(record, found)
    seams(record, found)
    laps(record, asked, found)
    if asked.margin_um is not None:
        places(record, asked.margin_um, found)
    keep_clear(record, asked, found)
    final_trim(record, found)


def partition(record: Record, found: Findings) -> None:
    """Cells and what was left out cover the design once and nothing twice."""
    parts = [panel.cell for panel in record.panels] + list(record.left_out)
    outside = [part for part in parts if not record.design.holds(part)]
    twice = [(a, b) for a, b in combinations(parts, 2) if a.shared(b)]
    lacking = record.design.area - sum(part.area for part in parts)
    said = f"{len(parts)} parts, {len(record.left_out)} left out, {lacking} um2 lacking"
    said += f", {len(twice)} overlaps, {len(outside)} outside"
    found.add("cells partition the design", not outside and not twice and lacking == 0, said)


def numbering(record: Record, found: Findings) -> None:
    """Rows are bands, counted downwards, their panels from the left, ink side up; each panel has a page."""
    numbers = [panel.number for panel in record.panels]
    wrong = [] if numbers == list(range(1, len(numbers) + 1)) else [f"numbers {numbers}"]
    rows: dict[int, list[Panel]] = {}
    for panel in record.panels:
        rows.setdefault(panel.row, []).append(panel)
    if list(rows) != list(range(1, len(rows) + 1)):
        wrong.append(f"rows {list(rows)}")
    for number, row in rows.items():
        places = [record.on_paper(panel.cell) for panel in row]
        if len({(place.y, place.h) for place in places}) > 1:
            wrong.append(f"the cells of row {number} are no band")
        if any(a.right > b.x for a, b in pairwise(places)):
            wrong.append(f"row {number} does not run from the left")
        if [panel.column for panel in row] != list(range(1, len(row) + 1)):
            wrong.append(f"columns of row {number}")
    bands = [record.on_paper(row[0].cell) for row in rows.values()]
    if any(a.bottom > b.y for a, b in pairwise(bands)):
        wrong.append("rows do not run downwards")
    said = "; ".join(wrong[:3]) or f"rows of {'+'.join(str(len(row)) for row in rows.values())}"
    found.add("panels are counted by rows, ink side up", not wrong, said)
    sheets = sorted(panel.page for panel in record.panels)
    found.add("every panel has its page", sheets == list(range(1, len(sheets) + 1)))


def pages(record: Record, found: Findings) -> None:
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


def seams(record: Record, found: Findings) -> None:
    """One seam wherever two cells touch, along all of where they do, and nowhere else."""
    wrong = []
    for touch in record.touches:
        listed = [seam for seam in record.seams if seam.between == touch.pair]
        if len(listed) != 1 or listed[0].upper not in touch.pair:
            wrong.append(f"{touch.pair}: {listed}")
        elif set(listed[0].ends) != set(touch.ends):
            wrong.append(f"{touch.pair}: the seam runs {listed[0].ends}, the cells touch {touch.ends}")
    if len(record.seams) != len(record.touches):
        wrong.append(f"{len(record.seams)} seams are listed, {len(record.touches)} pairs of cells touch")
    found.add("a seam wherever cells touch", not wrong, "; ".join(wrong[:3]) or f"{len(record.seams)} seams")


def laps(record: Record, asked: Asked, found: Findings) -> None:
    """A face is its cell and, only where a neighbour touches, the rest of the lap beyond the cut line.

    The cut line lies in the lap as ordered from the upper panel's side, whole micrometres, the odd one going to the
    lower panel: beyond it the upper panel prints what is left of the lap, and the lower one as much as was cut.
    """
    lap = record.raw["lap_um"]
    if lap is None:
        found.add("a lap where panels join", not record.touches, f"no lap, {len(record.touches)} seams")
        return
    cut_at, wrong = math.floor(lap * asked.cut + 1e-6), []
    for panel in record.panels:
        face, cell = record.on_paper(panel.face), record.on_paper(panel.cell)
        reach = {
            "left": cell.x - face.x, "top": cell.y - face.y,
            "right": face.right - cell.right, "bottom": face.bottom - cell.bottom,
        }  # fmt: skip
        for edge, touches in record.joins(panel).items():
            wanted = {lap - cut_at if record.upper(touch) is panel else cut_at for touch in touches} or {0}
            if wanted != {reach[edge]}:
                wrong.append(f"panel {panel.number} reaches {reach[edge]} um beyond its {edge} edge, not {wanted}")
    said = "; ".join(wrong[:3]) or f"lap {lap} um, cut at {cut_at} um"
    found.add("faces are cells and laps", not wrong, said)


def slack(near_cut: bool, far_cut: bool, room: float) -> float:
    """How much of the room on a page lies before the printed face: room is for paper that is cut off."""
    if near_cut == far_cut:
        return room / 2
    return room if near_cut else 0.0


def places(record: Record, margin: int, found: Findings) -> None:
    """The printed face lies within the margins, what room is left on the sides whose paper is cut off."""
    worst, wrong = 0.0, []
    for panel in record.panels:
        cut = record.outer(panel) | set(panel.trim)
        room = record.page_um[0] - 2 * margin - panel.face.w, record.page_um[1] - 2 * margin - panel.face.h
        x = margin + slack("left" in cut, "right" in cut, room[0])
        y = margin + slack("top" in cut, "bottom" in cut, room[1])
        left, top = record.page_left_top(panel)
        off = max(abs(left - x), abs(top - y))
        worst = max(worst, off)
        if min(room) < 0 or off > 1.5:
            wrong.append(f"panel {panel.number} at {left:.0f}, {top:.0f} um, not {x:.0f}, {y:.0f}; room {room}")
    found.add("room goes where paper is cut off", not wrong, "; ".join(wrong[:3]) or f"off by {worst:.1f} um")


def keep_clear(record: Record, asked: Asked, found: Findings) -> None:
    """Where nothing may join, no two panels print the same."""
    if not asked.keep_clear:
        return
    twice = [(a.number, b.number, a.face.shared(b.face)) for a, b in combinations(record.panels, 2)]
    wrong = [
        f"{a}/{b} lap at {lap}" for a, b, lap in twice if lap and any(lap.shared(zone) for zone in asked.keep_clear)
    ]
    said = "; ".join(wrong[:3]) or f"{len(asked.keep_clear)} zones"
    found.add("no lap lies where it must not", not wrong, said)


def final_trim(record: Record, found: Findings) -> None:
    """The last cut takes what is between the paper's edge and the outermost cells', on each side of the lay-up."""
    page_w, page_h = record.page_um
    reach: dict[str, list[float]] = {edge: [] for edge in ACROSS}
    cells = [record.on_paper(panel.cell) for panel in record.panels]
    around = _around(cells)
    for panel, cell in zip(record.panels, cells, strict=True):
        left, top = record.page_left_top(panel)
        right, bottom = page_w - left - panel.face.w, page_h - top - panel.face.h
        for side, at, most, paper in (
            ("left", cell.x, around.x, left), ("top", cell.y, around.y, top),
            ("right", cell.right, around.right, right), ("bottom", cell.bottom, around.bottom, bottom),
        ):  # fmt: skip
            if at == most:
                reach[side].append(paper)
    said = record.raw["final_trim_um"]
    wrong = [f"{side} {said[side]} not of {[round(v) for v in reach[side]]}" for side in reach
             if not any(abs(said[side] - paper) < 1.5 for paper in reach[side])]  # fmt: skip
    found.add("final trim", not wrong, "; ".join(wrong))


def _around(boxes: list[Box]) -> Box:
    """The box around boxes."""
    x, y = min(box.x for box in boxes), min(box.y for box in boxes)
    return Box(x, y, max(box.right for box in boxes) - x, max(box.bottom for box in boxes) - y)
