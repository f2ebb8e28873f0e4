#!/usr/bin/env python3
"""Speed, memory and size as ratios, in one run: the built program against scripts with general-purpose libraries.

Against it run the best tuned script (`vips_sheets.py`), the plain one (`plain_sheets.py`, with `--plain`) and the floor under
the work (`floor`, with `--floor` and Rust). Runs alternate, so that whatever else the machine does hits all of them; medians
are compared, of memory the most. The program's time is all of ``seamwright once``: start, taking in, working, delivering,
keeping, with everything flushed to the disk; the scripts flush nothing.
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
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

BENCH = Path(__file__).resolve().parent
REFERENCE = BENCH.parent / "reference"
PROFILE_FROM = BENCH.parent / "data" / "colour" / "images" / "png_rgb8_iccp.png"
"""Artwork that carries a matrix profile, which stands for the printer's."""


@dataclass(frozen=True)
class Work:
    """What is to be timed."""

    name: str
    art: str
    pixels: tuple[int, int]
    size: tuple[float, float]
    ppi: int
    page: tuple[float, float] = (11, 8.5)
    jobs: int = 1
    plain: bool = True

    @property
    def mega(self) -> float:
        """Megapixels of all designs."""
        return self.size[0] * self.size[1] * self.ppi**2 / 1e6 * self.jobs


MAT = ((24, 12.5), 300)
CLOTH = ((60, 80), 200, (8.5, 11))
WORKS = [
    *(
        Work(f"W1 {art} {wide}", art, (wide, high), *MAT)
        for art in ("photo", "flat")
        for wide, high in ((3600, 1875), (7200, 3750), (9000, 4688))
    ),
    Work("W2 photo", "photo", (6000, 8000), *CLOTH),
    Work("W2 flat", "flat", (6000, 8000), *CLOTH),
    Work("W3 photo, 100 jobs", "photo", (1800, 1800), (12, 12), 300, (8.5, 11), jobs=100, plain=False),
    Work("W4 photo", "photo", (40000, 25000), (40000 / 300, 25000 / 300), 300, plain=False),
]


@dataclass
class Run:
    """One timed run."""

    wall: float
    cpu: float
    peak_mb: float
    pdf_mb: float


