#!/usr/bin/env python3
"""Small designs, leftover panels and many copies on shared sheets: each piece is there once, as it lies on its job's own page, with
room to cut around it, on no more sheets than plain rows take; and however often the program is killed, nothing comes out twice.

Pixels are poppler's: a job's own page, with its paper's edges moved as the record says the piece was moved, must look as the
shared page does where the piece lies. Where ink may lie is judged by the pixels too, not only by the record: the art is coloured all
over, marks are black.
"""

from __future__ import annotations

import argparse
import json
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pikepdf
from judging import art, render
from judging.findings import Findings
from judging.studio import CATALOGUE, write

SCHEMA = Path(__file__).resolve().parents[2] / "config" / "schemas" / "shared.schema.json"
PPI = 150
"""Of the rendering."""
UM = 25_400 / PPI
"""Micrometres a pixel."""
EDGE = 2
"""Pixels at an edge that one more or less is no fault: a clip's edge falls within one."""
DIFFER = 0.0005
"""The part of a piece's pixels that may differ: where a border of the picture falls on that of a pixel, a reader's last digit decides."""
COLOURED = 60
"""From so much difference of its channels on a pixel is no mark."""
FULL = 0.8
"""The part of a printed face that is printed at least: all but the words on it."""
NAMES = ("Ada", "Bo", "Cyrus", "Dorothea", "Edda", "Fay", "Gale", "Hugo", "Ingrid", "Jasper", "Kit", "Livia", "Mina", "Nora", "Odile", "Petra", "Quill", "Rufus",
         "Selma", "Theo", "Una", "Viola", "Wilhelmine", "Xaver", "Yrsa", "Zeno", "Alba", "Bela", "Cleo", "Dag")  # fmt: skip
NIGHTS, ROWS = 4, 8


def blank(width: str, height: str, **more: object) -> dict[str, Any]:
    return {"width": width, "height": height, "shape": "rectangle", "substrate": "judge-cloth", "ppi_floor": 20, "ppi_refuse": 10, "colour": "white"} | more


def tags(root: Path, names: tuple[str, ...], **order: object) -> None:
    """A list of name tags, some wanted more than once."""
    box = {"x": "10mm", "y": "5mm", "width": "56mm", "height": "15mm"}
    words = [{"text": "{name}", "box": box, "shrink": True, "size": "10mm", "colour": "white"}]
    write(root, {"incoming/tag.yaml": {"blank": blank("3in", "1in"), "fit": "cover", "share": True, "list": "names.csv", "lettering": words} | order})
    rows = "".join(f"{name},{2 if at % 5 == 0 else ''}\n" for at, name in enumerate(names))
    (root / "incoming/names.csv").write_text(f"name,copies\n{rows}", encoding="utf-8")
    art.photo(450, 150, seed=5).convert("RGB").save(root / "incoming/tag.png")


def studio(root: Path, **settings: object) -> None:
    write(root, CATALOGUE | {
        "seamwright.yaml": {"studio": ".", "printer": "judge", "quiet": "0s", "stages": [{"resize": {"ppi": 100}}, "lettering", {"profile": {"do": "tag"}}, "mirror",
                            {"overlap": {"lap": "5mm"}}, "tile", "marks", "press"]} | settings,
        # Draws all lengths longer in one direction and shorter in the other, as if measured.
        "printers/stretched.yaml": {"papers": ["letter"], "margins": "0.25in", "profile": "none"},
        "printers/stretched.scale": {"letter": {"along": 1.004, "across": 0.997}},
    })  # fmt: skip


def order(root: Path, name: str, size: tuple[str, str], seed: int, **more: object) -> None:
    write(root, {f"incoming/{name}.yaml": {"blank": blank(*size), "fit": "cover", "share": True, "paper": "letter"} | more})
    art.photo(400, 400, seed=seed).convert("RGB").save(root / f"incoming/{name}.png")


def once(binary: Path, root: Path) -> None:
    done = subprocess.run([binary, "once", "--config", root / "seamwright.yaml"], capture_output=True, text=True, check=False, timeout=1800)
    if done.returncode != 0:
        raise SystemExit(done.stdout[-2000:] + done.stderr[-2000:])


def records(root: Path, *, shared: bool) -> dict[str, dict[str, Any]]:
    """The records of shared sheets, or of all jobs, by the names of their folders."""
    found = {}
    for path in sorted((root / "outgoing").glob("*/record.json")):
        if path.parent.name.startswith("shared-") == shared:
            found[path.parent.name] = json.loads(path.read_text(encoding="utf-8"))
    return found


