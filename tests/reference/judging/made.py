"""Finished jobs made by a tiny generator of their own, good and spoilt, so that the judges can be judged.

It shares no code with the program: panels are cut from an array, the PDF is put together by hand.
"""

from __future__ import annotations

import io
import json
import math
import zlib
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms

from .asked import Asked
from .design import resampled
from .plan import Plan, Spoil, record_of
from .record import Panel, Record, parse


def write_job(folder: Path, file: Path, plan: Plan, spoil: Spoil) -> None:
    """Writes ``record.json`` and ``sheets.pdf`` of a plan."""
    folder.mkdir(parents=True)
    raw = record_of(plan, file, spoil)
    (folder / "record.json").write_text(json.dumps(raw), encoding="utf-8")
    record = parse(raw)
    with Image.open(file) as image:
        pixels = resampled(record, image.convert("RGB"), Asked(reach_um=spoil.reach_um)).pixels
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    objects = [
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"",
        _stream(b"/N 3/Filter/FlateDecode", zlib.compress(profile)),
        b"<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
    ]
    for panel in record.panels:
        _add_page(objects, record, panel, pixels, spoil)
    kids = [number for number, body in enumerate(objects, 1) if body.startswith(b"<</Type/Page/")]
    objects[1] = f"<</Type/Pages/Count {len(kids)}/Kids[{' '.join(f'{k} 0 R' for k in kids)}]>>".encode()
    (folder / "sheets.pdf").write_bytes(_pdf(objects))


def _add_page(objects: list[bytes], record: Record, panel: Panel, pixels: np.ndarray, spoil: Spoil) -> None:
    """A panel's picture, what is drawn on its page, and the page."""
    pitch, (page_w, page_h) = 25400 / record.ppi, record.page_um
    # Whole pixels rounded outward, clipped to the panel.
    i0, i1 = math.floor(panel.face.x / pitch + 1e-5), math.ceil(panel.face.right / pitch - 1e-5)
    j0, j1 = math.floor(panel.face.y / pitch + 1e-5), math.ceil(panel.face.bottom / pitch - 1e-5)
    turned = record.mirrored != spoil.unmirrored
    part = pixels[j0:j1, i0:i1]
    part = np.ascontiguousarray(part[:, ::-1] if turned else part)
    space = b"/DeviceRGB" if spoil.untagged else b"[/ICCBased 3 0 R]"
    head = b"/Type/XObject/Subtype/Image/Width %d/Height %d/BitsPerComponent 8/Filter/FlateDecode/ColorSpace %b"
    objects.append(_stream(head % (i1 - i0, j1 - j0, space), zlib.compress(part.tobytes(), 1)))

    left, top = record.page_left_top(panel)
    start = panel.face.right - i1 * pitch if turned else i0 * pitch - panel.face.x
    x, y = left + start + spoil.shift_um, top + j0 * pitch - panel.face.y
    w, h = (i1 - i0) * pitch * spoil.stretch, (j1 - j0) * pitch
    tx, ty, tw, th = panel.page_pt
    image = f"q {tx} {ty} {tw} {th} re W n {_pt(w)} 0 0 {_pt(h)} {_pt(x)} {_pt(page_h - y - h)} cm /I Do Q "
    # Nothing is drawn but in a strip that is cut off.
    cut = record.outer(panel) | set(panel.trim)
    baseline = 14 if "bottom" in cut else page_h * 72 / 25400 - 20
    label = f"BT /F 8 Tf 40 {baseline} Td (panel {panel.number} of {len(record.panels)}) Tj ET "
    mark = f"0 g {_pt(left - 3000)} {_pt(page_h - top - 40000)} 8 0.5 re f "
    marked = "left" in cut or (spoil.ink_kept and panel.number == len(record.panels))
    objects.append(_stream(b"", (image + ("" if spoil.no_label else label) + (mark if marked else "")).encode()))
    number = len(objects)
    objects.append(
        f"<</Type/Page/Parent 2 0 R/MediaBox[0 0 {page_w * 72 / 25400 + spoil.page_larger_pt:.6f} {_pt(page_h)}]"
        f"/TrimBox[{tx:.6f} {ty:.6f} {tx + tw:.6f} {ty + th:.6f}]/Contents {number} 0 R"
        f"/Resources<</XObject<</I {number - 1} 0 R>>/Font<</F 4 0 R>>>>>>".encode()
    )


def _pt(um: float) -> str:
    return f"{um * 72 / 25400:.6f}"


def _stream(head: bytes, body: bytes) -> bytes:
    return b"<<%b/Length %d>>stream\n%b\nendstream" % (head, len(body), body)


def _pdf(objects: list[bytes]) -> bytes:
    out, at = io.BytesIO(), []
    out.write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
    for number, body in enumerate(objects, 1):
        at.append(out.tell())
        out.write(b"%d 0 obj %b endobj\n" % (number, body))
    start = out.tell()
    out.write(b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1))
    out.write(b"".join(b"%010d 00000 n \n" % place for place in at))
    out.write(b"trailer<</Size %d/Root 1 0 R>>startxref\n%d\n%%%%EOF\n" % (len(objects) + 1, start))
    return out.getvalue()