def timed(command: list[object], pdf: str, root: Path, files: int = 1) -> Run:
    """Runs a command and its children to the end."""
    start = time.monotonic()
    child = subprocess.Popen([str(part) for part in command], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    said = child.stdout.read() if child.stdout else b""
    _, status, used = os.wait4(child.pid, 0)
    wall = time.monotonic() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    made = list(root.glob(pdf))
    if child.returncode != 0 or len(made) != files:
        raise SystemExit(
            f"{command[0]} ended with {child.returncode}, {len(made)} files: {said.decode(errors='replace')[-800:]}"
        )
    size = sum(file.stat().st_size for file in made) / 1e6
    return Run(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, size)


def elsewhere(code: str, *words: object) -> None:
    """Runs Python in another process: a child's peak memory counts from what its parent holds when it starts."""
    command = [sys.executable, "-B", "-c", f"import sys; sys.path.insert(0, sys.argv[1]); {code}", REFERENCE, *words]
    subprocess.run([str(part) for part in command], check=True)


def paint(work: Work, artwork: Path) -> None:
    """The artwork; what is very large is repeated from a part of it."""
    wide, high = work.pixels
    if wide * high <= 100_000_000:
        make = "from judging import art; getattr(art, sys.argv[2])(int(sys.argv[4]), int(sys.argv[5]), seed=1)"
        elsewhere(f"{make}.save(sys.argv[3], compress_level=4)", work.art, artwork, wide, high)
        return
    part = artwork.with_suffix(".part.png")
    paint(Work(work.name, work.art, (5000, 5000), work.size, work.ppi), part)
    make = "import pyvips; part = pyvips.Image.new_from_file(sys.argv[2]); wide, high = map(int, sys.argv[4:6]); "
    make += "part.replicate(-(-wide // 5000), -(-high // 5000)).crop(0, 0, wide, high)"
    elsewhere(f"{make}.pngsave(sys.argv[3], compression=4, filter='paeth')", part, artwork, wide, high)
    part.unlink()


def ours(binary: Path, work: Work, artwork: Path, profile: Path) -> Run:
    """The program, in a fresh studio."""
    with tempfile.TemporaryDirectory(prefix="speed-") as folder:
        root = Path(folder)
        (root / "incoming").mkdir()
        (root / "printers").mkdir()
        stages = [{"resize": {"ppi": work.ppi}}, {"profile": {"do": "convert"}}, "mirror", {"overlap": {"lap": "0.2in"}}, "tile",
                  "marks", "press"]  # fmt: skip
        config = {"studio": ".", "stages": stages, "writers": ["sheets", "record"], "quiet": "0s", "printer": "measured"}
        width, height = (f"{side:.4f}in" for side in work.size)
        blank = {"width": width, "height": height, "shape": "rectangle", "ppi_floor": 20, "ppi_refuse": 10, "colour": "white",
                 "substrate": "polyester-mat"}  # fmt: skip
        shutil.copyfile(profile, root / "printers" / "measured.icc")
        printer = {"papers": ["letter"], "margins": "0.25in", "profile": "measured.icc", "intent": "relative"}
        order = json.dumps({"blank": blank, "paper": "letter"})
        (root / "printers" / "measured.yaml").write_text(json.dumps(printer), encoding="utf-8")
        (root / "seamwright.yaml").write_text(json.dumps(config), encoding="utf-8")
        for job in range(work.jobs):
            shutil.copyfile(artwork, root / "incoming" / f"art-{job}.png")
            (root / "incoming" / f"art-{job}.yaml").write_text(order, encoding="utf-8")
        # A maker's artwork has long been on the disk when it is taken.
        os.sync()
        return timed(
            [binary, "once", "--config", root / "seamwright.yaml"], "outgoing/*/sheets.pdf", root, work.jobs
        )


def script(name: str, work: Work, artwork: Path, profile: Path) -> Run:
    """A script, two jobs at a time."""
    with tempfile.TemporaryDirectory(prefix="speed-") as folder:
        root = Path(folder)

        def one(job: int) -> Run:
            pdf = root / f"{job}.pdf"
            asked = ["--ppi", work.ppi, "--size", *work.size, "--page", *work.page, "--profile", profile]
            return timed([sys.executable, BENCH / name, artwork, pdf, *asked], pdf.name, root)

        start = time.monotonic()
        with ThreadPoolExecutor(2) as pool:
            runs = list(pool.map(one, range(work.jobs)))
        together = 2 if work.jobs > 1 else 1
        return Run(
            time.monotonic() - start,
            sum(run.cpu for run in runs),
            together * max(run.peak_mb for run in runs),
            sum(run.pdf_mb for run in runs),
        )


def floor(binary: Path, work: Work, artwork: Path, profile: Path) -> Run:
    """The least that two cores could take."""
    width, height = (round(side * work.ppi) for side in work.size)
    said = subprocess.run([binary, artwork, str(width), str(height), profile], check=True, capture_output=True)
    parts = json.loads(said.stdout)
    return Run(parts["floor"], sum(parts[part] for part in ("decode", "scale", "convert", "deflate")), 0, 0)


def line(work: Work, who: str, runs: list[Run], own: list[Run]) -> str:
    """A row of the table; ratios are ours to theirs."""
    walls = [run.wall for run in runs]
    wall, mine = statistics.median(walls), statistics.median(run.wall for run in own)
    size, own_size = (statistics.median(run.pdf_mb for run in each) for each in (runs, own))
    peak, cpu = max(run.peak_mb for run in runs), statistics.median(run.cpu for run in runs)
    against = "" if runs is own else f"{mine / wall:6.2f}"
    larger = "" if runs is own or not size else f"{own_size / size:6.2f}"
    return (
        f"{work.name:<20} {who:<11} {wall:7.2f} {min(walls):7.2f} {max(walls):7.2f} {cpu:7.2f} {wall / work.mega * 1e3:8.2f} "
        f"{peak:7.0f} {size:7.1f} {against:>6} {larger:>6}"
    )


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program (release)")
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--only", action="append", help="only works whose names begin so; may be given again")
    parser.add_argument("--plain", action="store_true", help="the plain script too")
    parser.add_argument("--floor", type=Path, help="the built floor: cargo build --release in tests/bench/floor")
    asked = parser.parse_args()
    print(
        f"{'work':<20} {'who':<11} {'wall s':>7} {'least':>7} {'most':>7} {'CPU s':>7} {'ms/Mpx':>8} {'peak MB':>7} {'PDF MB':>7} "
        f"{'ratio':>6} {'size':>6}"
    )
    slower = False
    with tempfile.TemporaryDirectory(prefix="speed-art-") as folder:
        artwork, profile = Path(folder) / "art.png", Path(folder) / "printer.icc"
        read = "from judging import pictures; from pathlib import Path; "
        elsewhere(f"{read}Path(sys.argv[3]).write_bytes(pictures.read(Path(sys.argv[2]))[1])", PROFILE_FROM, profile)
        for work in WORKS:
            if asked.only and not any(work.name.startswith(name) for name in asked.only):
                continue
            paint(work, artwork)
            who: dict[str, Callable[[], Run]] = {
                "seamwright": lambda: ours(asked.binary.resolve(), work, artwork, profile),  # noqa: B023
                "best tuned": lambda: script("vips_sheets.py", work, artwork, profile),  # noqa: B023
            }
            if asked.plain and work.plain:
                who["plain"] = lambda: script("plain_sheets.py", work, artwork, profile)  # noqa: B023
            if asked.floor and work.jobs == 1:
                who["floor"] = lambda: floor(asked.floor.resolve(), work, artwork, profile)  # noqa: B023
            runs: dict[str, list[Run]] = {name: [] for name in who}
            for _ in range(asked.runs):
                for name, run in who.items():
                    runs[name].append(run())
            own = runs["seamwright"]
            for name, each in runs.items():
                print(line(work, name, each, own), flush=True)
            best = statistics.median(run.wall for run in runs["best tuned"])
            slower |= statistics.median(run.wall for run in own) > best
    return 1 if slower else 0


if __name__ == "__main__":
    sys.exit(main())