def pieces(record: dict[str, Any]) -> list[dict[str, Any]]:
    return [piece for page in record["pages"] for piece in page["pieces"]]


def complete(root: Path) -> str:
    """What is wrong with which pieces lie on shared sheets; nothing where each is there once."""
    there = Counter((piece["job"], piece["panel"], piece["copy"]) for record in records(root, shared=True).values() for piece in pieces(record))
    wanted = Counter((name, panel["panel"], copy) for name, record in records(root, shared=False).items() if "share" in record
                     for panel in record["panels"] for copy in range(1, record["copies"] + 1))  # fmt: skip
    return "" if there == wanted else f"too many {list((there - wanted).items())[:4]}, missing {list((wanted - there).items())[:4]}"


def apart(one: list[int], other: list[int]) -> int:
    """How far two rectangles lie apart, along the better of the two directions."""
    return max(max(a, b) - min(a + c, b + d) for a, c, b, d in ((one[0], one[2], other[0], other[2]), (one[1], one[3], other[1], other[3])))


def plain_rows(record: dict[str, Any]) -> int:
    """How many sheets plain rows take: the highest first, each in the first row with room, else in a new row, else on a new sheet."""
    live, gap = record["live_um"], record["gap_um"]
    width, height = live[2] + gap, live[3] + gap
    sheets: list[list[list[int]]] = []
    for piece in sorted(pieces(record), key=lambda piece: piece["shown_um"][3], reverse=True):
        wide, high = piece["shown_um"][2:]
        for rows in sheets:
            fitting = [row for row in rows if row[0] >= wide and row[1] >= high]
            if fitting:
                fitting[0][0] -= wide
                break
            if sum(row[1] for row in rows) + high <= height:
                rows.append([width - wide, high])
                break
        else:
            sheets.append([[width - wide, high]])
    return len(sheets)


def crossed(page: dict[str, Any]) -> list[str]:
    """Cuts that run through a piece."""
    bad = []
    for x1, y1, x2, y2 in page["cuts_um"]:
        for piece in page["pieces"]:
            x, y, w, h = piece["shown_um"]
            if y1 == y2 and y < y1 < y + h and x < x2 and x1 < x + w:
                bad.append(f"level at {y1} through piece {piece['piece']}")
            if x1 == x2 and x < x1 < x + w and y < y2 and y1 < y + h:
                bad.append(f"upright at {x1} through piece {piece['piece']}")
    return bad


def drawn(rect: list[int], record: dict[str, Any], by: float = 0) -> tuple[slice, slice]:
    """Where a rectangle lies in the pixels of its page, so many pixels smaller on each side."""
    middle = record["paper"]["width_um"] / 2, record["paper"]["height_um"] / 2
    (sx, sy), (x, y, w, h) = record["scale"], rect
    ends = [middle[0] + (x - middle[0]) * sx, middle[1] + (y - middle[1]) * sy, middle[0] + (x + w - middle[0]) * sx, middle[1] + (y + h - middle[1]) * sy]
    left, top, right, bottom = (end / UM for end in ends)
    return np.s_[max(0, round(top + by)) : round(bottom - by), max(0, round(left + by)) : round(right - by)]


@cache
def own_page(sheets: Path, number: int, moved: tuple[float, float], size: tuple[float, float]) -> np.ndarray:
    """A page of a job's own sheets as it looks on paper of this size whose edges were moved, in points."""
    with tempfile.TemporaryDirectory(prefix="own-") as scratch, pikepdf.open(sheets) as pdf:
        page = pdf.pages[number - 1]
        page.MediaBox = [-moved[0], -moved[1], size[0] - moved[0], size[1] - moved[1]]
        alone = pikepdf.new()
        alone.pages.append(page)
        alone.save(Path(scratch) / "own.pdf")
        return render.page("poppler", Path(scratch) / "own.pdf", 1, PPI)


