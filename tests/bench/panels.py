"""What the yardsticks have in common: what they are asked for, and where panels are cut."""

from __future__ import annotations

import argparse
import math
from pathlib import Path

LAP = 0.2
"""Inches."""


def asked(what: str | None) -> argparse.Namespace:
    """Reads the command line of a script that does this."""
    parser = argparse.ArgumentParser(description=what)
    parser.add_argument("artwork", type=Path)
    parser.add_argument("pdf", type=Path)
    parser.add_argument("--size", type=float, nargs=2, required=True, help="inches")
    parser.add_argument("--ppi", type=float, required=True)
    parser.add_argument("--page", type=float, nargs=2, default=(11.0, 8.5), help="inches")
    parser.add_argument("--profile", help="of the printer, converted to from sRGB")
    return parser.parse_args()


def cuts(length: int, live: int, lap: int) -> list[tuple[int, int]]:
    """Where panels begin and end along one side, even, each reaching a lap into the next."""
    count = max(1, math.ceil((length - lap) / (live - lap)))
    step = (length - lap) / count
    return [(round(i * step), round((i + 1) * step) + lap) for i in range(count)]


def panels(asked: argparse.Namespace, width: int, height: int) -> list[list[tuple[int, int]]]:
    """The cuts of a design of so many pixels, across and down."""
    live = [side - 0.5 for side in asked.page]
    return [
        cuts(length, int(room * asked.ppi), round(LAP * asked.ppi))
        for length, room in zip((width, height), live, strict=True)
    ]
