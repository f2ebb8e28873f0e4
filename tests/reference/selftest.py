#!/usr/bin/env python3
"""Judges the judges: jobs made by a tiny generator of their own pass when they are good and fail when spoilt."""

from __future__ import annotations

import math
import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from judging import art, tools
from judging.asked import Asked
from judging.findings import Findings
from judging.job import judge
from judging.made import write_job
from judging.outline import Blank
from judging.plan import Plan, Row, Spoil, grid, left_out
from judging.record import Box
from PIL import Image

A4 = {"page_um": (297_000, 210_000), "left_top_um": (11_111, 9_999)}
BRICKS = Plan((
    Row(100_000, ((0, 210_000), (210_000, 400_000))),
    Row(110_000, ((0, 130_000), (130_000, 250_000), (250_000, 400_000))),
    Row(90_000, ((0, 160_000), (160_000, 400_000))),
))  # fmt: skip
STEPS = Plan((
    Row(90_000, ((0, 180_000), (180_000, 400_000)), on_left=frozenset({2})),
    Row(120_000, ((60_000, 200_000), (200_000, 330_000)), on_above=True),
    Row(110_000, ((100_000, 240_000), (240_000, 380_000)), on_left=frozenset({2})),
), cut=0.25)  # fmt: skip
APART = Plan((
    Row(80_000, ((0, 120_000), (280_000, 400_000))),
    Row(140_000, ()),
    Row(80_000, ((0, 200_000), (200_000, 310_000))),
))  # fmt: skip
SMALL = grid(2, 2, ppi=50.0)
"""For faults that need no close look."""

TRIMMED, ON_TOP = "trimmed where they lie on a neighbour", "its own panel lies on top in every cell"


@dataclass(frozen=True)
class Made:
    """A lay-up to make, what the judges are told of it, and what it is made from."""

    plan: Plan
    spoil: Spoil = Spoil()
    asked: Asked = Asked()
    filled: bool = False
    """Whether the artwork also fills what is left out."""


GOOD = {
    "one sheet": Made(grid(1, 1, 200_000, 140_000)),
    "2 x 2": Made(grid(2, 2)),
    "3 x 2 on A4, seen through": Made(grid(3, 2, 600_000, mirrored=False, ppi=72.0, **A4)),
    "3 x 3, odd lap": Made(grid(3, 3, 590_001, 440_003, ppi=72.5, lap_um=5_081)),
    "bricks": Made(BRICKS),
    "bricks, seen through": Made(replace(BRICKS, mirrored=False, ppi=72.0)),
    "steps, every way round": Made(STEPS, asked=Asked(cut=0.25)),
    "apart": Made(replace(APART, ppi=72.0)),
    "round": Made(replace(grid(2, 2, 300_000), shape="round", ppi=72.0)),
    "marks": Made(grid(2, 2), asked=Asked(tint=True)),
    "marks on steps": Made(STEPS, asked=Asked(cut=0.25, tint=True)),
}
SPOILT = {
    "0.1 mm aside": (Made(grid(2, 2), Spoil(shift_um=100.0)), "panels lie in their place"),
    "0.03 mm aside": (Made(grid(2, 2), Spoil(shift_um=30.0)), "panels lie in their place"),
    "a thousandth too wide": (Made(grid(2, 2), Spoil(stretch=1.001)), "panels lie in their place"),
    "not mirrored": (Made(SMALL, Spoil(unmirrored=True)), "looks like the artwork (poppler)"),
    "one trim missing": (Made(SMALL, Spoil(missing_trim=True)), TRIMMED, ON_TOP, "looks like the artwork (poppler)"),
    "another edge trimmed": (Made(SMALL, Spoil(other_edge=True)), TRIMMED, ON_TOP, "looks like the artwork (poppler)"),
    "two panels swapped": (Made(SMALL, Spoil(swapped=True)), "stacked as the seams say", ON_TOP),
    "a seam in a row the other way": (Made(SMALL, Spoil(other_upper=0)), TRIMMED, "stacked as the seams say"),
    "a seam between rows the other way": (Made(replace(BRICKS, ppi=50.0), Spoil(other_upper=1)), TRIMMED,
                                          "rows can be joined first"),
    "a circle": (Made(SMALL, Spoil(circle=True)), "no panel lies on itself by way of others"),
    "a seam aside": (Made(SMALL, Spoil(seam_um=100)), "a seam wherever cells touch"),
    "cut elsewhere in the lap": (Made(SMALL, asked=Asked(cut=0.4)), "faces are cells and laps"),
    "room on the wrong side": (Made(SMALL, asked=Asked(margin_um=6_350)), "room goes where paper is cut off"),
    "a gap between cells": (Made(SMALL, Spoil(gap_um=1)), "cells partition the design"),
    "counted from the right": (Made(SMALL, Spoil(late=True)), "panels are counted by rows, ink side up"),
    "ink left out": (Made(replace(APART, ppi=50.0), filled=True), "nothing inked is left out"),
    "ink called bare": (Made(SMALL, Spoil(called_bare=True)), "bare seams cross no ink"),
    "a lap where none may be": (Made(SMALL, asked=Asked(keep_clear=(Box(190_000, 20_000, 7_600, 9_000),))),
                                "no lap lies where it must not"),
    "beyond the outline": (Made(replace(SMALL, shape="oval"), Spoil(reach_um=1_000)), "bare is bare (poppler)"),
    "not up to the outline": (Made(replace(SMALL, shape="oval"), Spoil(reach_um=-1_000)), "no white shows (poppler)"),
    "a plate aside": (Made(SMALL, Spoil(plate_um=12_000)), "every inked place is heated"),
    "a plate too many": (Made(SMALL, Spoil(crowded=True)), "no more heat than spread evenly"),
    "plates out of order": (Made(SMALL, Spoil(jumps=True)), "nothing is jumped over"),
    "a page too wide": (Made(SMALL, Spoil(page_larger_pt=0.02)), "MediaBox is the paper by MuPDF"),
    "profile lost": (Made(SMALL, Spoil(untagged=True)), "profile seen by poppler"),
    "label lost": (Made(SMALL, Spoil(no_label=True)), "labels are text"),
    "ink where paper stays": (Made(grid(2, 2), Spoil(ink_kept=True), Asked(tint=True)), "no mark is left after trimming"),
}  # fmt: skip