def looks(root: Path, name: str, record: dict[str, Any], found: Findings) -> None:
    """The pages as they look."""
    jobs, folder = records(root, shared=False), root / "outgoing" / name
    points = [record["paper"][side] * 72 / 25_400 for side in ("width_um", "height_um")]
    bad, stray, over, empty = [], [], [], []
    for page in record["pages"]:
        ours = render.page("poppler", folder / "sheets.pdf", page["page"], PPI)
        coloured = np.ptp(ours.astype(np.int16), axis=2) > COLOURED
        printed, free = (ours < 250).any(2), np.ones(coloured.shape, bool)
        for piece in page["pieces"]:
            where = f"page {page['page']} piece {piece['piece']}"
            panel = next(panel for panel in jobs[piece["job"]]["panels"] if panel["panel"] == piece["panel"])
            # Where the printed face is drawn now, in points from the bottom left, less where its own record says it was.
            middle = [record["paper"][side] / 2 for side in ("width_um", "height_um")]
            x, y, _, h = piece["printed_um"]
            left = (middle[0] + (x - middle[0]) * record["scale"][0]) * 72 / 25_400
            bottom = points[1] - (middle[1] + (y + h - middle[1]) * record["scale"][1]) * 72 / 25_400
            moved = left - panel["page_pt"][0], bottom - panel["page_pt"][1]
            theirs = own_page(root / "outgoing" / piece["job"] / "sheets.pdf", piece["own_page"], tuple(round(way, 6) for way in moved), tuple(points))
            part = drawn(piece["shown_um"], record, EDGE)
            differs = np.abs(ours[part].astype(np.int16) - theirs[part]).max(2) > 1
            if differs.mean() > DIFFER:
                bad.append(f"{where}: {differs.mean():.2%}")
            inner = drawn(piece["printed_um"], record, EDGE)
            if printed[inner].mean() < FULL:
                empty.append(where)
            free[drawn(piece["printed_um"], record, -EDGE)] = False
        if (coloured & free).any():
            stray.append(f"page {page['page']}: {(coloured & free).sum()} pixels")
        ink = printed.copy()
        ink[drawn(record["live_um"], record, -1)] = False
        if ink.any():
            over.append(f"page {page['page']}: {ink.sum()} pixels")
    found.add("pieces look as on their jobs' own pages", not bad, "; ".join(bad[:4]))
    found.add("every printed face is printed", not empty, "; ".join(empty[:4]))
    found.add("no picture outside the printed faces, so the gap is bare but for marks", not stray, "; ".join(stray[:4]))
    found.add("nothing outside what the printer prints", not over, "; ".join(over[:4]))


