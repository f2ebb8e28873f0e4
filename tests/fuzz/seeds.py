#!/usr/bin/env python3
"""Small inputs to start fuzzing from: `seeds.py FOLDER` writes them to FOLDER/<target>/. Needs tests/reference/requirements.txt."""

from __future__ import annotations

import io
import struct
import sys
from pathlib import Path

import pikepdf
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
IMAGES = ROOT / "tests/data/colour/images"
LARGEST = 4096

SIDECARS = [
    b"blank: table-mat-36x24\n",
    b"blank: table-mat-36x24\nsize: {width: 24in, height: 12.5in}\nfit: cover\nnote: 'for the reading room'\n",
    b"---\n# all keys\nblank: round-mat-24\nartwork: chart.png\npaper: auto\norientation: landscape\nprinter: desk-letter\n"
    b"press: hand-12x10\nintent: relative\ncopies: 2\nextra_sheets: 1\nallow_low_ppi: yes\n"
    b"keep_clear:\n- {x: 5in, y: 2in, width: 3in, height: 4in}\n- x: 1 1/2 in\n  y: 10 mm\n  width: 3cm\n  height: 1/4 in\n",
    b"blank: {width: 24in, height: 12.5in, shape: rounded, radius: 1in, bleed: 2mm, substrate: polyester-mat, colour: '#f5ecd8'}\n",
    b"blank:\n  width: 610 mm\n  height: 0.4 m\n  shape: half-moon\n  inset: 1/2 in\n  substrate: coated-glass\n"
    b"  ppi_floor: 72\n  ppi_refuse: 50\n  colour: {L: 84, a: 2, b: -14}\n",
    b"note: |\n  two\n  lines\n\0blank: oval-mat-30x20\nfit: stretch\n",
    b"\xef\xbb\xbfblank: >-\n  panel-16x20\r\nnote: \"\\u00e9 \\\" \\\\\"\r\n",
    b"blank: &a x\nfit: *a\nnote: !!str y\n",
    b"{blank: panel-16x20, size: {width: 1in,\n height: 2in}, note: [a, {b: c}]}\n...\n",
]

SETTINGS = [(ROOT / "config/seamwright.yaml").read_bytes(), b"", b"stages: [resize, mirror]\nwriters: [record]\nkeep: 30 days\n"]

FACTS = [
    b'{"first_seen":"2026-11-25T12:30:09Z","from":"mats","files":[{"name":"chart.png","signature":'
    b'{"inode":1,"size":6,"modified":1,"changed":1}},{"name":[255,46],"signature":{"inode":1,"size":1,"modified":-1,"changed":1}}]}',
    b'{"first_seen":"","from":"../../outside","files":[]}',
    b'{"first_seen":"","from":[47,116],"files":[]}',
    b"{",
]

STATUS = (
    b'{"pid":1,"state":"no-room","running":0,"queued":1,"waiting":2,"finished":3,"refused":4,"left":5,"settings":"wrong"}'
)

NAMES = [
    b"chart", b"mats/chart", b"first/chart", b"hold/\xc3\xa9\0blank: x\nartwork: tide.png\n", b"-rf; $(x)", b"ch\xffart\n",
    b".hidden", b"folder", b"why.txt", b"e\xcc\x81 \xe2\x80\xae", b"a" * 240, b"chart.yaml", b"a/b/c/d/e/f", b"HOLD/first/x",
]

PAGES = [
    b"Star chart (b\xc3\xa4r) \\ & <co>", b"a\nb\rc\td", b"(((", b"\\", b"\xf0\x9f\xa6\x80 x", b"e\xcc\x81" * 9,
    b"w" * 90, b"\xe2\x80\xae evil", b"\xfe\xff", b"\xce\xa9 \xe2\x80\x94 3/4\"",
]


