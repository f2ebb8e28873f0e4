#!/usr/bin/env python3
"""How much ink and detail lies under the seams, against an even grid at the same sheet count.

Draws a corpus of artwork with fixed seeds, lets the built program cut it, and weighs the lap strips with nothing but
the artwork and the record: ink is mean darkness, detail is local contrast, both on a grid of 1 mm, added. The even grid is
the least one over the design on the same paper lying the same way. The program is run twice: for its fewest sheets, and
allowed as many as the even grid has. Prints a line a piece; fails if the median cut at the same sheet count is below 70 %,
or any piece then crosses more than the even grid (by over 1 % and half a square millimetre, what two ways of measuring
may differ by) or ever takes more sheets. Pieces whose even grid crosses nothing have no cut to speak of and are left out of the
median.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from corpus import Piece, pieces

MM = 1000
LAP = 5.0
"""The lap in mm."""
LEAST = 0.5
"""Less than this is nothing, in mm2 of full ink and detail."""
WANTED = 0.7


@dataclass
class Weights:
    """Ink plus detail, a value a square millimetre, with sums for rectangles."""

    sums: np.ndarray

    @classmethod
    def of(cls, art: np.ndarray, size: tuple[int, int]) -> Weights:
        """From RGB artwork that fills a design of so many mm."""
        width, height = size
        rows = np.linspace(0, art.shape[0], height + 1).astype(int)
        columns = np.linspace(0, art.shape[1], width + 1).astype(int)
        dark = 255.0 - art
        mean = np.add.reduceat(np.add.reduceat(dark, rows[:-1], 0), columns[:-1], 1)
        mean /= (np.diff(rows)[:, None] * np.diff(columns)[None, :])[..., None]
        contrast = np.zeros(mean.shape[:2])
        for axis in (0, 1):
            step = np.abs(np.diff(mean, axis=axis)).max(2)
            ahead, behind = [slice(None)] * 2, [slice(None)] * 2
            ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
            contrast[tuple(ahead)] = np.maximum(contrast[tuple(ahead)], step)
            contrast[tuple(behind)] = np.maximum(contrast[tuple(behind)], step)
        value = (mean.mean(2) + contrast) / 255
        return cls(np.pad(value, ((1, 0), (1, 0))).cumsum(0).cumsum(1))

    def under(self, x0: float, y0: float, x1: float, y1: float) -> float:
        """What lies in a rectangle given in mm, parts of a cell counted in part."""

        def at(x: float, y: float) -> float:
            x, y = min(max(x, 0), self.sums.shape[1] - 1), min(max(y, 0), self.sums.shape[0] - 1)
            i, j = min(int(x), self.sums.shape[1] - 2), min(int(y), self.sums.shape[0] - 2)
            u, v = x - i, y - j
            s = self.sums
            return (s[j, i] * (1 - u) + s[j, i + 1] * u) * (1 - v) + (s[j + 1, i] * (1 - u) + s[j + 1, i + 1] * u) * v

        return at(x1, y1) - at(x0, y1) - at(x1, y0) + at(x0, y0)


def ours(record: dict, weights: Weights) -> float:
    """What lies under the program's lap strips."""
    faces = {panel["panel"]: [v / MM for v in panel["face_um"]] for panel in record["panels"]}
    total = 0.0
    for seam in record["seams"]:
        (ax, ay, aw, ah), (bx, by, bw, bh) = (faces[number] for number in seam["between"])
        x0, y0, x1, y1 = (v / MM for v in seam["face_um"])
        box = [max(ax, bx), max(ay, by), min(ax + aw, bx + bw), min(ay + ah, by + bh)]
        if x0 == x1:
            box[1], box[3] = min(y0, y1), max(y0, y1)
        else:
            box[0], box[2] = min(x0, x1), max(x0, x1)
        total += weights.under(*box)
    return total


