"""The works to judge, and their sheet counts, worked out by hand.

Counts are from paper, 1/4 in margins and the lap: n sheets across cover n times the live width less n - 1 laps.
Letter has 10.5 x 8 in live, A4 284.3 x 197.3 mm, 13 x 19 in paper 18.5 x 12.5 in.
"""

from __future__ import annotations

from pathlib import Path

from judging import art
from judging.studio import Case
from PIL import Image, ImageCms

DATA = Path(__file__).resolve().parents[1] / "data"


def profile(file: str) -> bytes:
    """The ICC profile of a picture of the check data."""
    with Image.open(DATA / "colour" / "images" / file) as image:
        return image.info["icc_profile"]


def formats() -> list[Case]:
    """Formats, fits, papers and panel counts; panels are trimmed first, the lap is 5 mm."""
    turned = Image.Exif()
    turned[0x0112] = 6
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    jpeg = {"quality": 95, "subsampling": 0}
    return [
        Case("one-sheet", art.photo(1500, 1050, 1), ("10in", "7in"), 1, "jpg", jpeg),
        Case("two-large", art.photo(2400, 1200, 2), ("24in", "12in"), 2, "tif", order={"paper": "13x19"}),
        Case("two-by-two", art.flat(2000, 1500, 3), ("20in", "15in"), 4),
        Case("six", art.photo(3600, 1875, 4), ("24in", "12.5in"), 6, "jpg", jpeg | {"icc_profile": srgb}),
        Case("portrait", art.photo(2000, 1042, 5), ("24in", "12.5in"), 8, order={"orientation": "portrait"}),
        Case("three-by-three", art.flat(1400, 1100, 6), ("28in", "22in"), 9, "tif", {"compression": "tiff_lzw"}),
        Case("twelve-cover", art.photo(3000, 2400, 7), ("40in", "22in"), 12, order={"fit": "cover"}),
        Case("thirty", art.photo(4500, 2700, 8), ("60in", "36in"), 30, "jpg", jpeg),
        Case("a4-stretch", art.photo(1700, 1300, 9), ("600mm", "300mm"), 6, order={"paper": "a4", "fit": "stretch"}),
        Case("large-contain", art.flat(1500, 1500, 10), ("36in", "24in"), 4, order={"paper": "13x19"}),
        Case("seen-through", art.photo(1800, 1350, 11), ("20in", "15in"), 4, seen_through=True),
        # A design of its own size, aside on the blank: upright, two across cover 15.8 in, and one is 10.5 in high.
        Case("placed-aside", art.photo(1400, 1050, 18), ("30in", "24in"), 2,
             order={"size": {"width": "14in", "height": "10.5in"}, "place": {"right": "1.5in", "top": "3in"}}),
        Case("clear-ground", art.flat(2000, 1500, 12, clear=True), ("20in", "15in"), 4),
        Case("upright-by-exif", art.photo(1050, 1500, 13), ("15in", "10in"), 2, "jpg", jpeg | {"exif": turned}),
        Case("grey", art.photo(2000, 1500, 14).convert("L"), ("20in", "15in"), 4),
        Case("wide-colours", art.photo(2000, 1500, 15), ("20in", "15in"), 4, "png", {"icc_profile": profile("jpg_rgb_p3.jpg")}),
        Case("enlarged", art.photo(500, 375, 16), ("20in", "15in"), 4),
        Case("reduced", art.photo(6000, 4500, 17), ("20in", "15in"), 4),
        Case("tint", art.tint(1200, 900), ("28in", "22in"), 9, tint=True),
        Case("tint-seen-through", art.tint(1200, 900), ("600mm", "300mm"), 6, seen_through=True, tint=True,
             order={"paper": "a4", "fit": "stretch"}),
    ]  # fmt: skip


def rows_first() -> list[Case]:
    """The same laws with rows joined before they are cut; the lap is 8 mm, cut at a quarter."""
    return [
        Case("rows", art.photo(2800, 2200, 21), ("28in", "22in"), 9),
        Case("rows-tint", art.tint(1200, 900), ("28in", "22in"), 9, tint=True),
        # A box of 20.24 x 15.24 in takes 2 x 2: 20.69 x 15.69 in.
        Case(
            "rows-half-moon",
            art.photo(2000, 1500, 22),
            ("20in", "15in"),
            4,
            fewer=True,
            blank={"shape": "half-moon", "bleed": "3mm"},
        ),
        Case("rows-steps", art.only(art.photo(2000, 1500, 23), STEPS), ("20in", "15in"), 3),
    ]


STEPS = [(0, 0, 1, 0.5), (0.5, 0.5, 0.5, 0.5)]
"""Of 20 x 15 in: the upper half, 20 in wide, and the right half below it, 10 in wide. A first row of Letter landscape,
two across (20.8 in with a lap of 0.2 in, 20.7 in with 8 mm), reaches at most 8 in down, so it can hold all of the upper
7.5 in; one sheet holds what is left of 10 in by 15 in less that. Three sheets, and ink of 225 in2 does not go on two."""
CORNERS = [(x, y, 5 / 24, 4 / 16) for x in (0, 19 / 24) for y in (0, 12 / 16)]
"""Of 24 x 16 in: 5 x 4 in in every corner, so that no sheet reaches two of them: four sheets, none touching another."""