def pictures() -> dict[str, list[bytes]]:
    """Each format with its ways to store pixels, some of them from the check data."""
    gray = Image.linear_gradient("L").resize((17, 9))
    colour = Image.merge("RGB", (gray, gray.rotate(180), gray.transpose(Image.Transpose.FLIP_LEFT_RIGHT)))
    clear = colour.copy()
    clear.putalpha(gray)
    ink = colour.convert("CMYK")
    bits, palette = gray.convert("1"), colour.quantize(5)
    deep = Image.frombytes("I;16", (4, 3), bytes(range(24)))

    def saved(picture: Image.Image, kind: str, **options: object) -> bytes:
        room = io.BytesIO()
        picture.save(room, kind, **options)
        return room.getvalue()

    exif = Image.Exif()
    exif[274] = 6
    found = {
        "png": [saved(p, "PNG") for p in (gray, colour, clear, bits, palette, deep, clear.convert("LA"))],
        "jpeg": [
            saved(colour, "JPEG", quality=60, exif=exif),
            saved(colour, "JPEG", quality=30, progressive=True),
            saved(colour, "JPEG", subsampling=0, restart_marker_blocks=1),
            saved(colour, "JPEG", subsampling=2, optimize=True),
            saved(gray, "JPEG", progressive=True),
            saved(ink, "JPEG", icc_profile=profiles()["cmyk"]),
        ],
        "tiff": [
            saved(picture, "TIFF", compression=packed)
            for picture in (gray, colour, clear, bits, deep)
            for packed in ("raw", "tiff_lzw", "tiff_adobe_deflate", "packbits")
            if picture is not bits or packed != "tiff_lzw"
        ] + [saved(ink, "TIFF", icc_profile=profiles()["cmyk"]), tiles(), floats()],
        "webp": [
            saved(colour, "WEBP", quality=50),
            saved(colour, "WEBP", lossless=True),
            saved(clear, "WEBP", quality=50, exif=exif),
            saved(clear, "WEBP", lossless=True),
            saved(palette.convert("RGB"), "WEBP", lossless=True),
            saved(clear, "WEBP", save_all=True, append_images=[clear.rotate(90)], duration=100),
        ],
    }
    found |= {"svg": DRAWINGS, "pdf": pages()}
    endings = {".png": "png", ".jpg": "jpeg", ".tif": "tiff", ".webp": "webp"}
    for path in sorted(IMAGES.iterdir()):
        if path.suffix in endings and path.stat().st_size <= LARGEST:
            found[endings[path.suffix]].append(path.read_bytes())
    return found


SVG_HEAD = b'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '

DRAWINGS = [
    SVG_HEAD + b'width="24mm" height="2in"><rect width="50%" height="9" fill="#3a6ea5" opacity=".5"/></svg>',
    b'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY c "#123">]><!-- tides -->' + SVG_HEAD
    + b'viewBox="0 0 24 24"><defs><linearGradient id="g"><stop stop-color="&c;"/><stop offset="1"/></linearGradient>'
    b'<pattern id="p" width="4" height="4" patternUnits="userSpaceOnUse"><path d="M0 0l3 3z" stroke="url(#g)"/></pattern></defs>'
    b'<g transform="rotate(9) scale(.5)"><path id="a" d="M0 0C1 2 3 4 5 6A7 8 9 0 1 10 11z" fill="url(#p)"/>'
    b'<use xlink:href="#a" x="9"/></g></svg>',
    SVG_HEAD + b'width="24" height="24"><filter id="f"><feGaussianBlur stdDeviation="1 2"/><feOffset dx="1"/>'
    b'<feTurbulence baseFrequency=".1"/><feComposite in2="SourceGraphic" operator="in"/></filter><clipPath id="c"><circle r="9"/></clipPath>'
    b'<mask id="m"><rect width="9" height="9" fill="#fff"/></mask><marker id="k"><path d="M0 0h1"/></marker>'
    b'<g filter="url(#f)" clip-path="url(#c)"><polyline points="1,2 3,4" marker-mid="url(#k)" mask="url(#m)" stroke-dasharray="1 2"/></g></svg>',
    SVG_HEAD + b'width="24" height="24"><style>.a{fill:red}</style><text x="1" y="9" class="a" font-size="5">Tide <tspan dy="2">t</tspan></text></svg>',
    SVG_HEAD + b'width="4" height="4"><image width="4" height="4" xlink:href="data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptV'
    b'AAAACklEQVR4nGNgAAAAAgABSK+kcQAAAABJRU5ErkJggg=="/></svg>',
]


def page(content: bytes, more: dict[str, object] | None = None, **how: object) -> bytes:
    """A PDF of one page."""
    made = pikepdf.new()
    at = made.add_blank_page(page_size=(72, 36))
    at.Contents = made.make_stream(content)
    at.Resources = pikepdf.Dictionary(more or {})
    room = io.BytesIO()
    made.save(room, static_id=True, **how)
    return room.getvalue()


def pages() -> list[bytes]:
    """PDFs with the ways to draw, packed and plain."""
    plain = {"compress_streams": False, "stream_decode_level": pikepdf.StreamDecodeLevel.all}
    font = pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica)
    clear = pikepdf.Dictionary(ca=0.5, BM=pikepdf.Name.Multiply)
    drawn = b"q 1 0 0 rg 9 9 20 20 re f Q 0 1 1 0 K 3 w [2 1] 0 d 0 0 m 9 9 40 2 50 30 c S /G gs 0 0 9 9 re W n"
    inline = b"q 20 0 0 20 0 0 cm BI /W 2 /H 2 /BPC 8 /CS /G ID \0\x40\x80\xff EI Q 0 g 1 1 1 1 re f"
    return [
        page(drawn, {"/ExtGState": pikepdf.Dictionary(G=clear)}, **plain),
        page(b"BT /F 9 Tf 5 5 Td (tide) Tj [(a) -99 (b)] TJ ET", {"/Font": pikepdf.Dictionary(F=font)}, **plain),
        page(inline, **plain),
        page(drawn, object_stream_mode=pikepdf.ObjectStreamMode.generate),
    ]


