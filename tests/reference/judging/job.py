"""One finished job before all judges."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from . import geometry, lay, marks, pages
from .findings import Findings
from .record import faults, parse
from .tools import Missing, existing


def judge(folder: Path, art: Path, found: Findings, *, bare: bool = False) -> dict | None:
    """Judges a job's folder; ``bare`` is for artwork of one pale tint, whose marks are then looked at.

    Gives the record, or nothing where there is none that can be read.
    """
    found.job = folder.name
    try:
        raw = json.loads(existing(folder / "record.json").read_text(encoding="utf-8"))
        pdf = existing(folder / "sheets.pdf")
    except (OSError, ValueError) as why:
        found.add("record and sheets are there", False, str(why))
        return None
    wrong = faults(raw)
    if not found.add("record fits the schema", not wrong, "; ".join(wrong[:3])):
        return None
    absent = [name for name in raw["files"] if not (folder / name).is_file()]
    found.add("all files are there", not absent, ", ".join(absent))
    same = hashlib.sha256(art.read_bytes()).hexdigest() == raw["artwork"]["sha256"]
    found.add("record names the artwork's bytes", same)
    record = parse(raw)
    geometry.judge(record, found)
    pages.judge(record, pdf, found)
    try:
        if bare:
            marks.judge(record, pdf, found)
        else:
            lay.judge(record, pdf, art, found)
    except Missing as why:
        found.skip("what the pages show", str(why))
    except RuntimeError as why:
        found.add("the pages can be rendered", False, str(why))
    return raw
