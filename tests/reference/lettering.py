#!/usr/bin/env python3
"""Judges lettering from outside: what the sheets hold of words against Pango, and read back by Tesseract.

Pango shapes text by HarfBuzz, as browsers and desktops do. The same words in the same font and size are set by both, laid upon
one another by the corners of their ink, and must cover the same pixels. Where the words stand is judged by the box that was
ordered and by what the record says. In the end good results are held against words that a careless typesetter would have set,
and each must be found out.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from judging import drawn
from judging.findings import Findings
from judging.studio import CATALOGUE, write
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
PITCH_UM = drawn.PITCH_UM
SIDES_MM = 200, 80
BOX_MM = 10, 8, 180, 64
BODY_MM = 24
INK = 128
"""What is darker is letter."""
LIKE = 0.9
"""The least share of the pixels covered by either that both cover: strokes are ten pixels wide, and half of one lies by chance."""
OWN = "DejaVu Sans Condensed"
DEVANAGARI = "Lohit Devanagari"


@dataclass(frozen=True)
class Words:
    """Words, their font, and what a careless typesetter would make of them."""

    name: str
    text: str
    font: str | None = None
    careless: str | None = None


def bare(text: str) -> str:
    """Letter for letter, without joining (parted by a mark that forbids it)."""
    return "\u200c".join(text)


ALL = (
    Words("latin", "Tide Watch", careless="Tide Wacht"),
    Words("kerned", "AVATAR To Ye", careless="AVATAR To  Ye"),
    Words("german", "Größe Übel"),
    Words("vietnamese", "Nguyễn Thị Ấm", careless="Nguyên Thi Âm"),
    Words("combined", "Nguye\u0302\u0303n Thi\u0323", careless="Nguyen Thi"),
    Words("czech", "Příliš žluťoučký"),
    Words("greek", "Θάλασσα"),
    Words("cyrillic", "Обсерватория"),
    Words("hebrew", "שלום לכם", careless="םולש םכל"),
    Words("hebrew-ended", "מפת כוכבים!", careless="!מפת כוכבים"),
    Words("arabic", "مرحبا بالنجوم", careless=bare("مرحبا بالنجوم")),
    Words("arabic-marks", "بَحْرٌ", careless="بحر"),
    Words("arabic-figures", "مرصد 21", careless="21 مرصد"),
    Words("lam-alef", "سلام", careless=bare("سلام")),
    Words("devanagari", "नमस्ते", DEVANAGARI, "नमसते"),
    Words("devanagari-marks", "विश्व चन्द्र", DEVANAGARI, "वशव चनदर"),
)
READ = (
    "Maren Holm", "Jasper Quill", "Odile Brandt", "Tobias Fenwick", "Ingrid Solberg", "Wilhelmine Marsh", "Rufus Gale", "Petra Lindqvist",
    "Oskar Thorne", "Beatrix Moor",
)  # fmt: skip
"""Invented names, which an eye and a machine can read."""
ROWS = 40
SEEN = 5
"""Every so many rows of the list are read back from the pixels."""


def visitors() -> list[str]:
    """As many names as the list has rows, no two alike."""
    first = ("Maren", "Jasper", "Odile", "Tobias", "Ingrid", "Rufus", "Petra", "Oskar")
    last = ("Holm", "Fenwick", "Marsh", "Thorne", "Moor")
    return [f"{one} {other}" for other in last for one in first][:ROWS]


def prepare(root: Path) -> None:
    """A studio where all words are set on white."""
    width, height = SIDES_MM
    blank = {"width": f"{width}mm", "height": f"{height}mm", "shape": "rectangle", "colour": "white", "substrate": "judge-cloth"}
    box = dict(zip(("x", "y", "width", "height"), (f"{mm}mm" for mm in BOX_MM), strict=True))
    stages = [{"resize": {"ppi": 25_400 / PITCH_UM}}, "lettering", {"profile": {"do": "tag"}}, "overlap", "tile", "press"]
    texts = {"seamwright.yaml": {"studio": ".", "stages": stages, "writers": ["sheets", "record"], "printer": "judge", "quiet": "0s"}} | CATALOGUE

    def order(name: str, fields: dict, **more: object) -> None:
        piece = {"text": "{words}", "box": box, "size": f"{BODY_MM}mm"} | more
        texts[f"incoming/{name}.yaml"] = {"blank": blank, "fit": "stretch", "fields": fields, "lettering": [piece]}
        Image.new("RGB", (1000, 400), "white").save(root / f"incoming/{name}.png")

    (root / "incoming").mkdir(parents=True)
    for words in ALL:
        order(words.name, {"words": words.text}, **({"font": words.font} if words.font else {}))
    for number, name in enumerate(READ):
        order(f"read-{number}", {"words": name}, shrink=True, align="left", valign="top")
    order("visitors", {}, shrink=True, text="{name}")
    texts["incoming/visitors.yaml"]["list"] = "visitors.csv"
    # As spreadsheets save it: a mark of order, semicolons, lines ended as on other systems.
    table = "\ufeffname;copies\r\n" + "".join(f"{name};{number}\r\n" for number, name in enumerate(visitors(), 1))
    (root / "incoming/visitors.csv").write_bytes(table.encode())
    order("largest", {"words": "Tide"}, size="largest")
    order("no-letter", {"words": "Ada \ue123"})
    order("emoji", {"words": "Ada 😀"})
    order("no-field", {"word": "Ada"})
    order("too-long", {"words": "Observatory by the sea"})
    write(root, texts)


def fonts(folder: Path, devanagari: Path) -> dict[str, str]:
    """An environment in which Pango has the fonts of the studio and no others."""
    dirs = "".join(f"<dir>{where}</dir>" for where in (ROOT / "config/fonts", devanagari))
    (folder / "fonts.conf").write_text(
        f'<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig>{dirs}<cachedir>{folder}/cache</cachedir></fontconfig>',
        encoding="utf-8",
    )
    return os.environ | {"FONTCONFIG_FILE": str(folder / "fonts.conf")}


def theirs(words: Words, text: str, folder: Path, env: dict[str, str]) -> np.ndarray:
    """What Pango makes of it, cut to its ink."""
    out = folder / "theirs.png"
    points = BODY_MM / 25.4 * 72
    command = ["pango-view", "--no-display", f"--dpi={25_400 // PITCH_UM}", "--hint-metrics=off", "--hinting=none", "--subpixel-positions", "--antialias=gray", "--margin=60",
               "--background=white", f"--font={words.font or OWN} {points:.4f}", f"--text={text}", f"--output={out}"]  # fmt: skip
    subprocess.run(command, capture_output=True, check=True, timeout=60, env=env)
    with Image.open(out) as image:
        return cut(np.asarray(image.convert("L"), np.int16))


def cut(pixels: np.ndarray) -> np.ndarray:
    """To its ink."""
    left, top, right, bottom = ends(pixels)
    return pixels[top:bottom, left:right]


def ends(pixels: np.ndarray) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the ink."""
    inked = pixels < 255 - INK // 4
    across, down = np.flatnonzero(inked.any(0)), np.flatnonzero(inked.any(1))
    return int(across[0]), int(down[0]), int(across[-1]) + 1, int(down[-1]) + 1