def tiff(entries: dict[int, tuple[int, tuple[int, ...]]], pixels: bytes, strip: int) -> bytes:
    """A little-endian TIFF of one directory; the tag `strip` gets the place of the pixels."""
    entries = dict(sorted({**entries, strip: (4, (0,))}.items()))
    start = 8 + 2 + 12 * len(entries) + 4
    tail, table = b"", b""
    room = start + len(pixels)
    for tag, (kind, values) in entries.items():
        if tag == strip:
            values = (start,)
        packed = struct.pack(f"<{len(values)}{'H' if kind == 3 else 'I'}", *values)
        if len(packed) > 4:
            packed, tail = struct.pack("<I", room + len(tail)), tail + packed
        table += struct.pack("<HHI", tag, kind, len(values)) + packed.ljust(4, b"\0")
    return b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries)) + table + b"\0" * 4 + pixels + tail


def tiles() -> bytes:
    """16-bit gray in one tile with a predictor."""
    entries = {256: (3, (9,)), 257: (3, (9,)), 258: (3, (16,)), 259: (3, (1,)), 262: (3, (1,)), 277: (3, (1,)),
               317: (3, (2,)), 322: (3, (16,)), 323: (3, (16,)), 325: (4, (512,)), 274: (3, (5,))}
    return tiff(entries, bytes(range(256)) * 2, 324)


