"""The file as three PDF readers and a validator see it: pages, boxes, profiles, words."""

from __future__ import annotations

import re
from pathlib import Path

from .findings import Findings
from .record import Record
from .tools import Missing, run

CLOSE = 0.01
"""Points by which a box may be off."""

Boxes = list[dict[str, list[float]]]


def poppler(pdf: Path) -> Boxes:
    """MediaBox and TrimBox of each page, by poppler (two decimals)."""
    pages: dict[int, dict[str, list[float]]] = {}
    for line in run("pdfinfo", "-box", "-f", 1, "-l", 100_000, pdf).splitlines():
        match = re.match(r"Page\s+(\d+)\s+(MediaBox|TrimBox|rot):\s+(.*)", line)
        if match:
            pages.setdefault(int(match[1]), {})[match[2]] = [float(v) for v in match[3].split()]
    return [pages[number] for number in sorted(pages)]


def mupdf(pdf: Path) -> Boxes:
    """The same by MuPDF."""
    pages: Boxes = []
    for line in run("mutool", "pages", pdf).splitlines():
        if line.startswith("<page "):
            pages.append({})
        match = re.match(r'<(\w+Box) l="(.*?)" b="(.*?)" r="(.*?)" t="(.*?)"', line)
        if match:
            pages[-1][match[1]] = [float(match[i]) for i in range(2, 6)]
        match = re.match(r'<Rotate v="(.*?)"', line)
        if match:
            pages[-1]["rot"] = [float(match[1])]
    return pages


def ghostscript(pdf: Path) -> Boxes:
    """The same by Ghostscript."""
    pages: Boxes = []
    for line in run("gs", "-q", "-dNODISPLAY", "-dBATCH", "-dPDFINFO", pdf).splitlines():
        if re.match(r"Page \d+ ", line):
            boxes = re.findall(r"(\w+Box): \[(.*?)\]", line)
            pages.append({name: [float(v) for v in values.split()] for name, values in boxes})
            turned = re.search(r"Rotate = (\d+)", line)
            pages[-1]["rot"] = [float(turned[1])] if turned else [0.0]
    return pages


READERS = {"poppler": poppler, "MuPDF": mupdf, "Ghostscript": ghostscript}


def judge(record: Record, pdf: Path, found: Findings) -> None:
    """All of it."""
    try:
        said = run("qpdf", "--check", pdf)
        found.add("qpdf --check", "No syntax or stream encoding errors" in said)
    except Missing as why:
        found.skip("qpdf --check", str(why))
    except RuntimeError as why:
        found.add("qpdf --check", False, str(why))
    for name, reader in READERS.items():
        try:
            boxes(record, name, reader(pdf), found)
        except Missing as why:
            found.skip(f"pages by {name}", str(why))
        except (RuntimeError, ValueError) as why:
            found.add(f"pages by {name}", False, str(why))
    try:
        profiles(record, pdf, found)
        labels(record, pdf, found)
    except Missing as why:
        found.skip("profiles and labels", str(why))


def boxes(record: Record, name: str, pages: Boxes, found: Findings) -> None:
    """Number of pages, their size, and the trim box around the printed face."""
    count = found.add(f"number of pages by {name}", len(pages) == len(record.panels), f"{len(pages)}")
    if not count:
        return
    width, height = (side * 72 / 25400 for side in record.page_um)
    media = trim = 0.0
    for panel in record.panels:
        page = pages[panel.page - 1]
        x, y, w, h = panel.page_pt
        media = max(media, _off(page.get("MediaBox"), [0, 0, width, height]))
        trim = max(trim, _off(page.get("TrimBox"), [x, y, x + w, y + h]))
        media = max(media, abs(page.get("rot", [0.0])[0]))
    found.add(f"MediaBox is the paper by {name}", media <= CLOSE, f"off by {media:.4f} pt")
    found.add(f"TrimBox is page_pt by {name}", trim <= CLOSE, f"off by {trim:.4f} pt")


def _off(box: list[float] | None, wanted: list[float]) -> float:
    if box is None:
        return float("inf")
    return max(abs(a - b) for a, b in zip(box, wanted, strict=True))


def profiles(record: Record, pdf: Path, found: Findings) -> None:
    """Images carry an ICC profile exactly where the record says so."""
    attached = (record.raw["colour"] or {}).get("attached")
    lines = run("pdfimages", "-list", pdf).splitlines()[2:]
    spaces = {line.split()[5] for line in lines if line.split()[2] == "image"}
    lossy = {line.split()[8] for line in lines} & {"jpeg", "jpx", "jbig2"}
    found.add("profile seen by poppler", (spaces == {"icc"}) == (attached is not None), f"{spaces}, record: {attached}")
    found.add("images are lossless", bool(lines) and not lossy, f"{len(lines)} images")


def labels(record: Record, pdf: Path, found: Findings) -> None:
    """Each page names its panel, of how many, in text that can be searched."""
    total, wrong = str(len(record.panels)), []
    for panel in record.panels:
        text = run("pdftotext", "-f", panel.page, "-l", panel.page, pdf, "-")
        words = re.findall(r"\d+", text.replace(record.raw["job"], " "))
        if str(panel.number) not in words or total not in words:
            wrong.append(panel.number)
    warned = any("label" in text.lower() for text in record.raw["warnings"])
    said = f"not on {wrong}{', and that is a warning' if warned else ''}" if wrong else ""
    found.add("labels are text", not wrong or warned, said)
