#!/usr/bin/env python3
"""Judges one finished job by its record, its sheets and the artwork it was made from."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from judging.asked import Asked
from judging.findings import Findings
from judging.job import judge


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("job", type=Path, help="the finished job's folder")
    parser.add_argument("--artwork", type=Path, required=True, help="the picture it was made from")
    parser.add_argument(
        "--design-bare", action="store_true", help="the artwork is one pale tint: look for marks left after trimming"
    )
    parser.add_argument(
        "--cut", type=float, default=0.5, help="how far into the lap is cut, from the upper panel's side"
    )
    parser.add_argument("--reach-um", type=int, default=0, help="the blank's bleed, or less its inset")
    parser.add_argument("--radius-um", type=int, default=0, help="of the blank's round corners")
    said = parser.parse_args()
    found = Findings()
    asked = Asked(cut=said.cut, reach_um=said.reach_um, radius_um=said.radius_um, tint=said.design_bare)
    judge(said.job, said.artwork, found, asked)
    print(found.table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
