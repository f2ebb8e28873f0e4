"""Which panel lies on which and where it is cut, from the seams alone: no circles, and rows can be joined first."""

from __future__ import annotations

import csv
from itertools import combinations
from pathlib import Path

from .findings import Findings
from .record import ACROSS, Panel, Record

RULE = Path(__file__).resolve().parents[2] / "data" / "geometry" / "trim_rule.csv"


def judge(record: Record, found: Findings) -> None:
    """All laws."""
    rows(record, found)
    trims(record, found)
    stacking(record, found)
    found.add("no panel lies on itself by way of others", laid(record, upwards=True) is not None)
    trim_rule(record, found)


def laid(record: Record, *, upwards: bool) -> list[Panel] | None:
    """The panels in an order of laying that obeys ``on_top_of``, the lowest first; nothing where there is none.

    What nothing orders is laid by number, upwards or downwards.
    """
    waiting = sorted(record.panels, key=lambda panel: panel.number, reverse=not upwards)
    order: list[Panel] = []
    while waiting:
        numbers = {panel.number for panel in waiting}
        free = next((panel for panel in waiting if not numbers & set(panel.on_top_of)), None)
        if free is None:
            return None
        waiting.remove(free)
        order.append(free)
    return order


def upper_rows(record: Record) -> dict[tuple[int, int], set[int]]:
    """For every two rows that touch, the rows that lie on top by any of their seams."""
    found: dict[tuple[int, int], set[int]] = {}
    for touch in record.touches:
        upper = record.upper(touch)
        if touch.edge == "bottom" and upper is not None:
            found.setdefault((touch.first.row, touch.second.row), set()).add(upper.row)
    return found


def rows(record: Record, found: Findings) -> None:
    """Rows can be joined first: neighbours in a row are side by side, and one row lies on all it touches of another."""
    wrong = [f"{t.pair} in rows {t.first.row} and {t.second.row}" for t in record.touches
             if (t.edge == "right") != (t.first.row == t.second.row)]  # fmt: skip
    wrong += [f"rows {pair} lie on each other" for pair, upper in upper_rows(record).items() if len(upper) != 1]
    wrong += [f"rows {pair} are no neighbours" for pair in upper_rows(record) if pair[1] != pair[0] + 1]
    found.add("rows can be joined first", not wrong, "; ".join(wrong[:3]))


def trims(record: Record, found: Findings) -> None:
    """Cut is every edge that lies on a neighbour and no other; of each panel, upright edges before level ones."""
    wrong = []
    for panel in record.panels:
        joins = record.joins(panel).items()
        cut = {edge for edge, touches in joins if any(record.upper(touch) is panel for touch in touches)}
        if set(panel.trim) != cut:
            wrong.append(f"panel {panel.number} is trimmed {sorted(panel.trim)}, not {sorted(cut)}")
        upright = [edge in ("left", "right") for edge in panel.trim]
        if upright != sorted(upright, reverse=True):
            wrong.append(f"panel {panel.number} is cut {panel.trim} in that order")
    found.add("trimmed where they lie on a neighbour", not wrong, "; ".join(wrong[:3]))


def above(record: Record, one: Panel, other: Panel) -> bool | None:
    """Whether one panel lies on another by the seams between them; nothing where they do not say."""
    if one.row == other.row:
        first, last = sorted((one, other), key=lambda panel: panel.column)
        between = [touch for touch in record.touches if touch.edge == "right" and touch.first.row == one.row
                   and first.column <= touch.first.column < last.column]  # fmt: skip
        steps = [record.upper(touch) is touch.first for touch in between]
        whole = len(steps) == last.column - first.column
    else:
        first, last = sorted((one, other), key=lambda panel: panel.row)
        uppers = upper_rows(record)
        downwards = [uppers.get((row, row + 1), set()) for row in range(first.row, last.row)]
        steps = [row in upper for row, upper in enumerate(downwards, first.row)]
        whole = all(len(upper) == 1 for upper in downwards)
    if not whole or len(set(steps)) != 1:
        return None
    return steps[0] == (one is first)


def stacking(record: Record, found: Findings) -> None:
    """A panel lies on all that its print shares a place with and that the seams put below it."""
    wrong = []
    under: dict[int, list[int]] = {panel.number: [] for panel in record.panels}
    for one, other in combinations(record.panels, 2):
        if not one.face.shared(other.face):
            continue
        on_top = above(record, one, other)
        if on_top is None:
            wrong.append(f"{one.number} and {other.number} print the same and no seam says which is on top")
            continue
        upper, lower = (one, other) if on_top else (other, one)
        under[upper.number].append(lower.number)
    for panel in record.panels:
        if list(panel.on_top_of) != sorted(under[panel.number]):
            wrong.append(f"panel {panel.number} is on top of {panel.on_top_of}, by the seams {under[panel.number]}")
    turned = sum(record.upper(touch) is touch.second for touch in record.touches)
    said = "; ".join(wrong[:3]) or f"{turned} of {len(record.touches)} seams the other way"
    found.add("stacked as the seams say", not wrong, said)


def trim_rule(record: Record, found: Findings) -> None:
    """The published rule's table, for full grids of the sizes it lists whose left and upper panels are on top."""
    height, width = (max(getattr(panel, side) for panel in record.panels) for side in ("row", "column"))
    with RULE.open(encoding="utf-8") as file:
        table = [line for line in csv.DictReader(file) if line["layout_rows_x_cols"] == f"{height}x{width}"]
    usual = all(record.upper(touch) is touch.first for touch in record.touches)
    if not table or not usual or not _is_grid(record, height, width):
        return
    wrong = []
    level = {}
    for line in table:
        row, column = int(line["row"]) + 1, int(line["col"]) + 1
        panel = next(p for p in record.panels if (p.row, p.column) == (row, column))
        level[panel.number] = int(line["stack_level_0_is_laid_first_when_seen_ink_up"])
        edges = set(line["trim_edges_seen_ink_up"].split("+")) - {"none"}
        if set(panel.trim) != edges:
            wrong.append(f"panel {panel.number}: {sorted(panel.trim)} instead of {sorted(edges)}")
    for panel in record.panels:
        for other in record.panels:
            # The table's levels are of columns that line up: there only neighbours lie on each other.
            if other.number not in panel.on_top_of or abs(panel.column - other.column) > 1:
                continue
            beside = panel.row == other.row or panel.column == other.column
            # Diagonal neighbours may have one level: nothing orders them but their common neighbours.
            if level[panel.number] < level[other.number] + beside:
                wrong.append(f"panel {panel.number} lies on {other.number} against the order of laying")
    found.add("trim rule table", not wrong, "; ".join(wrong[:3]) or f"{height} x {width}")


def _is_grid(record: Record, height: int, width: int) -> bool:
    """Whether every row has as many panels, and every panel its neighbours all round."""
    inner = {"left": lambda p: p.column > 1, "top": lambda p: p.row > 1,
             "right": lambda p: p.column < width, "bottom": lambda p: p.row < height}  # fmt: skip
    joined = all(bool(record.joins(p)[edge]) == inner[edge](p) for p in record.panels for edge in ACROSS)
    return len(record.panels) == height * width and joined
