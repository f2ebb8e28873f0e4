"""One finished job before all judges."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from . import assembly, geometry, ink, lay, marks, outline, pages, pressed, scrap, stacking
from .asked import Asked
from .findings import Findings
from .record import faults, parse
from .tools import Missing, existing


def judge(folder: Path, art: Path, found: Findings, asked: Asked) -> dict | None:
    """Judges a job's folder; gives the record, or nothing where there is none that can be read."""
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
    geometry.judge(record, asked, found)
    stacking.judge(record, found)
    assembly.judge(record, found)
    outline.judge(record, asked, found)
    ink.judge(record, asked, art, found)
    pressed.judge(record, asked, art, found)
    pages.judge(record, pdf, found)
    if "test-print.pdf" in raw["files"]:
        scrap.judge(record, pdf, folder / "test-print.pdf", found)
    try:
        if asked.tint:
            marks.judge(record, pdf, found)
        else:
            lay.judge(record, asked, pdf, art, found)
    except Missing as why:
        found.skip("what the pages show", str(why))
    except RuntimeError as why:
        found.add("the pages can be rendered", False, str(why))
    return raw
