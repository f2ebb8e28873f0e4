"""``notes.txt`` read by rules: its tables, steps and distances, as numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

INCH = 25_400
LENGTH = re.compile(r"(over by )?(?:(\d+) )?(?:(\d+)/(\d+) )?(in|mm)\b(?: \(([\d.]+)\))?")
NUMBERS = r"\d+(?: to \d+)?(?:(?:, | and )\d+(?! on )(?: to \d+)?)*"
EDGES = ("left", "top", "right", "bottom")


class Unclear(Exception):
    """The notes do not say what a maker must know."""


@dataclass(frozen=True)
class Strip:
    """What becomes of the paper beyond an edge (``CUT``, ``last``, ``under``), and its width in micrometres."""

    what: str
    um: float


@dataclass
class Sheet:
    """One panel's line of the table."""

    row: int
    column: int
    lies_on: tuple[int, ...]
    strips: dict[str, Strip]


@dataclass(frozen=True)
class Row:
    """Where a row comes to lie on the blank: panels and edges from its left edge, ends from its top edge."""

    panels: tuple[int, ...]
    across: tuple[float, ...]
    down: tuple[float, float]


@dataclass(frozen=True)
class Place:
    """One place of the plate: from the blank's left and top edge; when it closes and opens, in seconds."""

    x: float
    y: float
    turned: bool
    close: int
    open: int
    overlaps: tuple[int, ...]


@dataclass
class Notes:
    """All that is followed. Lengths in micrometres."""

    page: tuple[float, float] = (0, 0)
    blank: tuple[float, float] = (0, 0)
    design: tuple[float, float] = (0, 0)
    design_at: tuple[float, float] = (0, 0)
    from_its_face: bool = False
    sheets: dict[int, Sheet] = field(default_factory=dict)
    pieces: dict[int, set[int]] = field(default_factory=dict)
    """The panels of each piece, where there are several."""
    steps: list[str] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    sides: dict[str, float] = field(default_factory=dict)
    places: list[Place] = field(default_factory=list)
    plate: tuple[float, float] = (0, 0)
    weak_edge: float = 0


def lengths(text: str) -> list[float]:
    """Every length in a text; the exact one where one stands beside that of the rule."""
    found = []
    for match in LENGTH.finditer(text):
        over, whole, part, of, unit, exact = match.groups()
        value = float(exact) if exact else int(whole or 0) + (int(part) / int(of) if part else 0)
        found.append(value * (INCH if unit == "in" else 1000) * (-1 if over else 1))
    return found


def numbers(text: str) -> tuple[int, ...]:
    """``1 to 4, 7 and 9`` as numbers."""
    found: list[int] = []
    for match in re.finditer(r"(\d+)(?: to (\d+))?", text):
        found += range(int(match[1]), int(match[2] or match[1]) + 1)
    return tuple(found)


def clock(text: str) -> int:
    """``2:05`` in seconds."""
    minutes, seconds = text.split(":")
    return int(minutes) * 60 + int(seconds)


def read(file: Path) -> Notes:
    """The notes of a job."""
    return parse(file.read_text(encoding="utf-8"))


def parse(text: str) -> Notes:
    """The same from their text."""
    notes, part = Notes(), ""
    for line in text.splitlines():
        if re.match(r"\d\. [A-Z]", line) and line == line.upper():
            part = line
        cells = dict(cell.split(": ", 1) for cell in line.split("; ") if ": " in cell)
        name, _, value = line.partition(": ")
        if line.startswith("Panel: ") and "Row, column" in cells:
            row, column = numbers(cells["Row, column"])
            strips = {edge: strip(cells[edge.capitalize()]) for edge in EDGES}
            notes.sheets[int(cells["Panel"])] = Sheet(row, column, numbers(cells["Lies on"]), strips)
        elif line.startswith("Row: ") and "From its top" in cells:
            across = lengths(cells["Edges and seams from the blank's left"])
            top, bottom = lengths(cells["From its top"])
            notes.rows.append(Row(numbers(cells["Panels from the left"]), tuple(across), (top, bottom)))
        elif line.startswith("Place: ") and "Close at" in cells:
            x, y = lengths(cells["Plate from the left"]) + lengths(cells["Plate from the top"])
            turned, again = cells["Plate"] == "turned", numbers(cells["Overlaps places"])
            notes.places.append(Place(x, y, turned, clock(cells["Close at"]), clock(cells["Open at"]), again))
        elif part.endswith("JOIN THEM") and re.match(r"\d+\. ", line) and line != part:
            notes.steps.append(line.split(". ", 1)[1])
        else:
            fact(notes, name, value)
            for number, panels in re.findall(rf"piece (\d+) is panels? ({NUMBERS})", line):
                notes.pieces[int(number)] = set(numbers(panels))
        notes.from_its_face |= line.startswith("Blank seen from its face")
    return notes


def strip(cell: str) -> Strip:
    """``CUT 3/4 in (0.756)``."""
    what, width = cell.split(" ", 1)
    return Strip(what, lengths(width)[0])


def fact(notes: Notes, name: str, value: str) -> None:
    """A name and its value."""
    sizes = {"Blank's size": "blank", "Design": "design", "Sheets": "page", "Design lies": "design_at", "Plate": "plate"}
    if name in sizes:
        found = lengths(value.split(": ")[-1])
        setattr(notes, sizes[name], (found[0], found[1]))
    elif name == "Weak edge":
        notes.weak_edge = lengths(value)[0]
    elif name.startswith("From the ") and lengths(value):
        notes.sides[name.removeprefix("From the ")] = lengths(value)[0]
