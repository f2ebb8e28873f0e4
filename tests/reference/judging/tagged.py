"""Pictures whose colours are left alone: the sheets hold what the file says, or the file is refused."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from . import art, littlecms, pictures, rgb
from .delta import ciede2000
from .findings import Findings
from .workbench import Piece, Sheets, Workbench, sheets

MEAN, MOST = 0.1, 1.0
"""Differences allowed, CIEDE2000."""
STEPS = 4
"""Of 255, by which a value may differ between two decoders of one JPEG: each rounds thrice, and blue multiplies by 1.772.

How colour stored coarser than light is enlarged again the standard (ITU-T T.81) leaves open: there only steps are judged.
"""
MISFIT = ("profile inside the file is for", "profile of its own colour space")
UNREADABLE = ("profile inside the file is unreadable", "working profile embedded, or convert it to sRGB")
NOT_READ = ("uses something that is not read here", "Save it as PNG, or as TIFF")
REFUSED = {
    # Ink without a profile has no colour.
    "jpg_cmyk_app14_inv_noicc.jpg": ("CMYK without a profile", "Save it with its CMYK profile embedded"),
    # A profile is there and says nothing that could be relied on.
    "jpg_rgb_multichunk_missing.jpg": UNREADABLE,
    "png_rgb8_iccp_badzlib.png": UNREADABLE,
    "png_rgb8_iccp_garbage.png": UNREADABLE,
    # The profile is of other pixels.
    "png_rgb8_iccp_cmyk_wrong.png": MISFIT,
    # Its one colour is the one the file calls transparent: there is nothing to print.
    "png_rgb8_trns.png": ("prints nothing", "Save the picture with its colours"),
    # Kinds of TIFF that are said not to be read.
    "tif_cielab8.tif": NOT_READ,
    "tif_jpeg_ycbcr.tif": NOT_READ,
    "tif_palette8.tif": NOT_READ,
}
"""Files of the collection that must not be printed: words of the trouble, and of the cure."""
SAME_AS = {
    # Pillow reads neither of these.
    "tif_rgb32f.tif": "tif_rgb8.tif",
    "tif_cmyka8.tif": "tif_cmyk8.tif",
    # It reads low bytes for high ones in some rows: 201 where 51401 is stored.
    "tif_rgb16_planar.tif": "tif_rgb16.tif",
}
"""Files that were made with the pixels of another one."""
P3 = rgb.space(rgb.P3, rgb.srgb_curve)
OPRGB_PNG = rgb.space(rgb.OPRGB, rgb.power(1 / 0.45454))
OPRGB_CAMERA = rgb.space(rgb.OPRGB, rgb.power(563 / 256))
LINEAR = rgb.space(rgb.SRGB, rgb.power(1.0))
SRGB = rgb.space(rgb.SRGB, rgb.srgb_curve)
GRAY = rgb.gray(rgb.srgb_curve)
DESCRIBED = {
    "jpg_exif_oprgb_noicc.jpg": OPRGB_CAMERA,
    "png_rgb8_cicp_p3.png": P3,
    # cICP comes before iCCP: PNG, third edition, clause 11.3.2.
    "png_rgb8_cicp_p3_iccp_srgb.png": P3,
    "png_rgb8_gama1.png": LINEAR,
    "png_rgb8_gama_chrm_oprgb.png": OPRGB_PNG,
}
"""Files that say what their colours are without a profile, or against it."""

Told = bytes | rgb.Space
"""What says the meaning of values: a profile, or a published formula."""


def look(values: np.ndarray, told: Told) -> np.ndarray:
    """Lab of values: by our own double precision where that will do, else by LittleCMS."""
    found = told if isinstance(told, rgb.Space) else rgb.of_profile(told)
    return found.lab(values) if found else littlecms.convert(values, told, littlecms.LAB)


@dataclass(frozen=True)
class Case:
    """A file, and what it shows."""

    piece: Piece
    values: np.ndarray
    told: Told
    loose: str = ""
    """What decoders may do in their own way: ``rounding`` (JPEG), and ``enlarging`` of coarser colour too."""


def blocks(values: np.ndarray) -> np.ndarray:
    """Means of 8 x 8 pixels."""
    height, width, channels = values.shape
    return values.reshape(height // 8, 8, width // 8, 8, channels).mean((1, 3))


def difference(case: Case, seen: np.ndarray, told: Told) -> tuple[bool, str]:
    """Whether what the sheets show is what the file shows as far as 8 bits hold it, with the figures."""
    if seen.shape[:2] != case.values.shape[:2]:
        return False, f"{seen.shape[:2]} pixels of {case.values.shape[:2]}"
    if cost(case) > MOST:
        # Its own 8 bits do not hold it, so the sheets must carry it otherwise, as near as 8 bits of any space made for eyes.
        apart = ciede2000(look(case.values, case.told), look(seen, told))
        return bool(apart.mean() <= 0.3 and apart.max() <= 1.5), f"mean {apart.mean():.3f}, most {apart.max():.3f}"
    held, said, wanted = True, "", np.rint(case.values * 255) / 255
    open_to_decoders = case.loose == "enlarging" and seen.shape == wanted.shape
    if case.loose and seen.shape == wanted.shape:
        off = 255 * (seen - wanted)
        aside, furthest = np.abs(off.mean((0, 1))).max(), np.abs(off).max()
        held = bool(aside <= 0.5 and np.rint(furthest) <= STEPS)
        said = f"; values {aside:.2f} steps aside, single ones up to {furthest:.0f}"
    if case.loose:
        wanted, seen = blocks(wanted), blocks(seen)
    apart = ciede2000(look(wanted, case.told), look(seen, told))
    if not open_to_decoders:
        held = bool(held and apart.mean() <= MEAN and apart.max() <= MOST)
    return held, f"mean {apart.mean():.3f}, most {apart.max():.3f}{said}"


def cost(case: Case) -> float:
    """Of a file of more than 8 bits, what 8 bits of its own space cost at most."""
    rounded = np.rint(case.values * 255) / 255
    if np.abs(rounded - case.values).max() <= 0.0001:
        return 0.0
    return float(ciede2000(look(case.values, case.told), look(rounded, case.told)).max())


def collection(folder: Path) -> tuple[list[Case], list[Piece]]:
    """The files of the collection that are to be printed, and those to be refused."""
    cases, refused = [], []
    for row in csv.DictReader((folder / "expected.csv").open(encoding="utf-8")):
        name = row["file"]
        path = folder / name
        if name in REFUSED:
            size = (4, 2) if path.suffix == ".png" else (64, 64)
            refused.append(Piece(path.stem, path.suffix[1:], path.read_bytes(), size))
            continue
        values, profile = pictures.read(folder / SAME_AS.get(name, name))
        told = DESCRIBED.get(name) or profile or (GRAY if values.shape[2] == 1 else SRGB)
        piece = Piece(path.stem, path.suffix[1:], path.read_bytes(), values.shape[1::-1])
        cases.append(Case(piece, values, told))
    return cases, refused


def made(folder: Path, printer: bytes) -> list[Case]:
    """Pictures of many colours in every format, for a collection of single colours shows no wrong curve."""
    chance = np.random.default_rng(5)
    noise = chance.integers(0, 256, (48, 64, 4), dtype=np.uint8)
    deep = chance.integers(0, 65536, (48, 64, 3), dtype=np.uint16)
    dark = (65535 * (deep / 65535) ** 3).astype(np.uint16)
    photo = np.asarray(art.photo(320, 240, seed=6))
    rgb8, one = noise[..., :3], noise[..., :1]
    p3, gray, cmyk = (
        pictures.read(folder / name)[1] for name in ("png_rgb8_iccp.png", "png_gray8_iccp_gray.png", "tif_cmyk8.tif")
    )
    gamma = lambda value: pictures.chunk(b"gAMA", round(value * 100_000).to_bytes(4))  # noqa: E731
    points = (31270, 32900, 64000, 33000, 21000, 71000, 15000, 6000)
    chromaticities = pictures.chunk(b"cHRM", b"".join(point.to_bytes(4) for point in points))
    code = lambda primaries, transfer: pictures.chunk(b"cICP", bytes((primaries, transfer, 0, 1)))  # noqa: E731
    srgb = pictures.chunk(b"sRGB", b"\0")
    whole = [
        ("png-p3", rgb8, p3, pictures.iccp(p3)),
        ("png-p3-16", deep, p3, pictures.iccp(p3)),
        ("png-printer-16", deep, printer, pictures.iccp(printer)),
        ("png-none", rgb8, SRGB, b""),
        ("png-none-16", deep, SRGB, b""),
        ("png-srgb", rgb8, SRGB, srgb),
        ("png-linear", rgb8, LINEAR, gamma(1.0)),
        ("png-linear-16", dark, LINEAR, gamma(1.0)),
        ("png-gamma-2.2", rgb8, SRGB, gamma(0.45455)),
        ("png-gamma-1.8", rgb8, rgb.space(rgb.SRGB, rgb.power(1 / 0.55556)), gamma(0.55556)),
        ("png-oprgb", rgb8, OPRGB_PNG, gamma(0.45454) + chromaticities),
        ("png-cicp-p3", rgb8, P3, code(12, 13)),
        ("png-cicp-srgb", rgb8, SRGB, code(1, 13)),
        ("png-cicp-bt2020", rgb8, rgb.space(rgb.BT2020, rgb.bt709_curve), code(9, 14)),
        ("png-cicp-bt709", rgb8, rgb.space(rgb.SRGB, rgb.bt709_curve), code(1, 1)),
        ("png-gray", one, gray, pictures.iccp(gray)),
        ("png-gray-none", one, GRAY, b""),
        ("png-gray-linear", one, rgb.gray(rgb.power(1.0)), gamma(1.0)),
    ]
    cases = [Case(Piece(name, "png", pictures.png(pixels, chunks), pixels.shape[1::-1]),
                  pixels / np.iinfo(pixels.dtype).max, told) for name, pixels, told, chunks in whole]  # fmt: skip
    camera = Image.Exif()
    camera[0x8769] = {0xA001: 0xFFFF, 0xA005: {1: "R03"}}
    sharp = {"quality": 100, "subsampling": 0}
    by_pillow: list[tuple[str, str, Told, bytes]] = [
        ("png-alpha", "png", p3, pictures.png(noise, pictures.iccp(p3))),
        ("jpg-p3", "jpg", p3, pictures.saved(photo, "JPEG", icc_profile=p3, **sharp)),
        ("jpg-p3-coarse", "jpg", p3, pictures.saved(photo, "JPEG", icc_profile=p3, quality=85)),
        ("jpg-pieces", "jpg", printer, pictures.saved(photo, "JPEG", icc_profile=printer, progressive=True, **sharp)),
        ("jpg-oprgb", "jpg", OPRGB_CAMERA, pictures.saved(photo, "JPEG", exif=camera, **sharp)),
        ("jpg-none", "jpg", SRGB, pictures.saved(photo, "JPEG", **sharp)),
        ("jpg-gray", "jpg", gray, pictures.saved(photo[..., :1], "JPEG", icc_profile=gray, **sharp)),
        ("jpg-cmyk", "jpg", cmyk, pictures.saved(in_ink(photo), "JPEG", icc_profile=cmyk, **sharp)),
        ("tif-p3", "tif", p3, pictures.saved(rgb8, "TIFF", icc_profile=p3)),
        ("tif-p3-lzw", "tif", p3, pictures.saved(rgb8, "TIFF", icc_profile=p3, compression="tiff_lzw")),
        ("tif-pieces", "tif", printer, pictures.saved(rgb8, "TIFF", icc_profile=printer, compression="tiff_adobe_deflate")),
        ("tif-alpha", "tif", p3, pictures.saved(noise, "TIFF", alpha=True, icc_profile=p3)),
        ("tif-none", "tif", SRGB, pictures.saved(rgb8, "TIFF")),
        ("tif-gray", "tif", gray, pictures.saved(one, "TIFF", icc_profile=gray)),
        ("tif-cmyk", "tif", cmyk, pictures.saved(noise, "TIFF", icc_profile=cmyk)),
        ("webp-p3", "webp", p3, pictures.saved(rgb8, "WEBP", icc_profile=p3, lossless=True)),
        ("webp-p3-coarse", "webp", p3, pictures.saved(photo, "WEBP", icc_profile=p3, quality=90)),
        ("webp-alpha", "webp", p3, pictures.saved(noise, "WEBP", alpha=True, icc_profile=p3, lossless=True, exact=True)),
        ("webp-none", "webp", SRGB, pictures.saved(rgb8, "WEBP", lossless=True)),
    ]  # fmt: skip
    for name, ending, told, content in by_pillow:
        values, _ = pictures.read(io.BytesIO(content))
        loose = "" if ending != "jpg" else "enlarging" if name.endswith("coarse") else "rounding"
        cases.append(Case(Piece(name, ending, content, values.shape[1::-1]), values, told, loose))
    return cases


def in_ink(photo: np.ndarray) -> np.ndarray:
    """A photograph in ink, half of its gray taken over by black; not as anyone would print it."""
    ink = 255 - photo.astype(int)
    black = ink.min(-1, keepdims=True) // 2
    return np.concatenate([ink - black, black], -1).astype(np.uint8)


def judge(root: Path, binary: Path, cases: list[Case], refused: list[Piece], found: Findings) -> dict[str, Sheets]:
    """Lets the program work them off; gives the sheets of each."""
    bench = Workbench(root)
    bench.prepare([case.piece for case in cases] + refused)
    bench.work(binary)
    held = {}
    for case in cases:
        found.job = case.piece.name
        folder = bench.finished(case.piece)
        if folder is None:
            found.add("shows the file's colours", False, bench.why(case.piece))
            continue
        sheet = held[case.piece.name] = sheets(folder)
        found.add("shows the file's colours", *difference(case, sheet.stored / 255, sheet.profile))
    for piece in refused:
        found.job, why = piece.name, bench.why(piece)
        trouble, cure = REFUSED[piece.file]
        found.add("is refused with its cure", bench.finished(piece) is None and trouble in why and cure in why, why)
    return held
