"""Hostile JPEG, TIFF and WebP files, and files that are no pictures at all."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from judging.pictures import saved
from PIL import Image

from .hostile_case import DONE, EITHER, REFUSED, Case, good_picture, paint, picture_case

IMAGES = Path(__file__).resolve().parents[2] / "data" / "colour" / "images"
NEAR = 4
"""Of 255: by so much decoders of JPEG differ."""
LARGE = 900 << 20
"""Bytes of a file that is mostly a hole: within the limit, and more than a job's memory."""
SCANS = 4000


def jpeg(key: str, width: int = 24, height: int = 24, channels: int = 3, **how: object) -> bytes:
    """A picture that nothing is wrong with."""
    return saved(paint(key, width, height, channels), "JPEG", **({"quality": 95, "subsampling": 0} | how))


def patched(data: bytes, marker: int, offset: int, new: bytes) -> bytes:
    """With other bytes at a place behind the first of these markers."""
    at = data.index(bytes([0xFF, marker])) + offset
    return data[:at] + new + data[at + len(new) :]


def segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body


def with_segment(data: bytes, *segments: bytes) -> bytes:
    """With these right behind the start."""
    return data[:2] + b"".join(segments) + data[2:]


def many_scans(side: int) -> bytes:
    """A progressive picture in which one scan stands thousands of times."""
    out = io.BytesIO()
    Image.new("L", (side, side), 90).save(out, "JPEG", progressive=True)
    whole = out.getvalue()
    starts = [at for at in range(len(whole)) if whole[at : at + 2] == b"\xff\xda"]
    begin, end = starts[1], starts[2]
    # A scan's tables stand before it.
    body = whole[begin:end]
    tables = body.find(b"\xff\xc4")
    return whole[:end] + (body if tables < 0 else body[:tables]) * SCANS + whole[end:]


