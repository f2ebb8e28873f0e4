#!/usr/bin/env python3
"""The plain yardstick: the sheets of one job as a script is first written, with Pillow and img2pdf.

Everything is whole and in memory; a PNG file a panel, then all of them put into one PDF. No marks, no notes, no record.
"""

from __future__ import annotations

import argparse
import io
from pathlib import Path

import img2pdf
from PIL import Image, ImageCms, ImageOps
from vips_sheets import cuts


def main() -> None:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("artwork", type=Path)
    parser.add_argument("pdf", type=Path)
    parser.add_argument("--size", type=float, nargs=2, required=True, help="inches")
    parser.add_argument("--ppi", type=float, required=True)
    parser.add_argument("--page", type=float, nargs=2, default=(11.0, 8.5), help="inches")
    parser.add_argument("--profile", help="of the printer, converted to from sRGB")
    asked = parser.parse_args()
    Image.MAX_IMAGE_PIXELS = None
    lap, live = 0.2, [side - 0.5 for side in asked.page]
    width, height = (round(side * asked.ppi) for side in asked.size)
    image = Image.open(asked.artwork).convert("RGB").resize((width, height), Image.Resampling.LANCZOS)
    if asked.profile:
        srgb = ImageCms.createProfile("sRGB")
        image = ImageCms.profileToProfile(image, srgb, asked.profile, ImageCms.Intent.RELATIVE_COLORIMETRIC)
    image = ImageOps.mirror(image)
    across, down = (
        cuts(length, int(room * asked.ppi), round(lap * asked.ppi))
        for length, room in zip((width, height), live, strict=True)
    )
    pages = []
    for top, bottom in down:
        for left, right in across:
            page = io.BytesIO()
            image.crop((left, top, right, bottom)).save(page, "PNG", dpi=(asked.ppi, asked.ppi), compress_level=1)
            pages.append(page.getvalue())
    asked.pdf.write_bytes(img2pdf.convert(pages))


if __name__ == "__main__":
    main()
