"""A maker who follows the notes to the letter: cuts, stacks, turns over, places and presses by ``notes.txt`` alone.

Nothing here knows the record. What cannot be done as the notes say, or does not fit together, is a ``Found`` fault.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np

from .notes import NUMBERS, Notes, Unclear, lengths, numbers

CLOSE = 100.0
"""Micrometres by which things may be off."""
RASTER = 1_500.0
"""Micrometres between the places at which the heat is looked at."""


@dataclass(frozen=True)
class Edges:
    """A rectangle by its edges."""

    left: float
    top: float
    right: float
    bottom: float

    def shares(self, other: Edges) -> bool:
        """Whether they share more than a sliver."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        return wide > CLOSE and min(self.bottom, other.bottom) - max(self.top, other.top) > CLOSE


@dataclass(frozen=True)
class Laid:
    """A panel as it ends up: what shall be seen of it, and all that is left of its paper, on the page and on the blank."""

    number: int
    on_page: Edges
    cell: Edges
    paper: Edges


@dataclass
class Piece:
    """What comes of it all: the panels on the blank, the lowest first as they lie ink side up, and what is wrong."""

    laid: list[Laid] = field(default_factory=list)
    turned_over: bool = True
    wrong: list[str] = field(default_factory=list)


def follow(notes: Notes) -> Piece:
    """Does all that the notes say."""
    piece = Piece(turned_over=not notes.from_its_face)
    try:
        order = joined(notes, piece)
        places = on_blank(notes)
        if set(order) != set(notes.sheets) or set(places) != set(notes.sheets):
            raise Unclear(f"panels {sorted(notes.sheets)}, joined {sorted(order)}, placed {sorted(places)}")
        piece.laid = [cut(notes, number, places[number], piece) for number in order]
    except (Unclear, KeyError, ValueError) as why:
        piece.wrong.append(f"cannot be followed: {why}")
        return piece
    sideways(notes, piece)
    covers(notes, piece)
    distances(notes, piece)
    return piece


def joined(notes: Notes, piece: Piece) -> list[int]:
    """The panels in the order in which they end up on each other, by the steps."""
    stacks: list[list[int]] = []

    def stack_of(panels: set[int]) -> list[int]:
        """What these lie in, as one stack."""
        mine = [stack for stack in stacks if panels & set(stack)]
        if not panels <= {panel for stack in mine for panel in stack}:
            raise Unclear(f"{sorted(panels)} do not lie there yet")
        for stack in mine:
            stacks.remove(stack)
        stacks.append([panel for stack in mine for panel in stack])
        return stacks[-1]

    for step in notes.steps:
        of, _, said = step.rpartition(": ") if step.startswith("Piece ") and "diagonals" not in step else ("", "", step)
        of_piece = notes.pieces.get(int(of.removeprefix("Piece ")), set()) if of else set(notes.sheets)
        said = said[0].lower() + said[1:]
        if match := re.match(rf"in row (\d+), lay panels? ({NUMBERS}) down", said):
            stacks.append(list(numbers(match[2])))
            for panel, on in re.findall(rf"(\d+) on ({NUMBERS})(?=, \d+ on |\.)", said):
                stack_of(set(numbers(on))).append(int(panel))
        elif match := re.match(r"lay (.*?) on (.*?)\. ", said):
            above, below = named(notes, match[1], of_piece), named(notes, match[2], of_piece)
            upper = stack_of(above) if any(above & set(stack) for stack in stacks) else sorted(above)
            stacks[:] = [stack for stack in stacks if stack is not upper]
            stack_of(below).extend(upper)
        elif not re.match(r"(cut |check both|piece \d+: check both|final trim)", said):
            raise Unclear(f"step `{step}`")
    piece.wrong += [f"{n} lies on {below}, but is laid first" for stack in stacks for i, n in enumerate(stack)
                    for below in notes.sheets[n].lies_on if below in stack[i:]]  # fmt: skip
    return [panel for stack in stacks for panel in stack]


def named(notes: Notes, words: str, of_piece: set[int]) -> set[int]:
    """The panels of ``row 2``, ``rows 1 and 3``, ``panel 4 of row 2 and panel 5 of row 2``, ``row 1 (panel 1)``."""
    found: set[int] = set()
    for match in re.finditer(rf"panels? ({NUMBERS}) of row|\(panel (\d+)\)", words):
        found |= set(numbers(match[1] or match[2]))
    if not found:
        rows = {row for said in re.findall(rf"rows? ({NUMBERS})", words) for row in numbers(said)}
        found = {number for number in of_piece if notes.sheets[number].row in rows}
    if not found:
        raise Unclear(f"`{words}` names no panels")
    return found


def on_blank(notes: Notes) -> dict[int, Edges]:
    """Where each panel's visible part comes to lie, by the table of the rows."""
    found = {}
    for row in notes.rows:
        if len(row.across) != len(row.panels) + 1:
            raise Unclear(f"{len(row.across)} edges of {len(row.panels)} panels")
        for panel, left, right in zip(row.panels, row.across, row.across[1:], strict=False):
            found[panel] = Edges(left, row.down[0], right, row.down[1])
    return found