def alike(one: np.ndarray, other: np.ndarray) -> float:
    """The share of the pixels covered by either that both cover, at the best of places one pixel apart; none where sizes differ."""
    if any(abs(a - b) > 2 for a, b in zip(one.shape, other.shape, strict=True)):
        return 0.0
    height, width = (max(a, b) + 2 for a, b in zip(one.shape, other.shape, strict=True))

    def at(pixels: np.ndarray, x: int, y: int) -> np.ndarray:
        whole = np.zeros((height, width), bool)
        part = (pixels < INK)[: height - y, : width - x]
        whole[y : y + part.shape[0], x : x + part.shape[1]] = part
        return whole

    fixed = at(one, 1, 1)
    moved = [at(other, x, y) for x in range(3) for y in range(3)]
    return max(float((fixed & place).sum() / max(1, (fixed | place).sum())) for place in moved)


def read(pixels: np.ndarray, folder: Path) -> str:
    """What a machine reads."""
    path = folder / "read.png"
    Image.fromarray(np.pad(pixels, 40, constant_values=255).astype(np.uint8)).save(path)
    told = subprocess.run(["tesseract", path, "-", "--psm", "7", "-l", "eng"], capture_output=True, check=True, timeout=60)
    return " ".join(told.stdout.decode().split())


