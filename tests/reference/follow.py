#!/usr/bin/env python3
"""Follows the notes of many jobs to the letter: does the design come to lie on the blank, by the notes' words alone?

The built program works off random jobs. Of each, ``notes.txt`` is read by rules, cut, stacked, turned over, placed and
pressed (``judging/following.py``). What comes of it is held against the record's cells and pages to 0.1 mm, and the ink
against the heated places; of some, the sheets' pixels are laid so on the blank and held against the artwork. Spoilt notes
must not pass.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from judging import art, notes, tools
from judging.asked import Asked
from judging.assembly import Window
from judging.design import artwork, resampled
from judging.findings import Findings
from judging.following import CLOSE, RASTER, Laid, Piece, follow, pressed
from judging.lay import FINE, MEAN, PSNR
from judging.outline import blank as outline
from judging.record import Record, parse
from judging.render import page, positions, samples
from judging.studio import Case, Studio
from PIL import Image

PPI = 90
LAPS = [
    {"lap": "5mm", "trim": "panels-first"},
    {"lap": "8mm", "cut": 0.25, "trim": "rows-first"},
    {"lap": "0.2in", "trim": "panels-first"},
    {"lap": "0.31in", "cut": 0.6, "trim": "rows-first"},
]
UNITS = ["inch", "metric", "inch", "metric"]


def picture(chance: random.Random, width: float, height: float, ppi: float) -> Image.Image:
    """A full picture, or one with medallions on bare ground."""
    size = max(60, round(width * ppi)), max(60, round(height * ppi))
    drawn = art.photo(*size, seed=chance.randrange(1 << 30))
    if chance.random() < 0.3:
        parts = [(chance.uniform(0, 0.75), chance.uniform(0, 0.75), chance.uniform(0.1, 0.25), chance.uniform(0.1, 0.25))
                 for _ in range(chance.randint(1, 4))]  # fmt: skip
        drawn = art.only(drawn, parts)
    return drawn


def random_case(chance: random.Random, number: int) -> Case:
    """A job of any size, shape, paper and press; lengths are odd ones."""
    width, height = chance.uniform(6, 44), chance.uniform(6, 34)
    shape = chance.choice(["rectangle"] * 3 + ["rounded", "oval", "round", "half-moon"])
    if shape == "round":
        height = width = min(width, height)
    blank = {"shape": shape} | ({"radius": "1.5in"} if shape == "rounded" else {})
    if chance.random() < 0.5:
        blank[chance.choice(["inset", "bleed"])] = f"{chance.uniform(1, 6):.2f}mm"
    order = {
        "paper": chance.choice(["letter", "a4", "13x19", "auto"]),
        "fit": chance.choice(["stretch", "cover"]),
        "press": chance.choice(["hand-12x10", "hand-15x15", "hand-9x9", "swing-16x20"]),
    }
    size = (f"{width:.3f}in", f"{height:.3f}in")
    return Case(f"job-{number:03}", picture(chance, width, height, 12), size, 0, order=order, blank=blank,
                seen_through=chance.random() < 0.15)  # fmt: skip


def shown() -> list[Case]:
    """Jobs whose pixels are looked at; two for each studio."""
    steps = [(0, 0, 1, 0.5), (0.5, 0.5, 0.5, 0.5)]
    made = [
        (("20in", "15in"), {}),
        (("24in", "24in"), {"blank": {"shape": "round"}}),
        (("28.3in", "22.1in"), {"order": {"paper": "a4"}}),
        (("20in", "15in"), {"seen_through": True}),
        (("36in", "24in"), {"blank": {"inset": "0.5in"}}),
        (("20in", "15in"), {"parts": steps}),
        (("24in", "12.5in"), {"order": {"paper": "13x19"}}),
        (("36in", "24in"), {"blank": {"shape": "half-moon"}}),
    ]
    cases = []
    for number, (size, more) in enumerate(made, 1):
        drawn = art.photo(2100, 1500, seed=60 + number)
        parts = more.pop("parts", None)
        order = more.pop("order", {}) | {"fit": "stretch"}
        cases.append(Case(f"pixels-{number}", art.only(drawn, parts) if parts else drawn, size, 0, order=order, **more))
    return cases


def against_record(said: notes.Notes, piece: Piece, record: Record) -> list[str]:
    """Where panels lie on pages and on the blank otherwise than the record has it, by more than 0.1 mm."""
    wrong, (left, top) = [], record.raw["blank"]["placed_um"]
    if piece.turned_over != record.mirrored:
        wrong.append(f"turned over {piece.turned_over}, mirrored {record.mirrored}")
    if {panel.number for panel in record.panels} != {laid.number for laid in piece.laid}:
        wrong.append("other panels than the record's")
    for laid in piece.laid:
        panel = next(panel for panel in record.panels if panel.number == laid.number)
        cell, strips = panel.cell, said.sheets[laid.number].strips
        place = cell.x + left, cell.y + top, cell.right + left, cell.bottom + top
        x = record.page_start(panel, cell.right if record.mirrored else cell.x, cell.y)
        on_page = *x, x[0] + cell.w, x[1] + cell.h
        for what, mine, theirs in (("on the blank", laid.cell, place), ("on its page", laid.on_page, on_page)):
            off = np.abs(np.array([mine.left, mine.top, mine.right, mine.bottom]) - theirs).max()
            if off > CLOSE:
                wrong.append(f"panel {laid.number} is {off:.0f} um off {what}")
        if {edge for edge, strip in strips.items() if strip.what == "CUT"} != set(panel.trim):
            wrong.append(f"panel {laid.number} is trimmed {panel.trim}")
        if set(said.sheets[laid.number].lies_on) != set(panel.on_top_of):
            wrong.append(f"panel {laid.number} lies on {panel.on_top_of}")
    return wrong


def inked(record: Record, asked: Asked, source: Image.Image) -> np.ndarray:
    """Where the design has ink beyond doubt, as a raster over it."""
    columns, rows = (max(8, round(side / RASTER)) for side in (record.design.w, record.design.h))
    if record.raw["fit"] == "cover":
        ratio = min(source.width / record.design.w, source.height / record.design.h)
        w, h = record.design.w * ratio, record.design.h * ratio
        box = ((source.width - w) / 2, (source.height - h) / 2, (source.width + w) / 2, (source.height + h) / 2)
    else:
        box = (0, 0, source.width, source.height)
    seen = np.asarray(source.convert("L").resize((columns, rows), Image.Resampling.BOX, box=box)) < 225
    x = (np.arange(columns) + 0.5) * record.design.w / columns
    y = (np.arange(rows) + 0.5) * record.design.h / rows
    if record.raw["blank"]["shape"] != "rectangle":
        seen &= outline(record, asked).inside(x[None, :], y[:, None])
    # A raster place on the very edge of ink may be half bare.
    wide = np.pad(seen, 1, constant_values=True)
    return np.logical_and.reduce([wide[j : j + rows, i : i + columns] for j in range(3) for i in range(3)]) & seen


def pixels(said: notes.Notes, piece: Piece, record: Record, asked: Asked, pdf: Path, file: Path) -> str:
    """The sheets' pixels laid on the blank by the notes, against the artwork; gives what is wrong."""
    pitch, ppi = 25_400 / record.ppi, record.ppi * FINE
    design = resampled(record, artwork(file, tagged=True), asked)
    rows, columns = design.known.shape
    whole, mine = np.full_like(design.pixels, 255), np.zeros((rows, columns), bool)
    x, y = said.design_at[0] + (np.arange(columns) + 0.5) * pitch, said.design_at[1] + (np.arange(rows) + 0.5) * pitch
    for laid in piece.laid:
        at, seen = on_page(laid, piece, said, (x, y), page("poppler", pdf, laid.number, ppi), ppi)
        whole[at.slices] = seen
        cell = ((y >= laid.cell.top) & (y < laid.cell.bottom))[:, None] & ((x >= laid.cell.left) & (x < laid.cell.right))
        mine |= cell
    use = mine & design.known
    off = whole[use].astype(np.float64) - design.pixels[use]
    mean, noise = float(np.abs(off).mean()), 10 * np.log10(255**2 / max(1e-9, float((off**2).mean())))
    return "" if mean <= MEAN and noise >= PSNR else f"mean {mean:.2f} of 255, {noise:.1f} dB"


