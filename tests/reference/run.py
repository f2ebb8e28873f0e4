#!/usr/bin/env python3
"""Makes artwork and orders, lets the built program work them off, and judges every finished job."""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

import cases
from judging import tools
from judging.findings import Findings
from judging.job import judge
from judging.studio import Case, Studio

PPI = 90
"""What the sheets carry here: coarse, so that pages render fast, and no round number of micrometres a pixel."""
FIFTH = {"lap": "0.2in"}
STUDIOS = {
    "panels-first": ({"lap": "5mm", "trim": "panels-first"}, [cases.formats]),
    "rows-first": ({"lap": "8mm", "cut": 0.25, "trim": "rows-first"}, [cases.rows_first]),
    "fifth": (FIFTH, [cases.fewest, cases.shapes, cases.hidden]),
    "cleaned": (FIFTH, [cases.cleaned]),
}
"""Studios by name: how their panels lap, and the works that they are given."""


def expected(case: Case, raw: dict, found: Findings) -> None:
    """What is known beforehand of a case."""
    sheets = len(raw["panels"])
    enough = sheets == case.sheets or (case.fewer and sheets < case.sheets)
    found.add("as many sheets as worked out by hand", enough, f"{sheets}, by hand {case.sheets}")
    found.add("mirrored unless seen through", raw["mirrored"] != case.seen_through)
    if case.bare_seams:
        words = [seam.get("class") for seam in raw["seams"]]
        found.add("every seam is bare", set(words) == {"bare"}, str(words))
    if case.says:
        said = [text for text in raw["warnings"] + raw["remarks"] if case.says in text]
        found.add(f"says something of {case.says}", bool(said), "; ".join(said))


def work(binary: Path, studio: Studio, works: list[Case], found: Findings) -> None:
    """Lets the program work off a studio and judges what came out."""
    studio.prepare(works)
    done = studio.work(binary)
    found.job = studio.root.name
    tail = " / ".join((done.stdout + done.stderr).strip().splitlines()[-3:])
    found.add("works off everything and says so", done.returncode == 0, f"exit code {done.returncode}: {tail}"[:400])
    for case in works:
        folder = studio.finished(case)
        found.job = case.name
        if folder is None:
            found.add("is finished", False, studio.why(case))
            continue
        first = len(found.items)
        raw = judge(folder, studio.root / "art" / case.file, found, studio.asked(case))
        if raw is not None:
            expected(case, raw, found)
        for item in found.items[first:]:
            item.job = case.name
        print(Findings(items=found.items[first:]).table(), flush=True)


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    parser.add_argument("--only", help="only cases with this in their name, or in their studio's")
    parser.add_argument("--keep", type=Path, help="work in this new folder and leave it there")
    said = parser.parse_args()
    found = Findings("tools")
    absent = tools.missing()
    if absent:
        found.skip("everything needing outside programs", f"not installed: {', '.join(absent)}")
    with tempfile.TemporaryDirectory(prefix="judged-") as folder:
        root = said.keep or Path(folder)
        root.mkdir(parents=True, exist_ok=True)
        binary = said.binary.resolve()
        for name, (overlap, lists) in STUDIOS.items():
            works = [
                case for make in lists for case in make() if said.only is None or said.only in f"{name} {case.name}"
            ]
            if works:
                work(binary, Studio(root / name, PPI, overlap, cleaned=name == "cleaned"), works, found)
    failed = found.failed()
    if failed:
        print("\nwhat failed\n" + Findings(items=failed).table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
