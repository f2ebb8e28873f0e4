#!/usr/bin/env python3
"""Judges colours from outside: what the sheets hold against LittleCMS and published formulas, wrong profiles refused.

Pictures of every format are worked off by the built program with their colours left alone, and must show the same Lab as
their file; pictures are converted to printers' profiles by every intent, and must be what LittleCMS makes of them; wrong
profiles in artwork and printers must be refused, with their cure. In the end results are spoilt on purpose, and each must
be found out.
"""

from __future__ import annotations

import argparse
import csv
import sys
import tempfile
from pathlib import Path

import numpy as np
from judging import converted, littlecms, pictures, rgb, tagged, wrong
from judging.delta import ciede2000
from judging.findings import Findings
from PIL import features

DATA = Path(__file__).parent.parent / "data" / "colour"
PROFILES = {
    "srgb": "images/png_rgb8_cicp_p3_iccp_srgb.png",
    "p3": "images/png_rgb8_iccp.png",
    "cmyk": "images/tif_cmyk8.tif",
    "gray": "images/png_gray8_iccp_gray.png",
    "dye-v2": "test-profiles/dye-rgb-v2.icc",
    "dye-v4": "test-profiles/dye-rgb-v4.icc",
}
"""Profiles by name, and the files that hold them."""


def profiles() -> dict[str, bytes]:
    """They themselves."""
    paths = {name: DATA / file for name, file in PROFILES.items()}
    return {
        name: path.read_bytes() if path.suffix == ".icc" else pictures.read(path)[1] for name, path in paths.items()
    }


def table(file: str) -> list[dict[str, str]]:
    """Rows of a table of check values."""
    with (DATA / file).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def columns(rows: list[dict[str, str]], *names: str) -> np.ndarray:
    """Columns of numbers."""
    return np.array([[float(row[name]) for name in names] for row in rows])


def footing(known: dict[str, bytes], found: Findings) -> None:
    """What is judged by, against published and independent figures."""
    found.job = "judge"
    pairs = table("ciede2000-pairs.csv")
    one, other = columns(pairs, "L1", "a1", "b1"), columns(pairs, "L2", "a2", "b2")
    wanted = columns(pairs, "dE00")[:, 0]
    off = max(np.abs(ciede2000(a, b) - wanted).max() for a, b in ((one, other), (other, one)))
    found.add(
        "CIEDE2000 of the published pairs", bool(len(pairs) == 34 and off <= 0.0001), f"{len(pairs)}, off by {off:.6f}"
    )
    spaces = {"sRGB": tagged.SRGB, "opRGB (IEC 61966-2-5)": tagged.OPRGB_CAMERA, "Display P3": tagged.P3}
    rows = table("rgb-to-lab-d50.csv")
    off = max(
        np.abs(spaces[row["space"]].lab(columns([row], "r8", "g8", "b8") / 255) - columns([row], "L", "a", "b")).max()
        for row in rows
    )
    found.add("published RGB spaces in Lab", bool(off <= 0.0005), f"off by {off:.6f}")
    rows, dye = table("profile-rgb-to-lab.csv"), known["dye-v2"]
    for intent, name in ((littlecms.RELATIVE, "rel"), (littlecms.ABSOLUTE, "abs")):
        seen = littlecms.convert(columns(rows, "r", "g", "b"), dye, littlecms.LAB, intent)
        off = ciede2000(seen, columns(rows, *(f"{axis}_{name}" for axis in "Lab"))).max()
        found.add(f"LittleCMS as another library, {name} to Lab", bool(off <= 0.005), f"off by {off:.4f}")
    rows = table("profile-lab-to-rgb.csv")
    for intent, number in converted.INTENTS.items():
        seen = littlecms.convert(columns(rows, "L", "a", "b"), littlecms.LAB, dye, number)
        off = np.abs(seen - columns(rows, *(f"{channel}_{intent}" for channel in "rgb"))).max()
        found.add(f"LittleCMS as another library, {intent} from Lab", bool(off <= 0.00005), f"off by {off:.6f}")
    chance = np.random.default_rng(1)
    for name, channels in (("srgb", 3), ("p3", 3), ("gray", 1)):
        values = chance.random((5000, channels))
        off = ciede2000(
            littlecms.convert(values, known[name], littlecms.LAB), rgb.of_profile(known[name]).lab(values)
        ).max()
        found.add(f"LittleCMS as own reading of a matrix, {name}", bool(off <= 0.05), f"off by {off:.4f}")