def even(weights: Weights, size: tuple[int, int], live: tuple[float, float]) -> tuple[int, float]:
    """Sheets and weight of the even grid over the whole design, as it is cut by who does not look at the artwork."""

    def strips(length: float, each: float) -> list[float]:
        count = 1 if length <= each else math.ceil((length - LAP) / (each - LAP) - 1e-9)
        return [(length - LAP) * i / count for i in range(1, count)]

    columns, rows = strips(size[0], live[0]), strips(size[1], live[1])
    across = sum(weights.under(x, 0, x + LAP, size[1]) for x in columns)
    down = sum(weights.under(0, y, size[0], y + LAP) for y in rows)
    return (len(columns) + 1) * (len(rows) + 1), across + down


def work(binary: Path, root: Path, corpus: list[Piece], extra: dict[str, int]) -> dict[str, dict]:
    """Lets the program cut every piece, with so many more sheets than the fewest; its records."""
    (root / "incoming").mkdir(parents=True)
    stages = [{"resize": {"ppi": 100}}, "profile", "mirror", {"overlap": {"lap": f"{LAP:g}mm"}}, "tile"]
    config = {"studio": ".", "stages": stages, "writers": ["record"], "printer": "desk-letter", "quiet": "0s"}
    (root / "seamwright.yaml").write_text(json.dumps(config), encoding="utf-8")
    for piece in corpus:
        piece.image().save(root / "incoming" / f"{piece.name}.png", compress_level=1)
        blank = {"width": f"{piece.size[0]}mm", "height": f"{piece.size[1]}mm", "shape": "rectangle",
                 "substrate": "polyester-mat", "ppi_refuse": 10, "ppi_floor": 20}  # fmt: skip
        order = {"blank": blank, "fit": "stretch", "orientation": piece.orientation, "extra_sheets": extra.get(piece.name, 0)}
        (root / "incoming" / f"{piece.name}.yaml").write_text(json.dumps(order), encoding="utf-8")
    command = [binary, "once", "--config", root / "seamwright.yaml"]
    subprocess.run(command, check=True, capture_output=True, timeout=900)
    jobs = {piece.name: next((root / "outgoing").glob(f"{piece.name}-" + "[0-9a-f]" * 6)) for piece in corpus}
    return {name: json.loads((job / "record.json").read_text(encoding="utf-8")) for name, job in jobs.items()}


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    binary = parser.parse_args().binary.resolve()
    corpus = pieces()
    weights = {piece.name: Weights.of(np.asarray(piece.image(), dtype=np.float64), piece.size) for piece in corpus}
    live = {"landscape": (266.7, 203.2), "portrait": (203.2, 266.7)}
    grids = {piece.name: even(weights[piece.name], piece.size, live[piece.orientation]) for piece in corpus}
    with tempfile.TemporaryDirectory(prefix="seams-") as folder:
        fewest = work(binary, Path(folder) / "fewest", corpus, {})
        spare = {name: grids[name][0] - len(record["panels"]) for name, record in fewest.items()}
        again = [piece for piece in corpus if spare[piece.name] > 0]
        allowed = fewest | work(binary, Path(folder) / "allowed", again, spare)
    print(f"{'piece':18} {'even grid':>16} {'the fewest sheets':>22} {'as many as the grid':>22}")
    cuts: dict[str, list[float]] = {"fewest": [], "same": []}
    worse = []
    for piece in corpus:
        count, base = grids[piece.name]
        line = f"{piece.name:18} {count:5} {base:10.1f}"
        for kind, record in (("fewest", fewest[piece.name]), ("same", allowed[piece.name])):
            sheets, here = len(record["panels"]), ours(record, weights[piece.name])
            cut = 1 - here / base if base > LEAST else 0.0
            if base > LEAST:
                cuts[kind].append(cut)
            if kind == "same" and here > base * 1.01 + LEAST or sheets > count:
                worse.append(piece.name)
            line += f" {sheets:5} {here:10.1f} {cut:5.0%}"
        print(line)
    median = {kind: statistics.median(values) for kind, values in cuts.items()}
    print(
        f"{len(corpus)} pieces; median cut {median['fewest']:.0%} with the fewest sheets, {median['same']:.0%} at the same"
        f" sheet count; worse than the even grid: {', '.join(worse) or 'none'}"
    )
    return 0 if median["same"] >= WANTED and not worse else 1


if __name__ == "__main__":
    sys.exit(main())