def floats() -> bytes:
    """RGB floats with a profile, in planes of one strip each laid out as one."""
    profile = profiles()["rgb"]
    entries = {256: (3, (2,)), 257: (3, (2,)), 258: (3, (32,) * 3), 259: (3, (1,)), 262: (3, (2,)), 277: (3, (3,)),
               278: (3, (2,)), 279: (4, (48,)), 339: (3, (3,) * 3),
               34675: (4, struct.unpack(f"<{len(profile) // 4}I", profile[: len(profile) // 4 * 4]))}
    return tiff(entries, struct.pack("<12f", *(at / 11 for at in range(12))), 273)


def fixed(*values: float) -> bytes:
    """Numbers as ICC.1 writes them: 16 bits before the point, 16 after."""
    return b"".join(struct.pack(">i", round(value * 65536)) for value in values)


def profile(space: bytes, kind: bytes, connection: bytes, version: int, tags: dict[bytes, bytes]) -> bytes:
    """A profile of these tags, each starting at a multiple of four."""
    tags = {b"wtpt": b"XYZ \0\0\0\0" + fixed(0.9642, 1, 0.8249), **tags}
    at = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, content in tags.items():
        table += name + struct.pack(">II", at + len(body), len(content))
        body += content.ljust((len(content) + 3) // 4 * 4, b"\0")
    head = struct.pack(">I4sI4s4s4s", at + len(body), b"\0" * 4, version << 24, kind, space, connection)
    head += struct.pack(">6H", 2000, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28 + fixed(0.9642, 1, 0.8249) + b"\0" * 48
    return head + table + body


def lut(inputs: int, outputs: int, wide: bool) -> bytes:
    """A table with two nodes an axis: mft2 where `wide`, else mft1."""
    head = (b"mft2" if wide else b"mft1") + b"\0" * 4 + bytes([inputs, outputs, 2, 0]) + fixed(1, 0, 0, 0, 1, 0, 0, 0, 1)
    nodes = [(at * 73 + channel * 31) % 256 for at in range(2**inputs) for channel in range(outputs)]
    if not wide:
        return head + bytes(range(256)) * inputs + bytes(nodes) + bytes(range(256)) * outputs
    words = [0, 65535] * inputs + [node * 257 for node in nodes] + [0, 65535] * outputs
    return head + struct.pack(">2H", 2, 2) + struct.pack(f">{len(words)}H", *words)


def staged(name: bytes, inputs: int, outputs: int) -> bytes:
    """An mAB or mBA table with all its parts."""
    curve = b"para\0\0\0\0\0\x03\0\0" + fixed(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    plain = b"curv\0\0\0\0\0\0\0\0"
    b_count, a_count = (outputs, inputs) if name == b"mAB " else (inputs, outputs)
    parts = [plain * b_count, fixed(1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0), curve * 3]
    nodes = bytes((at * 57) % 256 for at in range(2**inputs * outputs))
    parts += [bytes([2] * inputs).ljust(16, b"\0") + b"\x01\0\0\0" + nodes.ljust((len(nodes) + 3) // 4 * 4, b"\0"), curve * a_count]
    offsets, body = [], b""
    for part in parts:
        offsets.append(32 + len(body))
        body += part
    return name + b"\0" * 4 + bytes([inputs, outputs, 0, 0]) + struct.pack(">5I", *offsets) + body


def profiles() -> dict[str, bytes]:
    """The kinds of profile there are, each as small as can be."""
    curve = b"curv\0\0\0\0\0\0\0\x01\x02\x33"
    points = {b"rXYZ": (0.4361, 0.2225, 0.0139), b"gXYZ": (0.3851, 0.7169, 0.0971), b"bXYZ": (0.1431, 0.0606, 0.7141)}
    matrix = {name: b"XYZ \0\0\0\0" + fixed(*values) for name, values in points.items()}
    matrix |= {name: curve for name in (b"rTRC", b"gTRC", b"bTRC")}
    words = b"desc\0\0\0\0\0\0\0\x04dye\0" + b"\0" * 78
    spoken = b"mluc\0\0\0\0\0\0\0\x01\0\0\0\x0cenUS\0\0\0\x06\0\0\0\x1c\0d\0y\0e"
    return {
        "rgb": profile(b"RGB ", b"mntr", b"XYZ ", 2, {b"desc": words, **matrix}),
        "rgb4": profile(b"RGB ", b"mntr", b"XYZ ", 4, {b"desc": spoken, **matrix, b"chad": b"sf32\0\0\0\0" + fixed(1, 0, 0, 0, 1, 0, 0, 0, 1)}),
        "gray": profile(b"GRAY", b"scnr", b"XYZ ", 2, {b"kTRC": curve}),
        "graylab": profile(b"GRAY", b"prtr", b"Lab ", 4, {b"kTRC": b"para\0\0\0\0\0\0\0\0" + fixed(1.8)}),
        "dye": profile(b"RGB ", b"prtr", b"Lab ", 2, {b"A2B0": lut(3, 3, True), b"B2A0": lut(3, 3, True), b"gamt": lut(3, 1, True)}),
        "cmyk": profile(b"CMYK", b"prtr", b"Lab ", 2, {b"A2B0": lut(4, 3, True), b"B2A0": lut(3, 4, True)}),
        "cmyk8": profile(b"CMYK", b"prtr", b"Lab ", 2, {b"A2B1": lut(4, 3, False), b"B2A1": lut(3, 4, False)}),
        "dye4": profile(b"RGB ", b"prtr", b"Lab ", 4, {b"A2B0": staged(b"mAB ", 3, 3), b"B2A0": staged(b"mBA ", 3, 3)}),
        "cmyk4": profile(b"CMYK", b"prtr", b"XYZ ", 4, {b"A2B0": staged(b"mAB ", 4, 3), b"B2A0": staged(b"mBA ", 3, 4)}),
        "space": profile(b"RGB ", b"spac", b"Lab ", 2, {b"A2B0": lut(3, 3, True), b"A2B1": lut(3, 3, True)}),
    }


def catalogue() -> list[bytes]:
    """The shipped entries, each behind the byte of its kind."""
    kinds = ["blanks", "substrates", "papers", "printers", "presses"]
    found = [(at, path) for at, kind in enumerate(kinds) for path in sorted((ROOT / "config" / kind).iterdir())[:3]]
    return [bytes([at]) + path.read_bytes() for at, path in found]


def seeds() -> dict[str, list[bytes]]:
    """All inputs, by target."""
    made = profiles()
    kinds = {b"RGB ": 0, b"GRAY": 1, b"CMYK": 2}
    sources = [bytes([kinds[one[16:20]] | more]) + one for one in made.values() for more in (0, 196, 220)]
    printers = [bytes([more]) + one for one in made.values() for more in (0, 1, 8, 16, 48)]
    return {
        "sidecar": SIDECARS,
        "job": SIDECARS,
        "settings": SETTINGS,
        "catalogue": catalogue(),
        "page": PAGES,
        "names": NAMES,
        "state": [bytes([place]) + facts for place in range(5) for facts in FACTS] + [b"\x05" + STATUS],
        "source-profile": sources,
        "printer-profile": printers,
        **pictures(),
    }


def main() -> None:
    """Writes them."""
    for target, inputs in seeds().items():
        folder = Path(sys.argv[1]) / target
        folder.mkdir(parents=True, exist_ok=True)
        for at, content in enumerate(inputs):
            (folder / f"seed-{at:02}").write_bytes(content)


if __name__ == "__main__":
    main()