def on_page(laid: Laid, piece: Piece, said: notes.Notes, middles: tuple[np.ndarray, np.ndarray], shot: np.ndarray,
            ppi: float) -> tuple[Window, np.ndarray]:  # fmt: skip
    """The design's pixels that a panel's paper covers, and what its page shows there."""
    x, y = middles
    i = np.flatnonzero((x >= laid.paper.left) & (x < laid.paper.right))
    j = np.flatnonzero((y >= laid.paper.top) & (y < laid.paper.bottom))
    at = Window(i[0], j[0], i[-1] + 1, j[-1] + 1)
    pitch = x[1] - x[0]
    start_x, start_y = x[i[0]] - pitch / 2, y[j[0]] - pitch / 2
    across = start_x - laid.cell.left
    left = laid.on_page.right - across if piece.turned_over else laid.on_page.left + across
    down = laid.on_page.top + start_y - laid.cell.top
    borders = positions(left, len(i), pitch, piece.turned_over, ppi), positions(down, len(j), pitch, False, ppi)
    return at, samples(shot, *borders)


@dataclass
class Job:
    """A finished job, and what a maker would make of its notes."""

    folder: Path
    art: Path
    asked: Asked
    pixels: bool

    def faults(self, text: str | None = None) -> list[str]:
        """What goes wrong where its notes, or these, are followed."""
        said = notes.parse(text) if text is not None else notes.read(self.folder / "notes.txt")
        piece = follow(said)
        record = parse(json.loads((self.folder / "record.json").read_text(encoding="utf-8")))
        wrong = list(piece.wrong)
        if piece.laid:
            wrong += against_record(said, piece, record)
        if said.places:
            wrong += pressed(said, inked(record, self.asked, artwork(self.art, tagged=True)))
        elif record.raw["press"]:
            wrong.append("no places of the plate")
        return wrong

    def looks(self, text: str | None = None) -> str:
        """What is wrong with the pixels on the blank."""
        said = notes.parse(text) if text is not None else notes.read(self.folder / "notes.txt")
        record = parse(json.loads((self.folder / "record.json").read_text(encoding="utf-8")))
        return pixels(said, follow(said), record, self.asked, self.folder / "sheets.pdf", self.art)