def judge(root: Path, name: str, record: dict[str, Any], found: Findings) -> None:
    """One folder of shared sheets."""
    found.job = name
    sheets = root / "outgoing" / name / "sheets.pdf"
    wrong = [error.message for error in jsonschema.Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8"))).iter_errors(record)]
    found.add("the record is of its form", not wrong, "; ".join(wrong[:3]))
    done = subprocess.run(["qpdf", "--check", sheets], capture_output=True, text=True, check=False)
    found.add("qpdf has nothing to say", done.returncode == 0, "" if done.returncode == 0 else (done.stdout + done.stderr)[-200:])
    with pikepdf.open(sheets) as pdf:
        boxes = {tuple(round(float(side), 2) for side in page.MediaBox) for page in pdf.pages}
        forms = {form.objgen for page in pdf.pages for form in page.Resources.XObject.values()}
        profiles = {space[1].objgen for thing in pdf.objects if isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") == "/Image"
                    for space in [thing.ColorSpace] if isinstance(space, pikepdf.Array)}  # fmt: skip
        pages = len(pdf.pages)
    paper = (0, 0, *(round(record["paper"][side] * 72 / 25_400, 2) for side in ("width_um", "height_um")))
    found.add("as many pages as it says, each of the paper's size", pages == len(record["pages"]) and boxes == {paper}, f"{pages}, {boxes}")
    own = {(piece["job"], piece["own_page"]) for piece in pieces(record)}
    found.add("each page of a job is in it once, and one profile", len(forms) == len(own) and len(profiles) <= 1, f"{len(forms)} of {len(own)}, {len(profiles)} profiles")
    live, bad = record["live_um"], []
    for page in record["pages"]:
        bad += crossed(page)
        for at, piece in enumerate(page["pieces"]):
            x, y, w, h = piece["piece_um"]
            if x < live[0] or y < live[1] or x + w > live[0] + live[2] or y + h > live[1] + live[3]:
                bad.append(f"piece {piece['piece']} of page {page['page']} leaves what can be printed")
            if piece["own_printed_um"][2:] != piece["printed_um"][2:]:
                bad.append(f"piece {piece['piece']} of page {page['page']} has another size")
            for other in page["pieces"][at + 1 :]:
                if apart(piece["printed_um"], other["printed_um"]) < record["gap_um"] or apart(piece["shown_um"], other["shown_um"]) < 0:
                    bad.append(f"pieces {piece['piece']} and {other['piece']} of page {page['page']} lie too near")
    found.add("pieces lie apart, within what can be printed, and no cut crosses one", not bad, "; ".join(bad[:4]))
    plain = plain_rows(record)
    found.add("no more sheets than plain rows take", pages <= plain, f"{pages}, in rows {plain}")
    looks(root, name, record, found)


def night(binary: Path, found: Findings) -> None:
    """Names, coasters, panels of larger things, a stretched printer, and paper that lies the other way."""
    with tempfile.TemporaryDirectory(prefix="shared-") as scratch:
        root = Path(scratch)
        log = root / "printed"
        studio(root)
        write(root, {"printers/logged.yaml": {"papers": ["letter"], "margins": "0.25in", "profile": "none", "send_to":
              {"command": ["sh", "-c", f'test -s "$1" && echo "$2 $3" >> {log}', "sh", "{sheets}", "{name}", "{copies}"], "print": "yes"}}})  # fmt: skip
        tags(root, NAMES, paper="letter")
        order(root, "coaster", ("95.25mm", "95.25mm"), 7, copies=5)
        # Two panels, the second of them a narrow one.
        order(root, "runner", ("250mm", "120mm"), 8, copies=2)
        order(root, "banner", ("500mm", "260mm"), 9)
        for at, size in enumerate((("60mm", "40mm"), ("41.3mm", "88.8mm"), ("120.7mm", "33mm"))):
            order(root, f"stretched{at}", size, 10 + at, printer="stretched", copies=3)
        # Two across only where the paper lies.
        order(root, "card", ("127mm", "88.9mm"), 14, copies=4, printer="logged")
        order(root, "alone", ("80mm", "80mm"), 15, share=False)
        once(binary, root)
        found.job = "all"
        all_shared = records(root, shared=True)
        wrong = complete(root)
        found.add("every copy of every panel lies on shared sheets once", not wrong, wrong)
        found.add("one that does not want to is on none", not any("alone" in job for record in all_shared.values() for job in record["jobs"]), "")
        cards = [record for record in all_shared.values() if any("card" in job for job in record["jobs"])]
        found.add("four cards lie on one sheet, which lies for that", [(record["orientation"], len(record["pages"])) for record in cards] == [("landscape", 1)], "")
        printed = log.read_text(encoding="utf-8").split("\n")[:-1] if log.exists() else []
        found.add("shared sheets are printed once, and no others", len(printed) == 1 and printed[0].startswith("shared-") and printed[0].endswith(" 1"), str(printed))
        for name, record in all_shared.items():
            judge(root, name, record, found)
        once(binary, root)
        found.job = "all"
        found.add("nothing is shared again", records(root, shared=True) == all_shared, "")


def kills(binary: Path, found: Findings) -> None:
    """A night of names, killed again and again."""
    found.job, bad, count = "kills", [], 0
    chance = random.Random(3)
    for number in range(NIGHTS):
        with tempfile.TemporaryDirectory(prefix="shared-") as scratch:
            root = Path(scratch)
            studio(root)
            tags(root, NAMES[:ROWS], paper="letter")
            for _ in range(60):
                # Mostly where the rows are done and their sheets are being shared: that is the end, which is short.
                running = subprocess.Popen([binary, "once", "--config", root / "seamwright.yaml"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                until = time.monotonic() + chance.uniform(0.02, 1.2)
                begun = root / "incoming/.claimed"
                while time.monotonic() < until and running.poll() is None and not any(begun.glob("shared-*")):
                    time.sleep(0.002)
                time.sleep(chance.uniform(0, 0.15))
                running.send_signal(signal.SIGKILL)
                running.wait()
                count += 1
                if records(root, shared=True):
                    break
            once(binary, root)
            if wrong := complete(root):
                bad.append(f"night {number}: {wrong}")
            if left := [path.name for path in (root / "incoming/.claimed").glob("[!.]*")]:
                bad.append(f"night {number}: {left} is left")
    found.add("killed at any moment, every piece comes out once", not bad, f"{count} kills; {'; '.join(bad[:3])}")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True)
    asked = parser.parse_args()
    found = Findings()
    night(asked.binary.resolve(), found)
    kills(asked.binary.resolve(), found)
    print(found.table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
