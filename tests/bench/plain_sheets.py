#!/usr/bin/env python3
"""The plain yardstick: the sheets of one job as a script is first written, with Pillow and img2pdf.

Everything is whole and in memory; a PNG file a panel, then all of them put into one PDF. No marks, no notes, no record.
"""

from __future__ import annotations

import io

import img2pdf
import panels
from PIL import Image, ImageCms, ImageOps


def main() -> None:
    """Reads the command line."""
    asked = panels.asked(__doc__)
    Image.MAX_IMAGE_PIXELS = None
    width, height = (round(side * asked.ppi) for side in asked.size)
    image = Image.open(asked.artwork).convert("RGB").resize((width, height), Image.Resampling.LANCZOS)
    if asked.profile:
        srgb = ImageCms.createProfile("sRGB")
        image = ImageCms.profileToProfile(image, srgb, asked.profile, ImageCms.Intent.RELATIVE_COLORIMETRIC)
    image = ImageOps.mirror(image)
    across, down = panels.panels(asked, width, height)
    pages = []
    for top, bottom in down:
        for left, right in across:
            page = io.BytesIO()
            image.crop((left, top, right, bottom)).save(page, "PNG", dpi=(asked.ppi, asked.ppi), compress_level=1)
            pages.append(page.getvalue())
    asked.pdf.write_bytes(img2pdf.convert(pages))


if __name__ == "__main__":
    main()