def swapped(text: str) -> str:
    """The first two panels' lines in the table, each under the other's number."""
    text = text.replace("\nPanel: 1; ", "\nPanel: 0; ").replace("\nPanel: 2; ", "\nPanel: 1; ")
    return text.replace("\nPanel: 0; ", "\nPanel: 2; ")


def wrongly_trimmed(text: str) -> str:
    """The first edge that is cut is kept instead, to go under."""
    return text.replace(": CUT ", ": under ", 1)


def laid_wrongly(text: str) -> str:
    """The first two panels change places on the blank."""
    return re.sub(r"(Panels from the left: )(\d+), (\d+)", r"\1\3, \2", text, count=1)


def longer(text: str) -> str:
    """The first seam lies 1 mm farther from the blank's edge."""
    def move(match: re.Match[str]) -> str:
        return f"{match[1]}{match[2]}, {(notes.lengths(match[3])[0] + 1000) / 1000:.0f} mm ({(notes.lengths(match[3])[0] + 1000) / 1000:.3f})"

    return re.sub(r"(blank's left: )([^,;]*), ([^,;]*)", move, text, count=1)


def wider(text: str) -> str:
    """The first strip that is cut is 1 mm wider."""
    def move(match: re.Match[str]) -> str:
        um = notes.lengths(match[1])[0] + 1000
        return f": CUT {um / 1000:.0f} mm ({um / 1000:.3f})"

    return re.sub(r": CUT ([\d /.]+(?:in|mm)(?: \([\d.]+\))?)", move, text, count=1)


