"""The pages laid together again by the record, against an independent resampling of the artwork."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from .asked import Asked
from .assembly import Window, cells, middles, on_top, turned_over, window
from .design import Design, artwork, placement_fault, resampled
from .findings import Findings
from .record import Panel, Record
from .register import Fit, register
from .render import areas, manages_colour, page, positions, samples
from .tools import Missing

MEAN, PSNR = 1.0, 40.0
"""The most a level may be off on average, of 255, and the least signal to noise in dB."""
BARE = 250
"""From here on a pixel has no ink that shows."""
MORE = 24
"""So much darker than the artwork, a pixel shows what is not in it: more than two ways of scaling differ by."""
PLACE_UM, SCALE = 20.0, 0.0005
"""The most a panel may be off its place and its scale."""
FINE, ODD = 4, 3.37
"""Device pixels to one of the design: for samples, and, no whole multiple, for registering."""


def borders(
    record: Record, panel: Panel, at: Window, ppi: float, down_um: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Borders of the window's cells on the page, in device pixels."""
    pitch = 25400 / record.ppi
    x, y = record.page_start(panel, at.i0 * pitch, at.j0 * pitch)
    across = positions(x, at.i1 - at.i0, pitch, record.mirrored, ppi)
    return across, positions(y + down_um, at.j1 - at.j0, pitch, False, ppi)


def judge(record: Record, asked: Asked, pdf: Path, art: Path, found: Findings) -> None:
    """Values by two readers, places by Ghostscript."""
    colour = record.raw["colour"] or {}
    if colour.get("converted"):
        found.skip("values and places", "the sheets hold a printer's own values, which no reader turns back")
        return
    tagged = colour.get("attached") is not None
    source = artwork(art, tagged=tagged)
    wrong = placement_fault(record, source.size)
    found.add("the picture lies in the design as ordered", not wrong, wrong)
    design = resampled(record, source, asked)
    for reader in ("poppler", "mupdf"):
        try:
            # A reader built without colour management shows the stored numbers, and is asked for those.
            plain = tagged and not manages_colour(reader, pdf)
            seen = resampled(record, artwork(art, tagged=False), asked) if plain else design
            values(record, seen, pdf, reader, found)
        except Missing as why:
            found.skip(f"values by {reader}", str(why))
    places(record, design, pdf, found)


def inner(mask: np.ndarray, around: bool) -> np.ndarray:
    """All but the outermost pixels of what a mask holds, itself lying in ``around``: where print ends, pixels are cut."""
    wide = np.pad(mask, 1, constant_values=around)
    rows, columns = mask.shape
    return np.logical_and.reduce([wide[y : y + rows, x : x + columns] for y in range(3) for x in range(3)])


def values(record: Record, design: Design, pdf: Path, reader: str, found: Findings) -> None:
    """The lay-up as it lies on the blank: of every pixel of the design, what is on the paper on top there.

    Where nothing was to be printed, paper of any sheet that lies there must show no more than the artwork has; and
    the laps, wherever they end up, must show the artwork.
    """
    whole, wanted, owner = np.full_like(design.pixels, 255), cells(record), on_top(record)
    if owner is None:
        found.add(f"looks like the artwork ({reader})", False, "there is no order to lay the sheets in")
        return
    ppi = record.ppi * FINE

    def read(panel: Panel) -> tuple[Panel, Window, np.ndarray]:
        at = window(record, turned_over(record, panel))
        return panel, at, samples(page(reader, pdf, panel.page, ppi), *borders(record, panel, at, ppi))

    laps, spoilt, beyond = [0.0], 0, 0
    with ThreadPoolExecutor(2) as pool:
        for panel, at, seen in pool.map(read, record.panels):
            mine, top = wanted[at.slices] == panel.number, owner[at.slices] == panel.number
            whole[at.slices][top] = seen[top]
            kept, printed = middles(record, turned_over(record, panel), at), middles(record, panel.face, at)
            off = seen.astype(np.int16) - design.pixels[at.slices]
            lap = printed & ~mine & design.known[at.slices]
            if lap.any():
                laps.append(float(np.abs(off[lap]).mean()))
            spoilt += int((off.min(axis=2) < -MORE)[kept & (wanted[at.slices] == 0)].sum())
            beyond += int((seen.min(axis=2) < BARE)[printed & design.beyond[at.slices]].sum())
    use = inner(wanted > 0, True) & design.known
    bare = use & (whole.min(axis=2) >= BARE) & (design.pixels.min(axis=2) < 240)
    found.add(f"no white shows ({reader})", not bare.any(), f"{int(bare.sum())} pixels")
    off = np.abs(whole[use].astype(np.int16) - design.pixels[use])
    mean, square = float(off.mean()), float((off.astype(np.float64) ** 2).mean())
    noise = math.inf if square == 0 else 10 * math.log10(255**2 / square)
    said = f"mean {mean:.3f} of 255, {noise:.1f} dB, most {int(off.max())}"
    found.add(f"looks like the artwork ({reader})", mean <= MEAN and noise >= PSNR, said)
    found.add(f"laps show the artwork ({reader})", max(laps) <= MEAN, f"worst mean {max(laps):.3f} of 255")
    said = f"{spoilt} pixels of paper beside the cells, {beyond} beyond the outline"
    found.add(f"bare is bare ({reader})", spoilt + beyond == 0, said)


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
        known = design.known[at.slices] & inner(middles(record, panel.face, at), False)
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