STRIPES = [(2 / 24, (0.25 + y) / 12.5, 20 / 24, 0.5 / 12.5) for y in range(12)]
"""Of 24 x 12.5 in: ink of 20 x 11.5 in, which takes four sheets where the whole takes six; all else is almost bare."""


def fewest() -> list[Case]:
    """Only ink takes paper, and as little as can be; the lap is 0.2 in."""

    def inked(inches: float) -> Image.Image:
        side = (24 - inches) / 48
        return art.only(art.photo(3600, 1875, 31), [(side, 0, 1 - 2 * side, 1)])

    return [
        # Two across cover 20.8 in, two down 15.8 in (tests/data/geometry/letter_extents.csv); upright it takes 3 x 2.
        Case("wide-20.8", inked(20.8), ("24in", "12.5in"), 4),
        Case("wide-20.9", inked(20.9), ("24in", "12.5in"), 6),
        # Of 24 x 16 in, 9 or upright 8, are inked 20.5 x 15.5 in.
        Case("white-frame", art.only(art.photo(2400, 1600, 32), [(1.75 / 24, 0.25 / 16, 20.5 / 24, 15.5 / 16)]),
             ("24in", "16in"), 4),
        Case("corners", art.only(art.photo(2400, 1600, 33), CORNERS), ("24in", "16in"), 4),
        Case("corners-tint", art.only(art.tint(1200, 800), CORNERS), ("24in", "16in"), 4, tint=True),
        Case("steps", art.only(art.photo(2000, 1500, 34), STEPS), ("20in", "15in"), 3),
        Case("steps-tint", art.only(art.tint(1200, 900), STEPS), ("20in", "15in"), 3, tint=True),
        # 13 x 19 in upright, 2 x 1: 24.8 x 18.5 in; Letter takes 6, A4 as many.
        Case("any-paper", art.photo(2400, 1250, 35), ("24in", "12.5in"), 2, order={"paper": "auto"}),
        # A4 landscape, 2 x 2: 563.6 x 389.5 mm; Letter takes 3 x 2 either way, A4 upright as well.
        Case("any-small-paper", art.photo(2200, 1520, 36), ("550mm", "380mm"), 4,
             order={"paper": "auto", "printer": "judge-small"}),
    ]  # fmt: skip


def shapes() -> list[Case]:
    """Blanks that are no rectangles: corners beyond the outline take no paper. Counts are those of shape_skip.csv, or
    less than a full grid's; the lap is 0.2 in."""
    return [
        # S001, S002: 10 either way, of a grid of 12.
        Case("round-mat", art.photo(2400, 2400, 41), ("24in", "24in"), 10, fewer=True, blank={"shape": "round"}),
        Case("round-tint", art.tint(1200, 1200), ("24in", "24in"), 10, tint=True, fewer=True, blank={"shape": "round"}),
        # S049: 1 + 3 + 4 + 4 landscape.
        Case("half-moon", art.photo(2400, 1600, 42), ("36in", "24in"), 12, fewer=True, blank={"shape": "half-moon"}),
        # As S019, 3 + 3 + 1, on 24.3 x 16.3 in: two rows reach 15.8 in down, so that a third begins 0.7 in from the
        # oval's end, lap and all, where it is 24.3 sqrt(1 - (7.45 / 8.15)^2) = 9.9 in across.
        Case("oval-bleed", art.photo(2430, 1630, 43), ("24in", "16in"), 7, fewer=True,
             blank={"shape": "oval", "bleed": "0.15in"}),
        # S056: 8 upright; 29.5 x 17.5 in needs no more.
        Case("rounded-inset", art.photo(2950, 1750, 44), ("30in", "18in"), 8, fewer=True,
             blank={"shape": "rounded", "radius": "3in", "inset": "0.25in"}),
        # S007: 6; 19.5 in across needs no more.
        Case("round-seen-through", art.photo(1950, 1950, 45), ("20in", "20in"), 6, fewer=True, seen_through=True,
             blank={"shape": "round", "inset": "0.25in"}),
    ]  # fmt: skip


def hidden() -> list[Case]:
    """Seams where they do not show; the lap is 0.2 in, and 20 x 15 in on Letter, 2 x 2, leaves 0.8 in both ways."""
    # Words leave 0.6 in bare across the middle, both ways, where an upright and a level seam can lie.
    quarters = [(x, y, 9.7 / 20, 7.2 / 15) for x in (0, 10.3 / 20) for y in (0, 7.8 / 15)]
    # The even grid's lap is 9.9 to 10.1 in across and 7.4 to 7.6 in down; either can go beside these.
    zones = [
        {"x": "9.8in", "y": "2in", "width": "0.4in", "height": "3in"},
        {"x": "3in", "y": "7.3in", "width": "3in", "height": "0.35in"},
    ]
    return [
        Case("keep-clear", art.photo(2000, 1500, 51), ("20in", "15in"), 4, order={"keep_clear": zones}),
        Case("chart", art.words(2000, 1500, quarters, 52), ("20in", "15in"), 4, bare_seams=True),
        Case("almost-bare", art.only(art.photo(2400, 1250, 53), STRIPES, 252), ("24in", "12.5in"), 4, says="bare"),
    ]  # fmt: skip


def cleaned() -> list[Case]:
    """What is almost bare made bare; the lap is 0.2 in."""
    return [Case("cleaned", art.only(art.photo(2400, 1250, 53), STRIPES, 252), ("24in", "12.5in"), 4)]
