#!/usr/bin/env python3
"""Three hundred visitors, one picture: every mat has its own name and nothing else of its own, and costs little more than a name.

What rows share is decoded, converted and compressed once. So each row is held against the others, pixel by pixel: beside the
names all sheets are the same, on them no two; names are read back by a machine (Tesseract). Rows made again, in a process that
shares nothing, come out the same to the byte. The cost of a further row is a ratio within one run: lists of one row and of many
by turns, on a photograph with a printer's profile.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from judging import art, drawn, pictures
from judging.findings import Findings
from judging.studio import CATALOGUE, write
from lettering import cut, read
from PIL import ImageDraw

PROFILE_FROM = Path(__file__).resolve().parents[1] / "data" / "colour" / "images" / "png_rgb8_iccp.png"
"""Artwork that carries a matrix profile, which stands for the printer's."""
SIDES = (609.6, 317.6)
"""The mat, in millimetres: 24 by 12.5 in, to whole pixels."""
PLATE = (50.0, 40.0, 130.0, 26.0)
"""Where the name goes, in millimetres."""
RIM = 5.0
"""So much wider is what is white there, all round."""
FIRST = ("Maren", "Jasper", "Odile", "Tobias", "Ingrid", "Rufus", "Petra", "Oskar", "Beatrix", "Wilhelmine", "Cyrus", "Edda", "Hugo", "Livia", "Mina",
         "Nora", "Otto", "Selma", "Theo", "Viola")  # fmt: skip
LAST = ("Holm", "Fenwick", "Marsh", "Thorne", "Moor", "Quill", "Brandt", "Solberg", "Gale", "Lindqvist", "Ash", "Hale", "Reed", "Stone", "Vale")
"""Invented names."""
SEEN = 10
"""Every so many names are read back."""
MADE_AGAIN = 5
MANY, RUNS, MOST = 21, 3, 0.4
"""Rows of the longer list, runs of each, and the most that a further row may cost, of what the first does."""


def visitors() -> list[str]:
    """Three hundred, no two alike."""
    return [f"{one} {other}" for other in LAST for one in FIRST]


def studio(root: Path, names: list[str], pixels: tuple[int, int], ppi: float, **settings: object) -> None:
    """One picture with a plate for the name, and a list."""
    width, height = (f"{side}mm" for side in SIDES)
    blank = {"width": width, "height": height, "shape": "rectangle", "colour": "white", "substrate": "judge-cloth", "ppi_floor": 20, "ppi_refuse": 10}
    stages = [{"resize": {"ppi": ppi}}, "lettering", {"profile": {"do": "convert"}}, "mirror", {"overlap": {"lap": "5mm"}}, "tile", "marks", "press"]
    box = dict(zip(("x", "y", "width", "height"), (f"{mm}mm" for mm in PLATE), strict=True))
    printer = {"papers": ["letter"], "margins": "0.25in", "profile": "measured.icc"}
    texts = CATALOGUE | {
        "seamwright.yaml": {"studio": ".", "stages": stages, "printer": "measured", "quiet": "0s"} | settings,
        "printers/measured.yaml": printer,
        "incoming/chart.yaml": {"blank": blank, "fit": "stretch", "paper": "letter", "list": "names.csv",
                                "lettering": [{"text": "{name}", "box": box, "shrink": True, "size": "20mm"}]},
    }  # fmt: skip
    write(root, texts)
    (root / "printers/measured.icc").write_bytes(pictures.read(PROFILE_FROM)[1])
    (root / "incoming/names.csv").write_text("name\n" + "".join(f"{name}\n" for name in names), encoding="utf-8")
    picture = art.photo(*pixels, seed=3).convert("RGB")
    scale = pixels[0] / SIDES[0], pixels[1] / SIDES[1]
    left, top, wide, high = PLATE
    plate = [(left - RIM) * scale[0], (top - RIM) * scale[1], (left + wide + RIM) * scale[0], (top + high + RIM) * scale[1]]
    ImageDraw.Draw(picture).rectangle(plate, fill="white")
    picture.save(root / "incoming/chart.png", compress_level=4)


