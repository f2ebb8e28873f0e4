"""A job's record: read, held against the shipped schema, and turned into places on pages."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import jsonschema

from .render import POINT

SCHEMA = Path(__file__).resolve().parents[3] / "config" / "schemas" / "record.schema.json"

ACROSS = {"left": "right", "top": "bottom", "right": "left", "bottom": "top"}
"""Each edge's opposite."""


@dataclass(frozen=True)
class Box:
    """A rectangle in whole micrometres, from the top left."""

    x: int
    y: int
    w: int
    h: int

    @property
    def right(self) -> int:
        return self.x + self.w

    @property
    def bottom(self) -> int:
        return self.y + self.h

    @property
    def area(self) -> int:
        return self.w * self.h

    def shared(self, other: Box) -> Box | None:
        """What two rectangles have in common, if that has an area."""
        x, y = max(self.x, other.x), max(self.y, other.y)
        w, h = min(self.right, other.right) - x, min(self.bottom, other.bottom) - y
        return Box(x, y, w, h) if w > 0 and h > 0 else None

    def holds(self, other: Box) -> bool:
        """Whether another lies wholly inside."""
        return self.shared(other) == other


@dataclass(frozen=True)
class Panel:
    """One panel as the record has it."""

    number: int
    row: int
    column: int
    page: int
    face: Box
    cell: Box
    page_pt: tuple[float, float, float, float]
    trim: tuple[str, ...]
    on_top_of: tuple[int, ...]


@dataclass(frozen=True)
class Seam:
    """One seam as the record has it: the line's ends on the face, and in a word what it crosses, if that was weighed."""

    between: tuple[int, int]
    upper: int
    ends: tuple[tuple[int, int], tuple[int, int]]
    word: str | None


@dataclass(frozen=True)
class Touch:
    """Two panels whose cells touch, ``first`` left of or above ``second``, ink side up."""

    first: Panel
    second: Panel
    edge: str
    """The first one's edge, ``right`` or ``bottom``."""
    ends: tuple[tuple[int, int], tuple[int, int]]
    """Where they touch on the face, from the lesser ends."""

    @property
    def pair(self) -> tuple[int, int]:
        """The two numbers, the lower first."""
        return tuple(sorted((self.first.number, self.second.number)))


@dataclass(frozen=True)
class Record:
    """The parts of a record that the judges use, and the whole of it in ``raw``."""

    raw: dict
    mirrored: bool
    ppi: float
    design: Box
    picture: Box
    page_um: tuple[int, int]
    panels: tuple[Panel, ...]
    seams: tuple[Seam, ...]
    left_out: tuple[Box, ...]

    def on_paper(self, face: Box) -> Box:
        """A rectangle of the face on the lay-up, ink side up."""
        return Box(self.design.w - face.right, face.y, face.w, face.h) if self.mirrored else face

    def page_left_top(self, panel: Panel) -> tuple[float, float]:
        """The top left of the panel's printed face on its page, in micrometres from the page's top left."""
        x, y, _, h = panel.page_pt
        return x * POINT, self.page_um[1] - (y + h) * POINT

    def page_start(self, panel: Panel, face_x: float, face_y: float) -> tuple[float, float]:
        """Where a point of the face lies on the panel's page, in micrometres from the page's top left."""
        left, top = self.page_left_top(panel)
        # A mirrored panel lies on its page with the face's right edge at the left.
        across = panel.face.right - face_x if self.mirrored else face_x - panel.face.x
        return left + across, top + face_y - panel.face.y

    @cached_property
    def touches(self) -> tuple[Touch, ...]:
        """Every two cells that touch along a line of any length."""
        found = []
        for a in self.panels:
            for b in self.panels:
                one, two = self.on_paper(a.cell), self.on_paper(b.cell)
                left, right = max(a.cell.x, b.cell.x), min(a.cell.right, b.cell.right)
                top, bottom = max(a.cell.y, b.cell.y), min(a.cell.bottom, b.cell.bottom)
                if one.right == two.x and top < bottom:
                    found.append(Touch(a, b, "right", ((left, top), (right, bottom))))
                if one.bottom == two.y and left < right:
                    found.append(Touch(a, b, "bottom", ((left, top), (right, bottom))))
        return tuple(found)

    def upper(self, touch: Touch) -> Panel | None:
        """Which of two touching panels lies on top, by their seam."""
        uppers = [seam.upper for seam in self.seams if seam.between == touch.pair]
        return next((panel for panel in (touch.first, touch.second) if [panel.number] == uppers), None)

    def joins(self, panel: Panel) -> dict[str, list[Touch]]:
        """What touches a panel, by its edges."""
        found: dict[str, list[Touch]] = {edge: [] for edge in ACROSS}
        for touch in self.touches:
            if touch.first is panel:
                found[touch.edge].append(touch)
            if touch.second is panel:
                found[ACROSS[touch.edge]].append(touch)
        return found

    def outer(self, panel: Panel) -> frozenset[str]:
        """The panel's edges, ink side up, that no other panel's cell touches."""
        return frozenset(edge for edge, touches in self.joins(panel).items() if not touches)


def faults(raw: object) -> list[str]:
    """What the schema has against a record."""
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    judge = jsonschema.Draft202012Validator(schema)
    return [f"{error.json_path}: {error.message}" for error in judge.iter_errors(raw)]


def parse(raw: dict) -> Record:
    """A record that fits the schema, as values."""
    panels = tuple(
        Panel(
            number=p["panel"],
            row=p["row"],
            column=p["column"],
            page=p["page"],
            face=Box(*p["face_um"]),
            cell=Box(*p["cell_um"]),
            page_pt=tuple(p["page_pt"]),
            trim=tuple(p["trim"]),
            on_top_of=tuple(p["on_top_of"]),
        )
        for p in raw["panels"]
    )
    seams = tuple(
        Seam(
            between=tuple(s["between"]),
            upper=s["upper"],
            ends=(tuple(s["face_um"][:2]), tuple(s["face_um"][2:])),
            word=s.get("class"),
        )
        for s in raw["seams"]
    )
    design = raw["design"]
    return Record(
        raw=raw,
        mirrored=raw["mirrored"],
        ppi=design["sheet_ppi"],
        design=Box(0, 0, design["width_um"], design["height_um"]),
        picture=Box(*design["picture_um"]),
        page_um=(raw["paper"]["width_um"], raw["paper"]["height_um"]),
        panels=panels,
        seams=seams,
        left_out=tuple(Box(*box) for box in raw["left_out"]),
    )
