#!/usr/bin/env python3
"""Judges drawings from outside: what the sheets hold of SVG against librsvg, of pages of PDF against poppler.

The drawings are pieces of public test suites, as Debian packages carry them: those of the W3C for SVG 1.1 and of librsvg
(`librsvg2-tests`), the test pages of CUPS (`cups-filters`); and pages that other programs wrote from them (cairo's PDF writer,
Ghostscript's). In the end good results are spoilt on purpose, and each must be found out.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from judging import drawn
from judging.drawn import Art
from judging.findings import Findings

SUITE = "usr/libexec/installed-tests/RSVG/fixtures/reftests"
PAGES = "usr/share/cups/data"
SVG = (
    "coords-trans-02-t", "coords-trans-06-t", "coords-viewattr-01-b", "filters-blend-01-b", "filters-color-01-b", "filters-gauss-01-b",
    "filters-offset-01-b", "masking-mask-01-b", "masking-opacity-01-b", "masking-path-01-b", "painting-marker-01-f",
    "painting-stroke-03-t", "painting-stroke-06-t", "paths-data-01-t", "paths-data-02-t", "paths-data-08-t", "paths-data-16-t",
    "pservers-grad-02-b", "pservers-grad-05-b", "pservers-grad-10-b", "pservers-grad-15-b", "pservers-pattern-02-f", "pservers-pattern-03-f",
    "shapes-intro-01-t", "struct-group-03-t", "struct-cond-01-t", "struct-use-03-t", "styling-css-01-b", "styling-css-04-f",
)  # fmt: skip
"""Of the W3C's, one or more of each kind of thing that a drawing may have, without those that are about fonts."""
BUGS = ("282-drop-shadow", "372-small-arcs", "603550-mask-luminance", "609-clippath-transform", "634324-blur-negative-transform", "718-rect-negative-rx-ry")
CUPS = ("default-testpage", "form_english", "form_russian", "classified")
WRITTEN = ("coords-trans-02-t", "filters-gauss-01-b", "masking-opacity-01-b", "painting-stroke-06-t", "paths-data-02-t", "pservers-grad-05-b", "paths-data-08-t", "shapes-intro-01-t")
"""Of which pages are made. None with a pattern: poppler rounds their tiles to whole pixels."""
FEWEST = 30


def collected(root: Path, folder: Path) -> list[Art]:
    """All drawings there are."""
    suite = root / SUITE
    found = [Art(f"svg-{name}", suite / "svg1.1" / f"{name}.svg") for name in SVG]
    found += [Art(f"svg-{name}", suite / "bugs" / f"{name}.svg") for name in BUGS]
    found += [Art(f"pdf-cups-{name}", root / PAGES / f"{name}.pdf") for name in CUPS]
    pages = []
    for name in WRITTEN:
        page = folder / f"{name}.pdf"
        subprocess.run(["rsvg-convert", "-f", "pdf", "-o", page, suite / "svg1.1" / f"{name}.svg"], capture_output=True, check=True)
        found.append(Art(f"pdf-cairo-{name}", page))
        pages.append(page)
    book = folder / "book.pdf"
    command = ["gs", "-q", "-dBATCH", "-dNOPAUSE", "-dSAFER", "-sDEVICE=pdfwrite", "-o", book, *pages]
    subprocess.run(command, capture_output=True, check=True)
    found += [Art(f"pdf-gs-{name}", book, page) for page, name in enumerate(WRITTEN, 1)]
    return [art for art in found if art.file.exists()]


def spoilt(ours: np.ndarray, theirs: np.ndarray, found: Findings) -> None:
    """A good picture, spoilt as a careless renderer would."""
    lighter = ours + (255 - ours) // 2
    shifted = np.roll(ours, 3, 1)
    lost = ours.copy()
    lost[ours.shape[0] // 2 :] = 255
    for what, wrong in {
        "mirrored": ours[:, ::-1], "upside down": ours[::-1], "three pixels aside": shifted, "red for blue": ours[..., ::-1],
        "half as dark": lighter, "half of it lost": lost,
    }.items():  # fmt: skip
        compared = drawn.compare(wrong, theirs)
        found.add(f"found out: {what}", not compared.held, str(compared))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, required=True)
    parser.add_argument("--root", type=Path, default=Path("/"), help="where the packages are unpacked")
    parser.add_argument("--keep", type=Path, help="a folder for the pictures compared")
    asked = parser.parse_args()
    found = Findings()
    with tempfile.TemporaryDirectory() as scratch:
        folder, studio = Path(scratch), Path(scratch) / "studio"
        arts = collected(asked.root, folder)
        found.add("there are drawings to judge by", len(arts) >= FEWEST, f"{len(arts)}")
        pieces = {art: drawn.size(art) for art in arts}
        drawn.prepare(studio, pieces)
        subprocess.run([asked.binary.resolve(), "once", "--config", studio / "seamwright.yaml"], capture_output=True, check=False, timeout=900)
        spoil = None
        for art, size in pieces.items():
            found.job = art.name
            folders = sorted((studio / "outgoing").glob(f"{art.name}-??????"))
            if not folders:
                why = next((studio / "refused").glob(f"{art.name}-*/why.txt"), None)
                found.add("drawn", False, " ".join(why.read_text().split()) if why else "no trace of it")
                continue
            ours, theirs = drawn.ours(folders[0]), drawn.theirs(art, size, folder)
            compared = drawn.compare(ours, theirs)
            found.add("as another renderer draws it", compared.held, str(compared))
            if asked.keep:
                keep(asked.keep / f"{art.name}.png", ours, theirs)
            if art.name == "svg-coords-trans-02-t":
                spoil = ours, theirs
        found.job = "judge"
        if spoil:
            spoilt(*spoil, found)
        else:
            found.add("there is a picture to spoil", False)
    print(found.table())
    return found.close()


def keep(path: Path, *pictures: np.ndarray) -> None:
    """Side by side, to be looked at."""
    path.parent.mkdir(parents=True, exist_ok=True)
    drawn.Image.fromarray(np.hstack(pictures).astype(np.uint8)).save(path)


if __name__ == "__main__":
    sys.exit(main())
