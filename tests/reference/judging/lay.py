"""The pages laid together again by the record, against an independent resampling of the artwork."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .design import Design, artwork, placement_fault, resampled
from .findings import Findings
from .record import Box, Panel, Record
from .register import Fit, register
from .render import areas, manages_colour, page, positions, samples
from .tools import Missing

MEAN, PSNR = 1.0, 40.0
"""The most a level may be off on average, of 255, and the least signal to noise in dB."""
PLACE_UM, SCALE = 20.0, 0.0005
"""The most a panel may be off its place and its scale."""
FINE, ODD = 4, 3.37
"""Device pixels to one of the design: for samples, and, no whole multiple, for registering."""


@dataclass
class Window:
    """The grid cells that a rectangle of the face touches."""

    i0: int
    j0: int
    i1: int
    j1: int

    @property
    def slices(self) -> tuple[slice, slice]:
        return slice(self.j0, self.j1), slice(self.i0, self.i1)


def window(record: Record, face: Box) -> Window:
    """Rounded outward."""
    per = record.ppi / 25400
    return Window(
        math.floor(face.x * per + 1e-5), math.floor(face.y * per + 1e-5),
        math.ceil(face.right * per - 1e-5), math.ceil(face.bottom * per - 1e-5),
    )  # fmt: skip


def middles(record: Record, box: Box, at: Window) -> np.ndarray:
    """Which of the window's cells have their middle in a rectangle of the face."""
    pitch = 25400 / record.ppi
    x = (np.arange(at.i0, at.i1) + 0.5) * pitch
    y = (np.arange(at.j0, at.j1) + 0.5) * pitch
    return ((y >= box.y) & (y < box.bottom))[:, None] & ((x >= box.x) & (x < box.right))[None, :]


def borders(
    record: Record, panel: Panel, at: Window, ppi: float, down_um: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Borders of the window's cells on the page, in device pixels."""
    pitch = 25400 / record.ppi
    x, y = record.page_start(panel, at.i0 * pitch, at.j0 * pitch)
    across = positions(x, at.i1 - at.i0, pitch, record.mirrored, ppi)
    return across, positions(y + down_um, at.j1 - at.j0, pitch, False, ppi)


def judge(
    record: Record, pdf: Path, art: Path, found: Findings, readers: tuple[str, ...] = ("poppler", "mupdf")
) -> None:
    """Values by each reader, places by Ghostscript."""
    colour = record.raw["colour"] or {}
    if colour.get("converted"):
        found.skip("values and places", "the sheets hold a printer's own values, which no reader turns back")
        return
    tagged = colour.get("attached") is not None
    source = artwork(art, tagged=tagged)
    wrong = placement_fault(record, source.size)
    found.add("the picture lies in the design as ordered", not wrong, wrong)
    design = resampled(record, source)
    for reader in readers:
        try:
            # A reader built without colour management shows the stored numbers, and is asked for those.
            plain = tagged and not manages_colour(reader, pdf)
            seen = resampled(record, artwork(art, tagged=False)) if plain else design
            values(record, seen, pdf, reader, found)
        except Missing as why:
            found.skip(f"values by {reader}", str(why))
    places(record, design, pdf, found)


def values(record: Record, design: Design, pdf: Path, reader: str, found: Findings) -> None:
    """Every pixel of the design, taken from the page whose cell it is in; and the laps, which must show the same."""
    whole = np.zeros_like(design.pixels)
    times = np.zeros(design.known.shape, np.uint8)
    ppi = record.ppi * FINE

    def read(panel: Panel) -> tuple[Panel, Window, np.ndarray]:
        at = window(record, panel.face)
        return panel, at, samples(page(reader, pdf, panel.page, ppi), *borders(record, panel, at, ppi))

    laps: list[float] = []
    with ThreadPoolExecutor(2) as pool:
        for panel, at, seen in pool.map(read, record.panels):
            mine = middles(record, panel.cell, at)
            whole[at.slices][mine] = seen[mine]
            times[at.slices] += mine
            lap = middles(record, panel.face, at) & ~mine & design.known[at.slices]
            if lap.any():
                laps.append(float(np.abs(seen[lap].astype(int) - design.pixels[at.slices][lap]).mean()))
    wanted = np.zeros_like(times)
    every = Window(0, 0, wanted.shape[1], wanted.shape[0])
    wanted[middles(record, record.design, every)] = 1
    for box in record.raw["left_out"]:
        wanted[middles(record, Box(*box), every)] = 0
    odd = int((times != wanted).sum())
    found.add(f"every pixel is covered once ({reader})", odd == 0, f"{odd} are not")
    use = (wanted == 1) & design.known
    bare = use & (whole.min(axis=2) >= 250) & (design.pixels.min(axis=2) < 240)
    found.add(f"no white shows ({reader})", not bare.any(), f"{int(bare.sum())} pixels")
    off = np.abs(whole[use].astype(np.int16) - design.pixels[use])
    mean, square = float(off.mean()), float((off.astype(np.float64) ** 2).mean())
    noise = math.inf if square == 0 else 10 * math.log10(255**2 / square)
    said = f"mean {mean:.3f} of 255, {noise:.1f} dB, most {int(off.max())}"
    found.add(f"looks like the artwork ({reader})", mean <= MEAN and noise >= PSNR, said)
    if laps:
        found.add(f"laps show the artwork ({reader})", max(laps) <= MEAN, f"worst mean {max(laps):.3f} of 255")


def places(record: Record, design: Design, pdf: Path, found: Findings) -> None:
    """Where each panel really lies on its page, and how large it is."""
    ppi = record.ppi * ODD
    bright = design.pixels.astype(np.float64).mean(axis=2)
    pitch = 25400 / record.ppi

    def measure(panel: Panel) -> tuple[Panel, Fit | None]:
        at = window(record, panel.face)
        shot = page("ghostscript", pdf, panel.page, ppi)
        # Its pages hang from the bottom of a whole number of pixels.
        down = (shot.shape[0] - record.page_um[1] * ppi / 25400) * 25400 / ppi
        seen = areas(shot, *borders(record, panel, at, ppi, down))
        known = design.known[at.slices] & middles(record, panel.face, at)
        return panel, register(seen, bright[at.slices], known)

    worst, scale, sure, plain, wrong = 0.0, 0.0, 0.0, [], []
    with ThreadPoolExecutor(2) as pool:
        for panel, fit in pool.map(measure, record.panels):
            if fit is None or fit.sure_shift * pitch > PLACE_UM / 4 or fit.sure_scale > SCALE / 4:
                plain.append(panel.number)
                continue
            off = max(abs(v) * pitch for v in fit.shift)
            larger = max(abs(v - 1) for v in fit.scale)
            worst, scale, sure = max(worst, off), max(scale, larger), max(sure, fit.sure_shift * pitch)
            if off > PLACE_UM or larger > SCALE:
                x, y = (v * pitch for v in fit.shift)
                wrong.append(
                    f"panel {panel.number}: ({x:.1f}, {y:.1f}) um, scale {fit.scale[0]:.5f} {fit.scale[1]:.5f}"
                )
    seen = len(record.panels) - len(plain)
    said = f"worst {worst:.2f} um (sure to {sure:.2f}), scale off {scale:.6f}"
    said += f", too plain to say: {plain}" if plain else ""
    found.add("panels lie in their place", not wrong and seen > 0, "; ".join(wrong[:3]) or said)
