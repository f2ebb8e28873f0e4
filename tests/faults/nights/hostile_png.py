"""Hostile PNG files: written chunk by chunk, so that exactly one thing is wrong with each."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

import numpy as np
from judging.pictures import chunk, png

from .hostile_case import DONE, EITHER, REFUSED, Case, paint, picture_case

MARK = b"\x89PNG\r\n\x1a\n"
END = chunk(b"IEND", b"")
BOMB = 7000
"""Pixels a side of what is small as a file and large as a picture, within the limit."""


def head(width: int, height: int, depth: int = 8, kind: int = 2, *rest: int) -> bytes:
    """The first chunk; further numbers are packing, filter and interlacing."""
    return chunk(b"IHDR", struct.pack(">II5B", width, height, depth, kind, *(rest or (0, 0, 0))))


def rows(pixels: np.ndarray, filter_: int = 0) -> bytes:
    """Unpacked scan lines."""
    return b"".join(bytes([filter_]) + row.tobytes() for row in pixels.reshape(pixels.shape[0], -1))


def file(*parts: bytes) -> bytes:
    """A whole file of these chunks."""
    return MARK + b"".join(parts) + END


def packed(pixels: np.ndarray) -> bytes:
    """The chunk of the pixels."""
    return chunk(b"IDAT", zlib.compress(rows(pixels)))


def flat(width: int, height: int, bits: int = 24, kind: int = 2, depth: int = 8, interlaced: int = 0) -> bytes:
    """A picture of noughts, packed as tightly as can be without ever being in memory."""
    pack, line = zlib.compressobj(9), bytes(1 + (width * bits + 7) // 8)
    body = b"".join(pack.compress(line) for _ in range(height)) + pack.flush()
    return file(head(width, height, depth, kind, 0, 0, interlaced), chunk(b"IDAT", body))


def interlaced(pixels: np.ndarray) -> bytes:
    """The same picture in seven passes."""
    passes = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
    parts = [pixels[y::down, x::across] for x, y, across, down in passes]
    body = zlib.compress(b"".join(rows(part) for part in parts if part.size))
    return file(head(pixels.shape[1], pixels.shape[0], 8, 2, 0, 0, 1), chunk(b"IDAT", body))


def animated(pixels: np.ndarray, first: tuple[int, int]) -> bytes:
    """Two frames, of which the first has this size."""
    control = lambda number, width, height: chunk(b"fcTL", struct.pack(">5I2H2B", number, width, height, 0, 0, 1, 10, 0, 0))  # noqa: E731
    height, width, _ = pixels.shape
    shown = pixels[: first[1], : first[0]]
    second = chunk(b"fdAT", struct.pack(">I", 2) + zlib.compress(rows(pixels // 2)))
    return file(
        head(width, height), chunk(b"acTL", struct.pack(">II", 2, 0)), control(0, *first),
        chunk(b"IDAT", zlib.compress(rows(shown))), control(1, width, height), second,
    )  # fmt: skip


def turned(code: int) -> bytes:
    """The chunk that says how the camera was held."""
    return chunk(b"eXIf", b"MM\0*\0\0\0\x08\0\x01" + struct.pack(">HHIHHI", 0x0112, 3, 1, code, 0, 0))


def hurt(data: bytes, at: int) -> bytes:
    """With one bit changed."""
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


def cut() -> Iterator[Case]:
    """Ended too early, and damaged on the way."""
    whole = png(paint("png-cut"))
    for at in (8, 20, 33, 50, len(whole) // 2, len(whole) - 13, len(whole) - 5, len(whole) - 1):
        yield picture_case(f"png-cut-at-{at}", REFUSED, whole[:at])
    for where, at in (("head", 29), ("pixels", 41 + 30), ("sum-of-pixels", len(whole) - 14), ("end", len(whole) - 1)):
        yield picture_case(f"png-wrong-{where}", REFUSED, hurt(whole, at))
    yield picture_case("png-wrong-remark", EITHER, file(head(24, 24), hurt(chunk(b"tEXt", b"a\0b"), 9), packed(paint("remark"))))


def absurd() -> Iterator[Case]:
    """Heads that promise what nobody could hold, or nothing at all."""
    for width, height in ((65535, 65535), (1 << 31, 1 << 31), ((1 << 31) - 1, 1), (1, (1 << 31) - 1), (0, 9), (9, 0), (0, 0)):
        yield picture_case(f"png-head-{width}x{height}", REFUSED, file(head(width, height, 16, 6), chunk(b"IDAT", b"")))
    for what, numbers in {
        "depth": (3, 2), "colour": (8, 5), "depth-of-colour": (1, 2), "packing": (8, 2, 1, 0, 0), "filter": (8, 2, 0, 1, 0),
        "interlacing": (8, 2, 0, 0, 2),
    }.items():  # fmt: skip
        yield picture_case(f"png-no-such-{what}", REFUSED, file(head(24, 24, *numbers), packed(paint(what))))
    yield picture_case("png-interlaced-too-large", REFUSED, file(head(9000, 5500, 16, 6, 0, 0, 1), chunk(b"IDAT", b"x")), says=" MB")
    yield picture_case("png-pixels-over-the-limit", REFUSED, flat(30_000, 30_000, 1, 0, 1), says="900000000 pixels")


def bombs() -> Iterator[Case]:
    """Small files that want to be large."""
    noughts = zlib.compress(bytes(200 << 20), 9)
    good = packed(paint("bombs"))
    yield picture_case("png-bomb-of-pixels", DONE, flat(BOMB, BOMB))
    yield picture_case("png-bomb-one-row", EITHER, flat(BOMB * BOMB, 1))
    yield picture_case("png-bomb-one-column", EITHER, flat(1, 2_000_000))
    yield picture_case("png-bomb-interlaced", EITHER, flat(3000, 3000, interlaced=1))
    yield picture_case("png-bomb-of-a-profile", REFUSED, file(head(24, 24), chunk(b"iCCP", b"p\0\0" + noughts), good), says="profile")
    yield picture_case("png-bomb-of-text", EITHER, file(head(24, 24), chunk(b"zTXt", b"t\0\0" + noughts), good))
    yield picture_case("png-bomb-of-long-text", EITHER, file(head(24, 24), chunk(b"iTXt", b"t\0\1\0\0\0" + noughts), good))
    yield picture_case("png-bomb-of-chunks", EITHER, file(head(24, 24), chunk(b"tEXt", b"") * 800_000, good))
    yield picture_case("png-bomb-of-pieces", EITHER, file(head(24, 24), chunk(b"IDAT", b"") * 100_000, good))
    yield picture_case("png-bomb-behind-its-pixels", EITHER, file(head(24, 24), chunk(b"IDAT", zlib.compress(bytes(300 << 20), 9))))


def order_of_chunks() -> Iterator[Case]:
    """Chunks that are missing, doubled, out of place or unknown."""
    pixels = paint("chunks")
    good, half = packed(pixels), zlib.compress(rows(pixels))
    yield picture_case("png-without-pixels", REFUSED, file(head(24, 24)))
    yield picture_case("png-without-head", REFUSED, file(good))
    yield picture_case("png-head-last", REFUSED, file(good, head(24, 24)))
    yield picture_case("png-two-heads", EITHER, file(head(24, 24), head(12, 12), good))
    yield picture_case("png-end-first", REFUSED, MARK + END + head(24, 24) + good + END)
    yield picture_case("png-pixels-in-two-places", EITHER, file(
        head(24, 24), chunk(b"IDAT", half[:60]), chunk(b"tIME", bytes(7)), chunk(b"IDAT", half[60:]),
    ))  # fmt: skip
    yield picture_case("png-unknown-that-matters", EITHER, file(head(24, 24), chunk(b"XYZW", b"?"), good))
    yield picture_case("png-made-for-a-telephone", EITHER, file(chunk(b"CgBI", bytes(4)), head(24, 24), good))
    yield picture_case("png-chunk-as-long-as-can-be", REFUSED, MARK + head(24, 24) + b"\xff\xff\xff\xffIDAT" + bytes(40))
    yield picture_case("png-with-an-archive-behind", DONE, file(head(24, 24), good) + b"PK\x05\x06" + bytes(18), off=0)
    yield picture_case("png-rows-missing", REFUSED, file(head(24, 25), packed(paint("missing"))))
    yield picture_case("png-rows-too-many", EITHER, file(head(24, 23), packed(paint("too many"))))
    yield picture_case("png-no-such-row-filter", REFUSED, file(head(24, 24), chunk(b"IDAT", zlib.compress(rows(pixels, 9)))))
    yield picture_case("png-packed-by-nobody", REFUSED, file(head(24, 24), chunk(b"IDAT", b"not packed at all" * 20)))
    yield picture_case("png-packing-cut", REFUSED, file(head(24, 24), chunk(b"IDAT", half[:-300])))


def palettes() -> Iterator[Case]:
    """Colours by number, and numbers without colours."""
    numbers = np.arange(24 * 24, dtype=np.uint8).reshape(24, 24, 1) % 16
    body, some = packed(numbers), bytes(range(60, 108))
    indexed = head(24, 24, 8, 3)
    yield picture_case("png-palette", DONE, file(indexed, chunk(b"PLTE", some), body), off=0)
    yield picture_case("png-palette-missing", REFUSED, file(indexed, body))
    yield picture_case("png-palette-empty", REFUSED, file(indexed, chunk(b"PLTE", b""), body))
    yield picture_case("png-palette-not-in-threes", REFUSED, file(indexed, chunk(b"PLTE", some[:-1]), body))
    yield picture_case("png-palette-of-257", REFUSED, file(indexed, chunk(b"PLTE", bytes(257 * 3)), body))
    yield picture_case("png-palette-short-of-colours", EITHER, file(indexed, chunk(b"PLTE", some[:24]), body))
    yield picture_case("png-palette-clear-beyond", EITHER, file(indexed, chunk(b"PLTE", some), chunk(b"tRNS", bytes(200)), body))
    yield picture_case("png-palette-on-gray", EITHER, file(head(24, 24, 8, 0), chunk(b"PLTE", some), body))


def colours() -> Iterator[Case]:
    """Said wrongly, or rightly in rare ways."""
    pixels = paint("colours")
    told = lambda key, end, *chunks: picture_case(key, end, png(pixels, *chunks), off=0 if end == DONE else None)  # noqa: E731
    yield told("png-gamma-zero", EITHER, chunk(b"gAMA", bytes(4)))
    yield told("png-gamma-huge", EITHER, chunk(b"gAMA", b"\xff" * 4))
    yield told("png-corners-all-zero", REFUSED, chunk(b"cHRM", bytes(32)))
    yield told("png-corners-huge", EITHER, chunk(b"cHRM", b"\xff" * 32))
    yield told("png-brighter-than-paper", REFUSED, chunk(b"cICP", bytes([9, 16, 0, 1])))
    yield told("png-code-points-unknown", REFUSED, chunk(b"cICP", bytes([250, 250, 0, 1])))
    yield told("png-pixels-without-size", DONE, chunk(b"pHYs", bytes(9)))
    yield told("png-pixels-of-endless-size", DONE, chunk(b"pHYs", b"\xff" * 8 + b"\1"))
    yield told("png-two-profiles", EITHER, chunk(b"iCCP", b"a\0\0x"), chunk(b"iCCP", b"b\0\0x"))
    for code in (0, 1, 3, 6, 8, 9, 255):
        yield picture_case(f"png-turned-{code}", DONE, png(paint(f"turned {code}", 36, 24), turned(code)), off=0)
    yield told("png-turned-by-noise", DONE, chunk(b"eXIf", b"MM\0*\xff\xff\xff\xff" + bytes(range(99))))


def rare() -> Iterator[Case]:
    """Good, but seldom met."""
    pixels = paint("rare")
    yield picture_case("png-interlaced", DONE, interlaced(pixels), off=0)
    yield picture_case("png-interlaced-odd", DONE, interlaced(paint("odd", 13, 7)), off=0)
    yield picture_case("png-interlaced-cut", REFUSED, interlaced(pixels)[:-400] + END)
    yield picture_case("png-16-bits", DONE, png(paint("16").astype(np.uint16) * 257))
    yield picture_case("png-16-bits-gray", DONE, png(paint("16 gray", channels=1).astype(np.uint16) * 257), off=1)
    yield picture_case("png-gray-half-clear", DONE, png(paint("half clear", channels=2)), off=1)
    yield picture_case("png-half-clear", DONE, png(paint("half", channels=4)), off=1)
    yield picture_case("png-one-pixel", EITHER, png(paint("one", 1, 1)))
    yield picture_case("png-animated", DONE, animated(pixels, (24, 24)), off=0)
    yield picture_case("png-animated-from-a-corner", REFUSED, animated(pixels, (12, 12)))
    yield picture_case("png-called-jpeg", DONE, png(paint("called")), name=b"chart.jpg", off=0)


def pngs() -> list[Case]:
    """All of them."""
    parts = (cut, absurd, bombs, order_of_chunks, palettes, colours, rare)
    return [case for part in parts for case in part()]
