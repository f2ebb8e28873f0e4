#!/usr/bin/env python3
"""Makes artwork and orders, lets the built program work them off, and judges every finished job.

Sheet counts beside the cases are worked out by hand from paper, 1/4 in margins and a 5 mm lap: n sheets across
cover n times the live width less n - 1 laps.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from judging import art, tools
from judging.findings import Findings
from judging.job import judge
from judging.studio import Case, Studio
from PIL import Image, ImageCms

DATA = Path(__file__).resolve().parents[1] / "data"
PPI = 90
"""What the sheets carry here: coarse, so that pages render fast, and no round number of micrometres a pixel."""


def profile(file: str) -> bytes:
    """The ICC profile of a picture of the check data."""
    with Image.open(DATA / "colour" / "images" / file) as image:
        return image.info["icc_profile"]


def main_cases() -> list[Case]:
    """Formats, fits, papers and panel counts, panels trimmed first."""
    turned = Image.Exif()
    turned[0x0112] = 6
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    jpeg = {"quality": 95, "subsampling": 0}
    return [
        Case("one-sheet", art.photo(1500, 1050, 1), ("10in", "7in"), 1, "jpg", jpeg),
        Case("two-large", art.photo(2400, 1200, 2), ("24in", "12in"), 2, "tif", order={"paper": "13x19"}),
        Case("two-by-two", art.flat(2000, 1500, 3), ("20in", "15in"), 4),
        Case("six", art.photo(3600, 1875, 4), ("24in", "12.5in"), 6, "jpg", jpeg | {"icc_profile": srgb}),
        Case("portrait", art.photo(2000, 1042, 5), ("24in", "12.5in"), 8, order={"orientation": "portrait"}),
        Case("three-by-three", art.flat(1400, 1100, 6), ("28in", "22in"), 9, "tif", {"compression": "tiff_lzw"}),
        Case("twelve-cover", art.photo(3000, 2400, 7), ("40in", "22in"), 12, order={"fit": "cover"}),
        Case("thirty", art.photo(4500, 2700, 8), ("60in", "36in"), 30, "jpg", jpeg),
        Case("a4-stretch", art.photo(1700, 1300, 9), ("600mm", "300mm"), 6, order={"paper": "a4", "fit": "stretch"}),
        Case("large-contain", art.flat(1500, 1500, 10), ("36in", "24in"), 4, order={"paper": "13x19"}),
        Case("seen-through", art.photo(1800, 1350, 11), ("20in", "15in"), 4, seen_through=True),
        Case("clear-ground", art.flat(2000, 1500, 12, clear=True), ("20in", "15in"), 4),
        Case("upright-by-exif", art.photo(1050, 1500, 13), ("15in", "10in"), 2, "jpg", jpeg | {"exif": turned}),
        Case("grey", art.photo(2000, 1500, 14).convert("L"), ("20in", "15in"), 4),
        Case("wide-colours", art.photo(2000, 1500, 15), ("20in", "15in"), 4, "png", {"icc_profile": profile("jpg_rgb_p3.jpg")}),
        Case("enlarged", art.photo(500, 375, 16), ("20in", "15in"), 4),
        Case("reduced", art.photo(6000, 4500, 17), ("20in", "15in"), 4),
        Case("tint", art.tint(1200, 900), ("28in", "22in"), 9, bare=True),
        Case("tint-seen-through", art.tint(1200, 900), ("600mm", "300mm"), 6, seen_through=True, bare=True,
             order={"paper": "a4", "fit": "stretch"}),
    ]  # fmt: skip


def rows_first_cases() -> list[Case]:
    """The same laws with rows joined before they are cut, the cut out of the lap's middle."""
    return [
        Case("rows", art.photo(2800, 2200, 21), ("28in", "22in"), 9),
        Case("rows-tint", art.tint(1200, 900), ("28in", "22in"), 9, bare=True),
    ]


def work(binary: Path, studio: Studio, cases: list[Case], found: Findings, only: str | None) -> None:
    """Lets the program work off a studio and judges what came out."""
    cases = [case for case in cases if only is None or only in case.name]
    if not cases:
        return
    studio.prepare(cases)
    done = studio.work(binary)
    found.job = studio.root.name
    tail = " / ".join((done.stdout + done.stderr).strip().splitlines()[-3:])
    found.add("works off everything and says so", done.returncode == 0, f"exit code {done.returncode}: {tail}"[:400])
    for case in cases:
        folder = studio.finished(case)
        found.job = case.name
        if folder is None:
            found.add("is finished", False, studio.why(case))
            continue
        first = len(found.items)
        raw = judge(folder, studio.root / "art" / case.file, found, bare=case.bare)
        if raw is not None:
            sheets = len(raw["panels"])
            found.add("as many sheets as worked out by hand", sheets == case.sheets, f"{sheets}, by hand {case.sheets}")
            found.add("mirrored unless seen through", raw["mirrored"] != case.seen_through)
        for item in found.items[first:]:
            item.job = case.name
        print(Findings(items=found.items[first:]).table(), flush=True)


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    parser.add_argument("--only", help="only cases with this in their name")
    parser.add_argument("--keep", type=Path, help="work in this new folder and leave it there")
    asked = parser.parse_args()
    found = Findings("tools")
    absent = tools.missing()
    if absent:
        found.skip("everything needing outside programs", f"not installed: {', '.join(absent)}")
    with tempfile.TemporaryDirectory(prefix="judged-") as folder:
        root = asked.keep or Path(folder)
        root.mkdir(parents=True, exist_ok=True)
        binary = asked.binary.resolve()
        panels_first = Studio(root / "panels-first", PPI, {"lap": "5mm", "trim": "panels-first"})
        work(binary, panels_first, main_cases(), found, asked.only)
        rows_first = Studio(root / "rows-first", PPI, {"lap": "8mm", "cut": 0.25, "trim": "rows-first"})
        work(binary, rows_first, rows_first_cases(), found, asked.only)
    failed = found.failed()
    if failed:
        print("\nwhat failed\n" + Findings(items=failed).table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