def picture(made: Made) -> Image.Image:
    """Artwork for a lay-up: bare where that leaves something out."""
    drawn = art.tint(1600, 1200) if made.asked.tint else art.photo(1600, 1200, seed=1)
    across, down = drawn.width / made.plan.width_um, drawn.height / made.plan.height_um
    for x, y, w, h in [] if made.filled else left_out(made.plan):
        # Pixels by their middles, and one that lies on the border too.
        low = math.ceil(x * across - 0.501), math.ceil(y * down - 0.501)
        drawn.paste((255, 255, 255), (*low, math.ceil((x + w) * across - 0.501), math.ceil((y + h) * down - 0.501)))
    return drawn


def look(name: str, made: Made, root: Path) -> list[str]:
    """Makes a job and judges it; gives the checks that failed."""
    job, file = root / name.replace(" ", "-"), root / f"{name.replace(' ', '-')}.png"
    picture(made).save(file)
    write_job(job, file, made.plan, made.spoil)
    found = Findings()
    judge(job, file, found, made.asked)
    print(f"-- {name}\n{found.table()}", flush=True)
    return [item.check for item in found.failed()]


def outlines(sums: Findings) -> None:
    """Areas within outlines against the formulas for them: blanks of 300 x 200 mm, grown and shrunk by 20 mm."""
    x, y = np.meshgrid(*(np.arange(-40, end, 0.25) + 0.125 for end in (340, 240)))
    for reach in (20, 0, -20):
        a, b = 150 + reach, 100 + reach
        corner = 30 + reach
        wanted = {
            "oval": math.pi * a * b,
            "half-moon": math.pi * a * (200 + reach) / 2 + 2 * a * max(reach, 0),
            "rounded": 4 * a * b - (4 - math.pi) * corner**2,
        }
        if reach < 0:
            # The flat edge cuts off the lowest strip of half the oval.
            depth = -reach / (200 + reach)
            wanted["half-moon"] -= a * (200 + reach) * (depth * math.sqrt(1 - depth**2) + math.asin(depth))
        for shape, area in wanted.items():
            seen = Blank(shape, 0, 0, 300, 200, reach, 30).inside(x, y).sum() / 16
            sums.add(f"outline: {shape} {reach:+} mm", abs(seen - area) < 0.001 * area, f"{seen:.0f} of {area:.0f} mm2")


def main() -> int:
    """Makes and judges them all."""
    absent = tools.missing()
    sums = Findings("selftest")
    outlines(sums)
    if absent:
        sums.skip("everything", f"not installed: {', '.join(absent)}")
        print(sums.table())
        return 1 if sums.failed() else 0
    with tempfile.TemporaryDirectory(prefix="selftest-") as folder:
        root = Path(folder)
        for name, made in GOOD.items():
            failed = look(name, made, root)
            sums.add(f"good: {name}", not failed, ", ".join(failed))
        for name, (made, *checks) in SPOILT.items():
            failed = look(name, made, root)
            sums.add(f"spoilt: {name}", set(checks) <= set(failed), f"failed: {', '.join(failed) or 'nothing'}")
    print("\n" + sums.table())
    return sums.close()


if __name__ == "__main__":
    sys.exit(main())
