#!/usr/bin/env python3
"""Judges one finished job by its record, its sheets and the artwork it was made from."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

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
    asked = parser.parse_args()
    found = Findings()
    judge(asked.job, asked.artwork, found, bare=asked.design_bare)
    print(found.table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