def cut(notes: Notes, number: int, place: Edges, piece: Piece) -> Laid:
    """A panel cut, joined, cut last and turned over."""
    strips, (width, height) = notes.sheets[number].strips, notes.page
    on_page = Edges(strips["left"].um, strips["top"].um, width - strips["right"].um, height - strips["bottom"].um)
    off = (on_page.right - on_page.left - place.right + place.left, on_page.bottom - on_page.top - place.bottom + place.top)
    if max(map(abs, off)) > CLOSE:
        piece.wrong.append(f"panel {number} is larger than its place by {off[0]:.0f}, {off[1]:.0f} um")
    stays = {edge: strip.um if strip.what == "under" else 0.0 for edge, strip in strips.items()}
    left, right = (stays["right"], stays["left"]) if piece.turned_over else (stays["left"], stays["right"])
    paper = Edges(place.left - left, place.top - stays["top"], place.right + right, place.bottom + stays["bottom"])
    return Laid(number, on_page, place, paper)


def sideways(notes: Notes, piece: Piece) -> None:
    """Rows are as they were joined, or the other way round once turned over."""
    for row in notes.rows:
        columns = [notes.sheets[panel].column for panel in row.panels]
        wanted = sorted(columns, reverse=piece.turned_over)
        if columns != wanted or len({notes.sheets[panel].row for panel in row.panels}) != 1:
            piece.wrong.append(f"panels {row.panels} do not lie as they were joined")


def covers(notes: Notes, piece: Piece) -> None:
    """In its place every panel is on top, and beside every cut edge another's paper lies below."""
    for i, below in enumerate(piece.laid):
        for above in piece.laid[i + 1 :]:
            if above.paper.shares(below.cell):
                piece.wrong.append(f"panel {above.number} hides part of {below.number}")
    for one in piece.laid:
        for edge, strip in notes.sheets[one.number].strips.items():
            side = {"left": "right", "right": "left"}.get(edge, edge) if piece.turned_over else edge
            beyond = beside(one.cell, side, 2 * CLOSE)
            others = [other for other in piece.laid if other is not one and other.paper.shares(grown(beyond))]
            if strip.what == "CUT" and not others:
                piece.wrong.append(f"panel {one.number} is cut {edge} where nothing lies below")
            if strip.what == "last" and any(other.cell.shares(grown(beyond)) for other in others):
                piece.wrong.append(f"panel {one.number} keeps its {edge} strip to the last, over a neighbour")
            if strip.what == "under" and not any(other.cell.shares(grown(beyond)) for other in others):
                piece.wrong.append(f"panel {one.number} keeps its {edge} strip for ever, under nothing")


def beside(cell: Edges, side: str, wide: float) -> Edges:
    """A thin strip outside of one edge."""
    return {
        "left": Edges(cell.left - wide, cell.top, cell.left, cell.bottom),
        "right": Edges(cell.right, cell.top, cell.right + wide, cell.bottom),
        "top": Edges(cell.left, cell.top - wide, cell.right, cell.top),
        "bottom": Edges(cell.left, cell.bottom, cell.right, cell.bottom + wide),
    }[side]


def grown(strip: Edges) -> Edges:
    """Less its ends, where others may begin."""
    if strip.right - strip.left < strip.bottom - strip.top:
        return Edges(strip.left, strip.top + 2 * CLOSE, strip.right, strip.bottom - 2 * CLOSE)
    return Edges(strip.left + 2 * CLOSE, strip.top, strip.right - 2 * CLOSE, strip.bottom)


def distances(notes: Notes, piece: Piece) -> None:
    """The distances from the blank's edges and the diagonals are those of what lies there."""
    cells = [laid.cell for laid in piece.laid]
    around = Edges(min(c.left for c in cells), min(c.top for c in cells), max(c.right for c in cells), max(c.bottom for c in cells))
    width, height = notes.blank
    sides = {"left": around.left, "top": around.top, "right": width - around.right, "bottom": height - around.bottom}
    for side, said in notes.sides.items():
        if abs(said - sides[side]) > CLOSE:
            piece.wrong.append(f"{said:.0f} um from the {side}, by the rows {sides[side]:.0f}")
    diagonals = [lengths(step) for step in notes.steps if "both diagonals" in step]
    if len(diagonals) == 1 and notes.sides:
        wanted = float(np.hypot(around.right - around.left, around.bottom - around.top))
        if abs(diagonals[0][0] - wanted) > 1.5 * CLOSE:
            piece.wrong.append(f"diagonals of {diagonals[0][0]:.0f} um, by the rows {wanted:.0f}")


def pressed(notes: Notes, inked: np.ndarray) -> list[str]:
    """What is wrong with the press plan, for a design whose inked parts are given as a raster over it."""
    wrong = []
    rows, columns = inked.shape
    x = notes.design_at[0] + (np.arange(columns) + 0.5) * notes.design[0] / columns
    y = notes.design_at[1] + (np.arange(rows) + 0.5) * notes.design[1] / rows
    heated = np.zeros_like(inked)
    opened = 0
    for number, place in enumerate(notes.places, 1):
        width, height = reversed(notes.plate) if place.turned else notes.plate
        weak = notes.weak_edge - CLOSE
        across = (x >= place.x + weak) & (x <= place.x + width - weak)
        down = (y >= place.y + weak) & (y <= place.y + height - weak)
        heated |= down[:, None] & across[None, :]
        if place.close < opened or place.open <= place.close:
            wrong.append(f"place {number} closes at {place.close} s, opens at {place.open} s, after {opened} s")
        if any(earlier >= number for earlier in place.overlaps):
            wrong.append(f"place {number} overlaps {place.overlaps}")
        opened = place.open
    cold = inked & ~heated
    if cold.any():
        j, i = np.argwhere(cold)[0]
        wrong.append(f"{cold.mean():.2%} of the design stays cold, first at {x[i]:.0f}, {y[j]:.0f} um")
    return wrong