def camera(code: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = code
    return exif.tobytes()


def jpegs() -> Iterator[Case]:
    """Cut, lying, rare, and too much."""
    whole = jpeg("jpeg")
    scan, end = whole.index(b"\xff\xda"), b"\xff\xd9"
    for at in (3, 20, 160, scan, scan + 12, (scan + len(whole)) // 2, len(whole) - 2, len(whole) - 1):
        yield picture_case(f"jpeg-cut-at-{at}", REFUSED, whole[:at])
    for part in (30, 60, 90):
        yield picture_case(f"jpeg-cut-at-{part}-percent-and-ended", REFUSED, whole[: scan + (len(whole) - scan) * part // 100] + end)
    slow = jpeg("progressive", progressive=True)
    yield picture_case("jpeg-progressive", DONE, slow, off=NEAR)
    yield picture_case("jpeg-progressive-cut", REFUSED, slow[: len(slow) // 2])
    yield picture_case("jpeg-progressive-cut-and-ended", EITHER, slow[: len(slow) // 2] + end)
    for width, height in ((65535, 65535), (0, 24), (24, 0), (0, 0)):
        yield picture_case(f"jpeg-head-{width}x{height}", REFUSED, patched(whole, 0xC0, 5, struct.pack(">HH", height, width)))
    yield picture_case("jpeg-progressive-too-large", REFUSED, patched(slow, 0xC2, 5, struct.pack(">HH", 7000, 7000)), says="441.0 MB")
    yield picture_case("jpeg-of-12-bits", REFUSED, patched(whole, 0xC0, 4, b"\x0c"), says="12 bits")
    yield picture_case("jpeg-of-no-bits", REFUSED, patched(whole, 0xC0, 4, b"\0"))
    for kind, marker in {"lossless": 0xC3, "arithmetic": 0xC9, "hierarchical": 0xC5}.items():
        yield picture_case(f"jpeg-{kind}", REFUSED, patched(whole, 0xC0, 1, bytes([marker])))
    yield picture_case("jpeg-of-two-colours", REFUSED, patched(whole, 0xC0, 9, b"\2"))
    yield picture_case("jpeg-of-255-colours", REFUSED, patched(whole, 0xC0, 9, b"\xff"))
    yield picture_case("jpeg-sampled-by-nought", REFUSED, patched(whole, 0xC0, 11, b"\0"))
    yield picture_case("jpeg-sampled-by-15", REFUSED, patched(whole, 0xC0, 11, b"\xff"))
    yield picture_case("jpeg-without-tables", REFUSED, whole[: whole.index(b"\xff\xc4")] + whole[scan:])
    yield picture_case("jpeg-tables-of-nought", EITHER, patched(whole, 0xDB, 5, bytes(64)))
    yield picture_case("jpeg-segment-of-no-length", REFUSED, with_segment(whole, b"\xff\xe3\0\0"))
    yield picture_case("jpeg-segment-beyond-its-end", REFUSED, with_segment(whole[:400], b"\xff\xe3\xff\xff"))
    yield picture_case("jpeg-many-remarks", EITHER, with_segment(whole, segment(0xFE, b"") * 200_000))
    yield picture_case("jpeg-restarts-that-never-come", EITHER, with_segment(whole, segment(0xDD, b"\0\1")))
    yield picture_case("jpeg-filled-between-marks", DONE, whole[:scan] + b"\xff" * 50_000 + whole[scan:], off=NEAR)
    yield picture_case("jpeg-with-words-behind", DONE, jpeg("behind") + b"and then some words" * 999, off=NEAR)
    yield picture_case("jpeg-profile-of-missing-pieces", REFUSED, with_segment(whole, segment(0xE2, b"ICC_PROFILE\0\1\3abc")), says="profile")
    yield picture_case("jpeg-profile-of-255-pieces", REFUSED, with_segment(
        whole, *(segment(0xE2, b"ICC_PROFILE\0" + bytes([number, 255]) + bytes(65_000)) for number in range(1, 256)),
    ), says="profile")  # fmt: skip
    for code in (1, 3, 6, 8, 77):
        yield picture_case(f"jpeg-turned-{code}", DONE, jpeg(f"turned {code}", 36, 24, exif=camera(code)), off=NEAR)
    circle = b"Exif\0\0MM\0*\0\0\0\x08\0\1\x87\x69\0\4\0\0\0\1\0\0\0\x08\0\0\0\x08"
    yield picture_case("jpeg-camera-facts-in-a-circle", DONE, with_segment(whole, segment(0xE1, circle)), off=NEAR)
    yield picture_case("jpeg-camera-facts-astray", DONE, with_segment(jpeg("astray"), segment(0xE1, b"Exif\0\0II*\0\xff\xff\xff\xff")), off=NEAR)
    yield picture_case("jpeg-ink-without-profile", REFUSED, saved(paint("ink", channels=4), "JPEG"), says="CMYK")
    yield picture_case("jpeg-ink", DONE, (IMAGES / "jpg_cmyk_app14_inv.jpg").read_bytes(), off=NEAR)
    yield picture_case("jpeg-called-png", DONE, jpeg("called", channels=1), off=NEAR)
    yield picture_case("jpeg-scanned-4000-times", EITHER, many_scans(6000))
    yield hole("jpeg-with-a-hole-behind", jpeg("hole"), LARGE, " MB")
    yield hole("jpeg-with-a-hole-inside", whole[:scan], LARGE, "", end)
    yield hole("jpeg-with-an-endless-hole", jpeg("endless"), 1 << 40, "bytes of file")


def hole(key: str, start: bytes, size: int, says: str, end: bytes = b"") -> Case:
    """A file that begins and ends like a picture, with nothing in between, of more bytes than anybody should read into memory."""

    def make(folder: Path, _: Path) -> None:
        with (folder / "chart.png").open("wb") as file:
            file.write(start)
            file.seek(size - len(end))
            file.write(end)
            file.truncate(size)

    case = picture_case(key, REFUSED, b"", says=says)
    return Case(key, REFUSED, {b"chart.yaml": case.files[b"chart.yaml"]}, says, make=make)


def ifd(entries: list[tuple[int, int, int, int]], data: bytes = b"", next_: int = 0) -> bytes:
    """A TIFF of one directory: tag, type, count and value of each entry; the data stand behind it, at ``HERE``."""
    here = 8 + 2 + 12 * len(entries) + 4
    listed = b"".join(struct.pack("<HHII", tag, kind, count, here if value < 0 else value) for tag, kind, count, value in entries)
    return b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries)) + listed + struct.pack("<I", next_) + data


HERE = -1


def tiff_entries(width: int = 24, height: int = 24, length: int = 24 * 24, **other: int) -> list[tuple[int, int, int, int]]:
    """Of a gray picture in one strip; others by their names replace or add to them."""
    names = {
        "width": (256, 4, width), "height": (257, 4, height), "bits": (258, 3, 8), "packing": (259, 3, 1), "kind": (262, 3, 1),
        "strips": (273, 4, HERE), "turned": (274, 3, 1), "samples": (277, 3, 1), "rows": (278, 4, height), "bytes": (279, 4, length),
        "planes": (284, 3, 1), "predictor": (317, 3, 1), "format": (339, 3, 1), "filled": (266, 3, 1),
    }  # fmt: skip
    return sorted((tag, kind, 1, other.get(name, value)) for name, (tag, kind, value) in names.items())


def tiffs() -> Iterator[Case]:
    """Cut, lying, rare, and of several pages."""
    gray = paint("tiff", channels=1).tobytes()
    whole = ifd(tiff_entries(), gray)
    yield picture_case("tiff", DONE, whole, off=0)
    for at in (4, 8, 9, 60, len(whole) - 300, len(whole) - 1):
        yield picture_case(f"tiff-cut-at-{at}", REFUSED, whole[:at])
    lies = {
        "no-width": {"width": 0}, "no-height": {"height": 0}, "endless-width": {"width": 0xFFFFFFFF},
        "endless-both-ways": {"width": 0xFFFFFFFF, "height": 0xFFFFFFFF}, "65535-both-ways": {"width": 65535, "height": 65535},
        "no-bits": {"bits": 0}, "64-bits": {"bits": 64}, "7-bits": {"bits": 7}, "65535-samples": {"samples": 65535}, "no-samples": {"samples": 0},
        "strips-astray": {"strips": 0x7FFFFFFF}, "packed-as-fax": {"packing": 4}, "packed-as-jpeg": {"packing": 7},
        "packed-by-nobody": {"packing": 999}, "palette": {"kind": 3}, "lab": {"kind": 8}, "kind-999": {"kind": 999},
        "colours-in-one-sample": {"kind": 2}, "floats-without-profile": {"format": 3, "bits": 32}, "bits-backwards": {"filled": 2},
        "signed": {"format": 2}, "packed-but-is-not": {"packing": 5}, "deflated-but-is-not": {"packing": 8},
    }  # fmt: skip
    for what, wrong in lies.items():
        yield picture_case(f"tiff-{what}", REFUSED, ifd(tiff_entries(**wrong), gray))
    doubtful = {
        "no-rows-in-a-strip": {"rows": 0}, "endless-strip": {"bytes": 0xFFFFFFFF}, "empty-strip": {"bytes": 0}, "predictor-9": {"predictor": 9},
    }  # fmt: skip
    for what, wrong in doubtful.items():
        yield picture_case(f"tiff-{what}", EITHER, ifd(tiff_entries(**wrong), gray))
    yield picture_case("tiff-directory-astray", REFUSED, b"II*\0\xff\xff\xff\x7f")
    yield picture_case("tiff-directory-in-its-head", REFUSED, b"II*\0\0\0\0\0" + whole[8:])
    yield picture_case("tiff-directories-in-a-circle", EITHER, ifd(tiff_entries(), gray, next_=8))
    yield picture_case("tiff-65535-entries", REFUSED, b"II*\0\x08\0\0\0\xff\xff" + bytes(500))
    yield picture_case("tiff-list-without-end", REFUSED, ifd([*tiff_entries(), (324, 4, 0xFFFFFFFF, HERE)], gray))
    yield picture_case("tiff-huge", REFUSED, b"II+\0\x08\0\0\0" + b"\xff" * 8 + bytes(99))
    yield picture_case("tiff-turned", DONE, ifd(tiff_entries(36, 24, 36 * 24, turned=6), paint("t", 36, 24, 1).tobytes()), off=0)
    for packing in ("tiff_lzw", "tiff_deflate", "packbits", "raw"):
        made = saved(paint(packing), "TIFF", compression=None if packing == "raw" else packing)
        yield picture_case(f"tiff-of-{packing}", DONE, made, off=0)
        if packing != "raw":
            yield picture_case(f"tiff-of-{packing}-hurt", EITHER, made[:100] + bytes(60) + made[160:])
    pages = [Image.fromarray(paint(f"page {number}")) for number in range(3)]
    out = io.BytesIO()
    pages[0].save(out, "TIFF", save_all=True, append_images=pages[1:])
    yield picture_case("tiff-of-three-pages", DONE, out.getvalue(), off=0)
    yield picture_case("tiff-ink-without-profile", REFUSED, saved(paint("t ink", channels=4), "TIFF"), says="CMYK")
    bomb = io.BytesIO()
    Image.new("L", (7000, 7000), 60).save(bomb, "TIFF", compression="tiff_deflate")
    yield picture_case("tiff-bomb", DONE, bomb.getvalue())
    yield picture_case("tiff-bomb-in-one-strip", DONE, one_strip(7000))
    yield picture_case("tiff-bomb-of-colours-in-one-strip", EITHER, one_strip(6500, 3))


def one_strip(side: int, samples: int = 1) -> bytes:
    """A large picture in one strip of a few bytes."""
    body = zlib.compress(bytes(side * side * samples), 9)
    return ifd(tiff_entries(side, side, len(body), packing=8, kind=1 if samples == 1 else 2, samples=samples), body)


def webp(key: str, **how: object) -> bytes:
    return saved(paint(key), "WEBP", **({"lossless": True} | how))


def riff(*chunks: bytes, size: int | None = None) -> bytes:
    """A WebP of these chunks."""
    body = b"WEBP" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body) if size is None else size) + body


def piece(name: bytes, body: bytes, size: int | None = None) -> bytes:
    return name + struct.pack("<I", len(body) if size is None else size) + body + b"\0" * (len(body) % 2)


def canvas(flags: int, width: int, height: int) -> bytes:
    """The chunk that says what else there is."""
    return piece(b"VP8X", bytes([flags, 0, 0, 0]) + struct.pack("<I", width - 1)[:3] + struct.pack("<I", height - 1)[:3])


def webps() -> Iterator[Case]:
    """Cut, lying, rare, and animated."""
    whole = webp("webp")
    body = whole[20:]
    yield picture_case("webp", DONE, whole, off=0)
    yield picture_case("webp-lossy", EITHER, webp("lossy", lossless=False))
    for at in (12, 16, 24, len(whole) // 2, len(whole) - 2):
        yield picture_case(f"webp-cut-at-{at}", REFUSED, whole[:at])
    for at in (16, 24, len(whole) // 2):
        yield picture_case(f"webp-cut-at-{at}-and-said", REFUSED, whole[:4] + struct.pack("<I", at - 8) + whole[8:at])
    yield picture_case("webp-of-no-length", EITHER, whole[:4] + bytes(4) + whole[8:])
    yield picture_case("webp-longer-than-it-is", REFUSED, whole[:4] + b"\xff\xff\xff\xff" + whole[8:])
    yield picture_case("webp-chunk-longer-than-it-is", EITHER, riff(piece(b"VP8L", body, 0xFFFFFFF0)))
    yield picture_case("webp-of-nothing", REFUSED, riff())
    yield picture_case("webp-of-an-unknown-kind", REFUSED, riff(piece(b"VP8?", body)))
    yield picture_case("webp-of-noise", REFUSED, riff(piece(b"VP8L", b"\x2f" + paint("w").tobytes()[:200])))
    yield picture_case("webp-lossy-of-noise", REFUSED, riff(piece(b"VP8 ", paint("w2").tobytes()[:200])))
    yield picture_case("webp-without-its-mark", REFUSED, riff(piece(b"VP8L", b"\0" + body[1:])))
    yield picture_case("webp-16384-both-ways", REFUSED, riff(piece(b"VP8L", b"\x2f\xff\xff\xff\x0f" + bytes(40))))
    pixels = piece(b"VP8L", body)
    yield picture_case("webp-canvas-of-another-size", EITHER, riff(canvas(0, 99, 99), pixels))
    yield picture_case("webp-canvas-too-large", REFUSED, riff(canvas(0, 1 << 24, 1 << 24), pixels))
    yield picture_case("webp-canvas-and-no-pixels", REFUSED, riff(canvas(0, 24, 24)))
    yield picture_case("webp-profile-promised", EITHER, riff(canvas(0x20, 24, 24), pixels))
    yield picture_case("webp-profile-of-noise", REFUSED, riff(canvas(0x20, 24, 24), piece(b"ICCP", b"x" * 99), pixels), says="profile")
    yield picture_case("webp-clear-promised", EITHER, riff(canvas(0x10, 24, 24), pixels))
    yield picture_case("webp-animation-promised", REFUSED, riff(canvas(0x02, 24, 24), pixels))
    frames = [Image.fromarray(paint(f"frame {number}")) for number in range(3)]
    out = io.BytesIO()
    frames[0].save(out, "WEBP", save_all=True, append_images=frames[1:], lossless=True, duration=100)
    yield picture_case("webp-animated", DONE, out.getvalue(), off=0)
    large = io.BytesIO()
    Image.new("RGB", (7000, 7000), (60, 90, 120)).save(large, "WEBP", lossless=True, quality=0, method=0)
    yield picture_case("webp-too-large", REFUSED, large.getvalue(), says="539.0 MB")


def impostors() -> Iterator[Case]:
    """What is not a picture, whatever its name says."""
    gif = io.BytesIO()
    Image.fromarray(paint("gif")).quantize(16).save(gif, "GIF")
    bmp = io.BytesIO()
    Image.fromarray(paint("bmp")).save(bmp, "BMP")
    link = b'<svg xmlns="http://www.w3.org/2000/svg"><image href="../outside/secret.png"/></svg>'
    pretenders = {
        "text": b"just some words\n", "empty": b"", "one-byte": b"\x89", "a-page": b"<!doctype html><script>alert(1)</script>",
        "a-drawing": link, "gif": gif.getvalue(), "bmp": bmp.getvalue(), "pdf": b"%PDF-1.7\n1 0 obj\n", "archive": b"PK\3\4" + bytes(99),
        "a-program": b"\x7fELF" + bytes(999), "a-script": b"#!/bin/sh\ntouch outside\n", "noughts": bytes(1 << 20), "ones": b"\xff" * 4096,
        "two-marks": b"\xff\xd8", "three-marks": b"\xff\xd8\xff", "mark-of-tiff": b"II*\0", "mark-of-webp": b"RIFF\0\0\0\0WEBP",
        "mark-of-png": b"\x89PNG\r\n\x1a\n", "an-order": b"blank: table-mat-36x24\n", "sent-as-text": good_picture("as text").replace(b"\r\n", b"\n"),
    }  # fmt: skip
    for what, content in pretenders.items():
        yield picture_case(f"no-picture-but-{what}", REFUSED, content)
    hurts = np.random.default_rng(11)
    for name in ("png_rgb8_iccp.png", "jpg_rgb_p3.jpg", "tif_rgb8_lzw_pred.tif", "webp_lossless_p3.webp"):
        whole = (IMAGES / name).read_bytes()
        for number in range(4):
            broken = bytearray(whole)
            for at in hurts.integers(12, len(whole), 8):
                broken[at] ^= 1 << int(hurts.integers(8))
            yield picture_case(f"hurt-{name.partition('.')[0].replace('_', '-')}-{number}", EITHER, bytes(broken))


def others() -> list[Case]:
    """All of them."""
    return [*jpegs(), *tiffs(), *webps(), *impostors()]
