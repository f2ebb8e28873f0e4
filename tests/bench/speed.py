#!/usr/bin/env python3
"""Speed and memory as ratios: the built program against the same work written with libvips, in one run.

Runs alternate, so that whatever else the machine does hits both; medians are compared. The program's time is
all of ``seamwright once``: start, taking in, working, delivering, keeping.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
YARDSTICK = Path(__file__).with_name("vips_sheets.py")


@dataclass
class Work:
    """One job to be timed."""

    name: str
    pixels: tuple[int, int]
    size: tuple[float, float]
    ppi: int
    page: tuple[float, float]

    @property
    def mega(self) -> float:
        """Megapixels of the design."""
        return self.size[0] * self.size[1] * self.ppi**2 / 1e6


WORKS = [
    Work("W1 24 x 12.5 in, 300 ppi", (7200, 3750), (24, 12.5), 300, (11, 8.5)),
    Work("W2 60 x 80 in, 200 ppi", (6000, 8000), (60, 80), 200, (8.5, 11)),
]


@dataclass
class Run:
    """One timed run."""

    wall: float
    cpu: float
    peak_mb: float
    pdf_mb: float


def timed(command: list[object], pdf: str, root: Path) -> Run:
    """Runs a command and its children to the end."""
    start = time.monotonic()
    child = subprocess.Popen([str(part) for part in command], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    said = child.stdout.read() if child.stdout else b""
    _, status, used = os.wait4(child.pid, 0)
    wall = time.monotonic() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    files = list(root.glob(pdf))
    if child.returncode != 0 or len(files) != 1:
        raise SystemExit(
            f"{command[0]} ended with {child.returncode}, {len(files)} files: {said.decode(errors='replace')[-800:]}"
        )
    return Run(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, files[0].stat().st_size / 1e6)


def paint(work: Work, artwork: Path) -> None:
    """The artwork, made by another process: a child's peak memory counts from what its parent holds when it starts."""
    make = "import sys; sys.path.insert(0, sys.argv[1]); from judging import art; "
    make += "art.photo(int(sys.argv[3]), int(sys.argv[4]), seed=1).save(sys.argv[2], compress_level=4)"
    command = [sys.executable, "-B", "-c", make, REFERENCE, artwork, *work.pixels]
    subprocess.run([str(part) for part in command], check=True)


def ours(binary: Path, work: Work, artwork: Path) -> Run:
    """The program, in a fresh studio."""
    with tempfile.TemporaryDirectory(prefix="speed-") as folder:
        root = Path(folder)
        (root / "incoming").mkdir()
        shutil.copyfile(artwork, root / "incoming" / "art.png")
        os.sync()
        stages = [{"resize": {"ppi": work.ppi}}, {"profile": {"do": "tag"}}, "mirror", {"overlap": {"lap": "0.2in"}}, "tile",
                  "marks", "press"]  # fmt: skip
        config = {"studio": ".", "stages": stages, "writers": ["sheets", "record"], "quiet": "0s"}
        width, height = (f"{side}in" for side in work.size)
        blank = {"width": width, "height": height, "shape": "rectangle", "ppi_floor": 20, "ppi_refuse": 10, "colour": "white",
                 "substrate": "polyester-mat"}  # fmt: skip
        (root / "seamwright.yaml").write_text(json.dumps(config), encoding="utf-8")
        (root / "incoming" / "art.yaml").write_text(json.dumps({"blank": blank, "paper": "letter"}), encoding="utf-8")
        return timed([binary, "once", "--config", root / "seamwright.yaml"], "outgoing/*/sheets.pdf", root)


def yardstick(work: Work, artwork: Path) -> Run:
    """The script with libvips."""
    with tempfile.TemporaryDirectory(prefix="speed-") as folder:
        root = Path(folder)
        command = [
            sys.executable,
            YARDSTICK,
            artwork,
            root / "sheets.pdf",
            "--ppi",
            work.ppi,
            "--size",
            *work.size,
            "--page",
            *work.page,
        ]
        return timed(command, "sheets.pdf", root)


def middle(runs: list[Run]) -> Run:
    """Medians, field by field; of memory the most."""
    pick = statistics.median
    return Run(
        pick(r.wall for r in runs),
        pick(r.cpu for r in runs),
        max(r.peak_mb for r in runs),
        pick(r.pdf_mb for r in runs),
    )


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program (release)")
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--budget-mb", type=float, default=1024, help="the configured memory budget")
    parser.add_argument("--only", help="only works with this in their name")
    asked = parser.parse_args()
    slower = False
    print(f"{'work':<26} {'who':<10} {'wall s':>7} {'CPU s':>7} {'s/Mpx':>7} {'peak MB':>8} {'PDF MB':>7}")
    with tempfile.TemporaryDirectory(prefix="speed-art-") as folder:
        for work in [work for work in WORKS if asked.only is None or asked.only in work.name]:
            artwork = Path(folder) / "art.png"
            paint(work, artwork)
            runs: dict[str, list[Run]] = {"seamwright": [], "libvips": []}
            for _ in range(asked.runs):
                runs["seamwright"].append(ours(asked.binary.resolve(), work, artwork))
                runs["libvips"].append(yardstick(work, artwork))
            best = {who: middle(each) for who, each in runs.items()}
            for who, run in best.items():
                per = run.wall / work.mega
                print(
                    f"{work.name:<26} {who:<10} {run.wall:7.2f} {run.cpu:7.2f} {per:7.4f} {run.peak_mb:8.0f} {run.pdf_mb:7.1f}"
                )
            ratio = best["seamwright"].wall / best["libvips"].wall
            over = best["seamwright"].peak_mb - asked.budget_mb - 200
            print(
                f"{work.name:<26} ratio {ratio:.2f} (below 1: faster); peak {-over:.0f} MB below budget + 200 MB",
                flush=True,
            )
            slower |= ratio > 1 or over > 0
    return 1 if slower else 0


if __name__ == "__main__":
    sys.exit(main())
