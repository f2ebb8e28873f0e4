#!/usr/bin/env python3
"""What a program of the studio's own costs a job, beside its own work, in one run of the built program.

A program that passes the picture through stands in the stages of one studio and not of the other; both work the same
24 x 12.5 in artwork in turn. What it costs more is held against what writing and reading such a picture costs on the same
disk, plain and unflushed, and 50 ms. Medians are compared.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from speed import PROFILE_FROM, WORKS, Work, elsewhere, paint, timed

ALLOWED = 0.050
PIECE = 1 << 24
STAGES = [{"resize": {"ppi": 300}}, {"profile": {"do": "convert"}}, "mirror", {"overlap": {"lap": "0.2in"}}, "tile", "marks",
          "press"]  # fmt: skip


def job(binary: Path, work: Work, artwork: Path, profile: Path, program: bool) -> float:
    """How long one batch of one job takes, in a fresh studio."""
    with tempfile.TemporaryDirectory(prefix="program-") as folder:
        root = Path(folder)
        for name in ("incoming", "printers", "programs"):
            (root / name).mkdir()
        stages = [STAGES[0], *([{"program": "pass"}] if program else []), *STAGES[1:]]
        config = {"studio": ".", "stages": stages, "writers": ["sheets", "record"], "quiet": "0s", "printer": "measured"}
        width, height = (f"{side:.4f}in" for side in work.size)
        blank = {"width": width, "height": height, "shape": "rectangle", "ppi_floor": 20, "ppi_refuse": 10, "colour": "white",
                 "substrate": "polyester-mat"}  # fmt: skip
        printer = {"papers": ["letter"], "margins": "0.25in", "profile": "measured.icc", "intent": "relative"}
        answer = json.dumps({"protocol": 1, "picture": "picture.tif"})
        manifest = {"command": ["sh", "-c", f"printf '{answer}'"], "needs": ["picture"], "gives": ["picture"]}
        shutil.copyfile(profile, root / "printers" / "measured.icc")
        shutil.copyfile(artwork, root / "incoming" / "art.png")
        for name, text in (
            ("printers/measured.yaml", printer),
            ("programs/pass.yaml", manifest),
            ("seamwright.yaml", config),
            ("incoming/art.yaml", {"blank": blank, "paper": "letter"}),
        ):
            (root / name).write_text(json.dumps(text), encoding="utf-8")
        os.sync()
        command = [binary, "once", "--config", root / "seamwright.yaml"]
        return timed(command, "outgoing/*/sheets.pdf", root).wall


def there_and_back(megapixels: float) -> float:
    """Writing a picture of 8-bit RGB into a new file, and reading it."""
    size = round(megapixels * 1e6) * 3
    piece = os.urandom(PIECE)
    with tempfile.TemporaryDirectory(prefix="program-") as folder:
        path = Path(folder) / "picture"
        os.sync()
        start = time.monotonic()
        with path.open("wb", buffering=0) as file:
            for at in range(0, size, PIECE):
                file.write(piece[: size - at])
        with path.open("rb", buffering=0) as file:
            while file.read(PIECE):
                pass
        return time.monotonic() - start


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program (release)")
    parser.add_argument("--runs", type=int, default=7)
    asked = parser.parse_args()
    binary, dear = asked.binary.resolve(), False
    print(f"{'work':<16} {'without s':>9} {'with s':>9} {'more ms':>8} {'picture ms':>10} {'allowed ms':>10}")
    with tempfile.TemporaryDirectory(prefix="program-art-") as folder:
        artwork, profile = Path(folder) / "art.png", Path(folder) / "printer.icc"
        read = "from judging import pictures; from pathlib import Path; "
        elsewhere(f"{read}Path(sys.argv[3]).write_bytes(pictures.read(Path(sys.argv[2]))[1])", PROFILE_FROM, profile)
        for work in (work for work in WORKS if work.name in ("W1 photo 7200", "W1 flat 3600")):
            paint(work, artwork)
            without, through, picture = [], [], []
            for _ in range(asked.runs):
                without.append(job(binary, work, artwork, profile, program=False))
                through.append(job(binary, work, artwork, profile, program=True))
                picture.append(there_and_back(work.mega))
            plain, passed, cost = (statistics.median(times) for times in (without, through, picture))
            more, allowed = passed - plain, cost + ALLOWED
            print(
                f"{work.name:<16} {plain:9.3f} {passed:9.3f} {more * 1e3:8.0f} {cost * 1e3:10.0f} {allowed * 1e3:10.0f}",
                flush=True,
            )
            dear |= more > allowed
    return 1 if dear else 0


if __name__ == "__main__":
    sys.exit(main())