def once(binary: Path, root: Path) -> tuple[float, float]:
    """Works it off; seconds on the clock and of the cores."""
    used = lambda: sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2])  # noqa: E731
    start, before = time.monotonic(), used()
    done = subprocess.run([binary, "once", "--config", root / "seamwright.yaml"], capture_output=True, text=True, check=False, timeout=1800)
    if done.returncode != 0:
        raise SystemExit(done.stdout[-2000:] + done.stderr[-2000:])
    return time.monotonic() - start, used() - before


def names(binary: Path, found: Findings) -> None:
    """Three hundred rows, looked at."""
    found.job = "names"
    with tempfile.TemporaryDirectory(prefix="rows-") as scratch:
        root, folder = Path(scratch) / "studio", Path(scratch)
        studio(root, visitors(), (1200, 625), 25_400 / drawn.PITCH_UM)
        once(binary, root)
        jobs = {}
        for job in sorted((root / "outgoing").glob("chart-*-????????")):
            record = json.loads((job / "record.json").read_text(encoding="utf-8"))
            jobs[record["lettering"][0]["text"]] = job, record
        found.add("every row is a job with its own name", sorted(jobs) == sorted(visitors()), f"{len(jobs)} of {len(visitors())}")
        # A little more than where the name goes: what is cut off would be cut off at that border, not beyond it.
        left, top, wide, high = PLATE
        ends = left - RIM / 2, top - RIM / 2, left + wide + RIM / 2, top + high + RIM / 2
        left, top, right, bottom = (round(mm * 1000 / drawn.PITCH_UM) for mm in ends)
        plate = np.s_[top:bottom, left:right]
        others, plates, spoilt, bad = None, {}, [], []
        for number, name in enumerate(visitors()):
            if name not in jobs:
                continue
            pixels = drawn.ours(jobs[name][0])
            own = pixels[plate].copy()
            plates.setdefault(hashlib.sha256(own.tobytes()).hexdigest(), []).append(name)
            pixels[plate] = 0
            others = pixels if others is None else others
            if not np.array_equal(pixels, others):
                spoilt.append(name)
            gray = own.mean(2).astype(np.int16)
            rim = np.concatenate([gray[:2].ravel(), gray[-2:].ravel(), gray[:, :2].ravel(), gray[:, -2:].ravel()])
            if rim.min() < 250:
                bad.append(f"{name} is not alone on its plate")
            if number % SEEN == 0 and (seen := read(cut(gray), folder)) != name:
                bad.append(f"{seen!r} for {name!r}")
        found.add("beside the names all are the same, to the pixel", not spoilt, ", ".join(spoilt[:5]))
        found.add("no two names are the same", len(plates) == len(jobs), str([each for each in plates.values() if len(each) > 1][:3]))
        found.add("names can be read, and none is cut off", not bad, "; ".join(bad[:5]))
        for name in visitors()[:: len(visitors()) // MADE_AGAIN]:
            job = jobs[name][0].name
            done = subprocess.run([binary, "again", job, "--config", root / "seamwright.yaml"], capture_output=True, text=True, check=False, timeout=300)
            found.add(f"{name}: made again, sharing nothing", done.returncode == 0 and "the same as before" in done.stdout, done.stdout[-200:].strip())


def cost(binary: Path, found: Findings) -> None:
    """What a further row costs."""
    found.job = "cost"
    # By the cores one row after the other, since side by side there are two that are the first of a process.
    for at, what, settings in ((0, "by the clock, as the studio works", {}), (1, "by the cores, one after another", {"workers": 1})):
        times: dict[int, list[float]] = {1: [], MANY: []}
        for _ in range(RUNS):
            for rows, taken in times.items():
                with tempfile.TemporaryDirectory(prefix="rows-") as scratch:
                    studio(Path(scratch), visitors()[:rows], (7200, 3750), 300, **settings)
                    os.sync()
                    taken.append(once(binary, Path(scratch))[at])
        first, all_rows = (statistics.median(times[rows]) for rows in (1, MANY))
        ratio = (all_rows - first) / (MANY - 1) / first
        found.add(f"a further row, {what}", ratio <= MOST, f"{ratio:.2f} of the first ({first:.2f} s; {MANY} rows {all_rows:.2f} s)")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True)
    asked = parser.parse_args()
    found = Findings()
    names(asked.binary.resolve(), found)
    cost(asked.binary.resolve(), found)
    print(found.table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