def spoilt_sheets(
    held: dict[str, tagged.Sheets], cases: list[tagged.Case], known: dict[str, bytes], found: Findings
) -> None:
    """Good sheets, spoilt as a careless program would."""
    by_name = {case.piece.name: case for case in cases}
    srgb = known["srgb"]

    def must_fail(what: str, name: str, values: np.ndarray, told: tagged.Told) -> None:
        held, figures = tagged.difference(by_name[name], values, told)
        found.add(f"found out: {what}", not held, f"{name}: {figures}")

    good = {name: sheet.stored / 255 for name, sheet in held.items()}
    p3 = good["png-p3"]
    must_fail("red and blue exchanged", "png-p3", p3[..., ::-1], known["p3"])
    must_fail("mirrored", "png-p3", p3[:, ::-1], known["p3"])
    must_fail("profile lost", "png-p3", p3, tagged.SRGB)
    must_fail("another profile", "png-p3", p3, known["dye-v2"])
    must_fail("converted and tagged as before", "png-p3", littlecms.convert(p3, known["p3"], srgb), known["p3"])
    must_fail("a hundredth darker", "png-p3", p3 * 0.99, known["p3"])
    must_fail("values instead of gamma", "png-linear", good["png-linear"], tagged.SRGB)
    must_fail("primaries passed over", "png-oprgb", good["png-oprgb"], tagged.SRGB)
    must_fail("camera's curve passed over", "png-cicp-bt709", good["png-cicp-bt709"], tagged.SRGB)
    must_fail(
        "profile preferred to code points", "png_rgb8_cicp_p3_iccp_srgb", good["png_rgb8_cicp_p3_iccp_srgb"], srgb
    )
    must_fail("ink turned round", "jpg-cmyk", 1 - good["jpg-cmyk"], known["cmyk"])
    must_fail("naive ink", "jpg-cmyk", (1 - good["jpg-cmyk"][..., :3]) * (1 - good["jpg-cmyk"][..., 3:]), srgb)
    must_fail("premultiplied taken as straight", "tif_rgba8_assoc", good["tif_rgba8_unassoc"], known["p3"])
    must_fail("colour a little aside in a JPEG", "jpg-p3-coarse", good["jpg-p3-coarse"] + [1 / 255, 0, 0], known["p3"])


def spoilt_conversions(held: dict[str, np.ndarray], known: dict[str, bytes], found: Findings) -> None:
    """Good conversions, compared with what should be told from them."""
    made, dye = converted.sources(known), known["dye-v2"]

    def must_fail(what: str, stored: np.ndarray, wanted: np.ndarray) -> None:
        compared = converted.compare(stored, wanted, dye)
        found.add(f"found out: {what}", not compared.held(), compared.figures())

    photo, random = made["p3-photo"], made["srgb-random"]
    exact = converted.exact(photo, dye, "relative")
    stored = held["p3-photo-to-dye-v2-relative"]
    must_fail("red and blue exchanged", stored[..., ::-1], exact)
    twice = littlecms.convert(stored / 255, known["p3"], dye, black_point=True)
    must_fail("converted twice", np.rint(twice * 255).astype(np.uint8), exact)
    must_fail("not converted", photo.pixels, exact)
    taken = littlecms.convert(photo.pixels / 255, known["srgb"], dye, black_point=True)
    must_fail("taken as sRGB", np.rint(taken * 255).astype(np.uint8), exact)
    plain = littlecms.convert(photo.pixels / 255, known["p3"], dye)
    must_fail("black points not matched", np.rint(plain * 255).astype(np.uint8), exact)
    must_fail("two steps too dark", np.maximum(stored, 2) - 2, exact)
    for intent in converted.INTENTS:
        others = [other for other in converted.INTENTS if other != intent]
        wanted = converted.exact(random, dye, intent)
        for other in others:
            must_fail(f"{other} for {intent}", held[f"srgb-random-to-dye-v2-{other}"], wanted)


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    parser.add_argument("--keep", type=Path, help="work in this new folder and leave it there")
    said = parser.parse_args()
    found, printed = Findings(), 0

    def show() -> None:
        nonlocal printed
        print(Findings(items=found.items[printed:]).table(), flush=True)
        printed = len(found.items)

    if littlecms.library() is None:
        found.skip("colours", "Pillow came without a LittleCMS of its own")
        return found.close()
    print(f"LittleCMS {features.version('littlecms2')}", flush=True)
    known, binary = profiles(), said.binary.resolve()
    footing(known, found)
    show()
    with tempfile.TemporaryDirectory(prefix="colours-") as folder:
        root = said.keep or Path(folder)
        cases, refused = tagged.collection(DATA / "images")
        cases += tagged.made(DATA / "images", known["dye-v2"])
        sheets = tagged.judge(root / "tagged", binary, cases, refused, found)
        show()
        conversions = converted.judge(root / "converted", binary, known, found)
        show()
        wrong.judge(root / "wrong", binary, known, found)
        show()
    found.job = "judge"
    try:
        spoilt_sheets(sheets, cases, known, found)
        spoilt_conversions(conversions, known, found)
    except KeyError as absent:
        found.add("there is something to spoil", False, f"no sheets of {absent}")
    show()
    if found.failed():
        print("\nwhat failed\n" + Findings(items=found.failed()).table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