def elsewhere(text: str) -> str:
    """The first place of the plate is 60 mm farther right."""
    return re.sub(r"(Plate from the left: )([^;]*)", lambda m: f"{m[1]}{(notes.lengths(m[2])[0] + 60_000) / 1000:.0f} mm", text, count=1)


SPOILT: dict[str, Callable[[str], str]] = {
    "two panels swapped in the table": swapped,
    "two panels swapped on the blank": laid_wrongly,
    "one trim edge wrong": wrongly_trimmed,
    "one seam 1 mm off": longer,
    "one strip 1 mm off": wider,
    "one place of the plate off": elsewhere,
}


def work(binary: Path, root: Path, index: int, cases: list[Case], writers: list[str], found: Findings) -> list[Job]:
    """Lets a studio work off its jobs and follows the notes of each."""
    studio = Studio(root / f"{'-'.join(writers)}-{index}", PPI, LAPS[index])
    studio.prepare(cases)
    config = studio.root / "seamwright.yaml"
    changed = json.loads(config.read_text(encoding="utf-8")) | {"units": UNITS[index], "writers": writers}
    config.write_text(json.dumps(changed), encoding="utf-8")
    done = studio.work(binary)
    found.job = studio.root.name
    refused = len(list((studio.root / "refused").glob("*/why.txt")))
    found.add("works off its jobs", refused * 20 < len(cases), f"exit code {done.returncode}, {refused} refused")
    jobs = []
    for case in cases:
        folder = studio.finished(case)
        if folder is None:
            continue
        job = Job(folder, studio.root / "art" / case.file, studio.asked(case), case.name.startswith("pixels"))
        jobs.append(job)
        found.job = f"{studio.root.name} {case.name}"
        wrong = job.faults()
        found.add("can be followed to 0.1 mm", not wrong, "; ".join(wrong[:3]))
        if job.pixels and not wrong:
            wrong = job.looks()
            found.add("the design lies on the blank", not wrong, wrong)
    return jobs


def spoil(jobs: list[Job], found: Findings) -> None:
    """Notes with one thing wrong each must not pass."""
    for name, change in SPOILT.items():
        found.job = "spoilt"
        missed = []
        for job in jobs:
            text = (job.folder / "notes.txt").read_text(encoding="utf-8")
            if change(text) == text or not job.faults(change(text)):
                missed.append(job.folder.name)
        found.add(name, not missed and bool(jobs), f"missed in {missed}" if missed else f"caught in {len(jobs)}")


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    parser.add_argument("--jobs", type=int, default=200, help="how many random jobs")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="work in this new folder and leave it there")
    said = parser.parse_args()
    found = Findings("tools")
    absent = tools.missing()
    if absent:
        found.skip("following the notes", f"not installed: {', '.join(absent)}")
        return found.close()
    chance = random.Random(said.seed)
    cases = [random_case(chance, number) for number in range(said.jobs)]
    with tempfile.TemporaryDirectory(prefix="followed-") as folder:
        root = said.keep or Path(folder)
        jobs: list[Job] = []
        for index in range(len(LAPS)):
            # Pixels take time; the others need no sheets.
            for some, writers in ((cases, ["notes", "record"]), (shown(), ["sheets", "notes", "record"])):
                jobs += work(said.binary.resolve(), root, index, some[index :: len(LAPS)], writers, found)
        spoil([job for job in jobs if job.pixels and "pixels-6" not in job.folder.name], found)
    print(Findings(items=found.failed()).table() or "nothing failed")
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
