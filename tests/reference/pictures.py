#!/usr/bin/env python3
"""Makes the README's pictures anew: a proof, the first page of notes and the morning's page, of the demo, small.

Looked at by people before they are checked in; no test compares them, for fonts and browsers differ.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parent.parent.parent
PICTURES = ROOT / "config" / "pictures"
MOST = 400_000
"""Bytes of all pictures together."""


def keep(picture: Image.Image, name: str, width: int, colours: int) -> int:
    """Scales a picture down and saves it with so many colours; its bytes."""
    picture = picture.convert("RGB")
    height = round(picture.height * width / picture.width)
    small = picture.resize((width, height), Image.Resampling.LANCZOS)
    to = PICTURES / name
    small.quantize(colours, Image.Quantize.MEDIANCUT, dither=Image.Dither.FLOYDSTEINBERG).save(to, optimize=True)
    return to.stat().st_size


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    parser.add_argument("--demo", type=Path, help="a demo that is worked off already")
    asked = parser.parse_args()
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="seamwright-pictures-") as folder:
        demo, work = asked.demo or Path(folder) / "demo", Path(folder)
        if not asked.demo:
            subprocess.run([asked.binary.resolve(), "demo", demo], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        job = next((demo / "outgoing").glob("star-chart-*"))
        subprocess.run(["pdftoppm", "-r", "110", "-f", "1", "-l", "1", "-png", job / "notes.pdf", work / "notes"], check=True)
        browser = shutil.which("chromium") or sys.exit("There is no chromium to look at the morning's page with.")
        page = (demo / "outgoing" / "index.html").resolve().as_uri()
        shot = ["--headless", "--no-sandbox", "--hide-scrollbars", "--window-size=900,1450", f"--screenshot={work / 'report.png'}", page]
        subprocess.run([browser, *shot], check=True, stderr=subprocess.DEVNULL)
        bytes_of = {
            "proof.png": keep(Image.open(job / "proof.png"), "proof.png", 800, 224),
            "notes.png": keep(Image.open(next(work.glob("notes*.png"))), "notes.png", 620, 32),
            "report.png": keep(Image.open(work / "report.png"), "report.png", 720, 64),
        }
    print(", ".join(f"{name} {size // 1000} kB" for name, size in bytes_of.items()))
    return 0 if sum(bytes_of.values()) <= MOST else 1


if __name__ == "__main__":
    sys.exit(main())