def stands(folder: Path, pixels: np.ndarray, found: Findings) -> tuple[int, int, int, int]:
    """Whether the words stand where the record says; their ends in micrometres."""
    record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    x, y, width, height = record["lettering"][0]["ink_um"]
    told = x, y, x + width, y + height
    seen = ends(pixels)
    worst = max(abs(a * PITCH_UM - b) for a, b in zip(seen, told, strict=True))
    found.add("stands where the record says", worst <= PITCH_UM, f"{worst} um off")
    box = BOX_MM[0], BOX_MM[1], BOX_MM[0] + BOX_MM[2], BOX_MM[1] + BOX_MM[3]
    inside = told[0] >= box[0] * 1000 - 2 and told[1] >= box[1] * 1000 - 2 and told[2] <= box[2] * 1000 + 2 and told[3] <= box[3] * 1000 + 2
    found.add("keeps to its box", inside, f"{told} in {box} mm")
    return told


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, required=True)
    parser.add_argument("--devanagari", type=Path, default=Path("/usr/share/fonts/truetype/lohit-devanagari"), help="where that font is")
    parser.add_argument("--keep", type=Path, help="a folder for the pictures")
    asked = parser.parse_args()
    found = Findings()
    with tempfile.TemporaryDirectory() as scratch:
        folder, studio = Path(scratch), Path(scratch) / "studio"
        prepare(studio)
        (studio / "fonts").symlink_to(asked.devanagari, target_is_directory=True)
        env = fonts(folder, asked.devanagari)
        subprocess.run([asked.binary.resolve(), "once", "--config", studio / "seamwright.yaml"], capture_output=True, check=False, timeout=600)

        def job(name: str) -> tuple[Path, np.ndarray] | None:
            found.job = name
            folders = sorted((studio / "outgoing").glob(f"{name}-??????"))
            if not folders:
                why = next((studio / "refused").glob(f"{name}-*/why.txt"), None)
                found.add("is set", False, " ".join(why.read_text().split()) if why else "no trace of it")
                return None
            pixels = drawn.ours(folders[0]).mean(2).astype(np.int16)
            if asked.keep:
                asked.keep.mkdir(parents=True, exist_ok=True)
                Image.fromarray(pixels.astype(np.uint8)).save(asked.keep / f"{name}.png")
            return folders[0], pixels

        for words in ALL:
            if (set_as := job(words.name)) is None:
                continue
            stands(*set_as, found)
            ours = cut(set_as[1])
            share = alike(ours, theirs(words, words.text, folder, env))
            found.add("is shaped as Pango shapes it", share >= LIKE, f"{share:.3f} of what either covers, both do")
            if words.careless:
                share = alike(ours, theirs(words, words.careless, folder, env))
                found.add("found out: set carelessly", share < LIKE, f"{share:.3f}")
        for number, name in enumerate(READ):
            if (set_as := job(f"read-{number}")) is None:
                continue
            told = stands(*set_as, found)
            found.add("begins at the left of its box", abs(told[0] - BOX_MM[0] * 1000) <= 2, f"{told[0]} um")
            text = read(cut(set_as[1]), folder)
            found.add("can be read", text == name, f"{text!r} for {name!r}")
        found.job = "visitors"
        rows = {}
        for folder_of_row in sorted((studio / "outgoing").glob("visitors-*-????????")):
            record = json.loads((folder_of_row / "record.json").read_text(encoding="utf-8"))
            rows[record["lettering"][0]["text"]] = folder_of_row, record
        found.add("every row is a job with its own name", sorted(rows) == sorted(visitors()), f"{len(rows)} of {ROWS}")
        copies = {name: record["copies"] for name, (_, record) in rows.items()}
        found.add("and with its own copies", copies == {name: number for number, name in enumerate(visitors(), 1)})
        for name in visitors()[::SEEN]:
            if name in rows:
                text = read(cut(drawn.ours(rows[name][0]).mean(2).astype(np.int16)), folder)
                found.add(f"{name} can be read", text == name, repr(text))
        if set_as := job("largest"):
            told = stands(*set_as, found)
            wide = told[2] - told[0] >= BOX_MM[2] * 1000 - 200
            body = json.loads((set_as[0] / "record.json").read_text())["lettering"][0]["body_um"]
            # From the font's own file (hhea): its letters are 0.928 above and 0.236 below the line.
            high = abs(body * (0.928 + 0.236) - BOX_MM[3] * 1000) <= 200
            found.add("fills its box across or down", wide or high, f"{told}, body {body} um")
        for name, says in {"no-letter": "U+E123", "no-field": "the field `words`", "too-long": "too long"}.items():
            found.job = name
            why = next((studio / "refused").glob(f"{name}-*/why.txt"), None)
            found.add("is refused in words", why is not None and says in why.read_text(), " ".join(why.read_text().split()) if why else "was not")
        found.job = "emoji"
        why = next((studio / "refused").glob("emoji-*/why.txt"), None)
        found.add("is set in one colour or refused in words", bool(list((studio / "outgoing").glob("emoji-*"))) or (why is not None and ("U+1F600" in why.read_text() or "emoji" in why.read_text())), " ".join(why.read_text().split()) if why else "set")
    print(found.table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
