#!/usr/bin/env python3
"""Judges the judges: jobs made by a tiny generator of their own pass when they are good and fail when spoilt."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from judging import art, tools
from judging.findings import Findings
from judging.job import judge
from judging.made import Plan, Spoil, write_job

A4 = {"page_um": (297_000, 210_000), "left_top_um": (11_111, 9_999)}
GOOD = {
    "one sheet": Plan(1, 1, width_um=200_000, height_um=140_000),
    "2 x 2": Plan(2, 2),
    "3 x 2 on A4, seen through": Plan(3, 2, width_um=600_000, mirrored=False, ppi=72.0, **A4),
    "3 x 3, odd lap": Plan(3, 3, width_um=590_001, height_um=440_003, ppi=72.5, lap_um=5_080),
}
SPOILT = {
    "0.1 mm aside": (Spoil(shift_um=100.0), "panels lie in their place"),
    "0.03 mm aside": (Spoil(shift_um=30.0), "panels lie in their place"),
    "a thousandth too wide": (Spoil(stretch=1.001), "panels lie in their place"),
    "not mirrored": (Spoil(unmirrored=True), "looks like the artwork (poppler)"),
    "one trim missing": (Spoil(missing_trim=True), "trim edges and stacking"),
    "a gap between cells": (Spoil(gap_um=1), "cells partition the design"),
    "a page too wide": (Spoil(page_larger_pt=0.02), "MediaBox is the paper by MuPDF"),
    "profile lost": (Spoil(untagged=True), "profile seen by poppler"),
    "label lost": (Spoil(no_label=True), "labels are text"),
}


def main() -> int:
    """Makes and judges them all."""
    absent = tools.missing()
    sums = Findings("selftest")
    if absent:
        sums.skip("everything", f"not installed: {', '.join(absent)}")
        print(sums.table())
        return 1 if sums.failed() else 0
    with tempfile.TemporaryDirectory(prefix="selftest-") as folder:
        root = Path(folder)
        photo, tint = root / "photo.png", root / "tint.png"
        art.photo(1600, 1200, seed=1).save(photo)
        art.tint(1600, 1200).save(tint)

        def look(name: str, plan: Plan, spoil: Spoil, picture: Path, bare: bool = False) -> list[str]:
            job = root / name.replace(" ", "-")
            write_job(job, picture, plan, spoil)
            found = Findings()
            judge(job, picture, found, bare=bare)
            print(f"-- {name}\n{found.table()}")
            return [item.check for item in found.failed()]

        for name, plan in GOOD.items():
            failed = look(name, plan, Spoil(), photo)
            sums.add(f"good: {name}", not failed, ", ".join(failed))
        failed = look("marks", Plan(2, 2), Spoil(), tint, bare=True)
        sums.add("good: marks", not failed, ", ".join(failed))
        for name, (spoil, check) in SPOILT.items():
            failed = look(name, Plan(2, 2), spoil, photo)
            sums.add(f"spoilt: {name}", check in failed, f"failed: {', '.join(failed) or 'nothing'}")
        failed = look("ink where paper stays", Plan(2, 2), Spoil(ink_kept=True), tint, bare=True)
        sums.add("spoilt: ink where paper stays", failed == ["no mark is left after trimming"], ", ".join(failed))
    print("\n" + sums.table())
    return sums.close()


if __name__ == "__main__":
    sys.exit(main())
