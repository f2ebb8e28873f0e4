"""A tiny generator of finished jobs, good and spoilt, so that the judges can be judged.

It shares no code with the program: panels are cut from an array, the PDF is put together by hand.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms

from .design import resampled
from .record import Panel, Record, parse


@dataclass
class Spoil:
    """What is wrong with a made job; nothing by default."""

    shift_um: float = 0.0
    stretch: float = 1.0
    unmirrored: bool = False
    missing_trim: bool = False
    ink_kept: bool = False
    page_larger_pt: float = 0.0
    untagged: bool = False
    gap_um: int = 0
    no_label: bool = False


@dataclass
class Plan:
    """A lay-up to make."""

    columns: int
    rows: int
    width_um: int = 400_000
    height_um: int = 300_000
    page_um: tuple[int, int] = (279_400, 215_900)
    lap_um: int = 5_000
    ppi: float = 100.0
    mirrored: bool = True
    left_top_um: tuple[int, int] = (20_123, 30_457)

    def on_face(self, x: int, w: int, y: int, h: int) -> list[int]:
        """A rectangle of the lay-up, ink side up, on the face."""
        return [self.width_um - x - w if self.mirrored else x, y, w, h]


def _panels(plan: Plan, spoil: Spoil) -> list[dict]:
    """Panels by rows, ink side up, cells of one size but for the last row and column."""
    step = plan.width_um // plan.columns, plan.height_um // plan.rows
    panels = []
    for n in range(plan.columns * plan.rows):
        row, column = divmod(n, plan.columns)
        face, cell = (
            plan.on_face(
                *_span(column, step[0], plan.width_um, plan.columns, grow),
                *_span(row, step[1], plan.height_um, plan.rows, grow),
            )
            for grow in (plan.lap_um // 2, 0)
        )
        if spoil.gap_um and n == 0:
            cell[3] -= spoil.gap_um
        left, top = plan.left_top_um
        page = (left, plan.page_um[1] - top - face[3], face[2], face[3])
        trim = [edge for edge, more in (("right", column + 1 < plan.columns), ("bottom", row + 1 < plan.rows)) if more]
        around = [(row, column + 1), (row + 1, column - 1), (row + 1, column), (row + 1, column + 1)]
        under = [r * plan.columns + c + 1 for r, c in around if r < plan.rows and 0 <= c < plan.columns]
        panels.append(
            {
                "panel": n + 1, "row": row + 1, "column": column + 1, "page": n + 1, "face_um": face, "cell_um": cell,
                "page_pt": [round(v * 72 / 25400, 6) for v in page], "scale": [1.0, 1.0],
                "trim": [] if spoil.missing_trim and n == 0 else trim, "on_top_of": under,
            }
        )  # fmt: skip
    return panels


def _span(i: int, step: int, total: int, count: int, grow: int) -> tuple[int, int]:
    """Start and length of the i-th of ``count`` parts, reaching ``grow`` into its neighbours."""
    low = 0 if i == 0 else i * step - grow
    return low, (total if i == count - 1 else (i + 1) * step + grow) - low


def _seams(plan: Plan, panels: list[dict]) -> list[dict]:
    """A seam at each right and lower edge that has a neighbour."""
    seams = []
    for p in panels:
        x, y, w, h = p["cell_um"]
        if p["column"] < plan.columns:
            at = x if plan.mirrored else x + w
            seams.append({"between": [p["panel"], p["panel"] + 1], "face_um": [at, y, at, y + h], "upper": p["panel"]})
        if p["row"] < plan.rows:
            below = p["panel"] + plan.columns
            seams.append({"between": [p["panel"], below], "face_um": [x, y + h, x + w, y + h], "upper": p["panel"]})
    return seams


def record_of(plan: Plan, file: Path, spoil: Spoil) -> dict:
    """The record of a plan."""
    with Image.open(file) as image:
        width, height = image.size
    panels = _panels(plan, spoil)
    (page_w, page_h), (left, top), (_, _, w, h) = plan.page_um, plan.left_top_um, panels[-1]["face_um"]
    size = {"width_um": plan.width_um, "height_um": plan.height_um}
    return {
        "record": 1, "job": file.stem + "-0a1b2c",
        "artwork": {"file": file.name, "sha256": hashlib.sha256(file.read_bytes()).hexdigest(), "width_px": width,
                    "height_px": height, "profile": None},
        "design": size | {"picture_um": [0, 0, plan.width_um, plan.height_um], "sheet_ppi": plan.ppi,
                          "artwork_ppi": [100.0, 100.0]},
        "fit": "stretch", "copies": 1, "note": None,
        "blank": {"name": "mat", "shape": "rectangle"} | size | {"placed_um": [0, 0]},
        "mirrored": plan.mirrored, "paper": {"name": "made", "width_um": page_w, "height_um": page_h},
        "orientation": "landscape", "lap_um": plan.lap_um, "trim_order": "panels-first",
        "panels": panels, "seams": _seams(plan, panels),
        "final_trim_um": {"left": left, "top": top, "right": page_w - left - w, "bottom": page_h - top - h},
        "left_out": [], "press": None,
        "colour": {"source": "assumed-srgb", "converted": None, "attached": "sRGB", "instruction": "none"},
        "warnings": [], "remarks": [], "files": {"sheets.pdf": "application/pdf", "record.json": "application/json"},
    }  # fmt: skip


def write_job(folder: Path, file: Path, plan: Plan, spoil: Spoil) -> None:
    """Writes ``record.json`` and ``sheets.pdf`` of a plan."""
    folder.mkdir(parents=True)
    raw = record_of(plan, file, spoil)
    (folder / "record.json").write_text(json.dumps(raw), encoding="utf-8")
    record = parse(raw)
    with Image.open(file) as image:
        pixels = resampled(record, image.convert("RGB")).pixels
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
    label = f"BT /F 8 Tf 40 14 Td (panel {panel.number} of {len(record.panels)}) Tj ET "
    mark = f"0 g {_pt(left - 3000)} {_pt(page_h - top - 40000)} 8 0.5 re f "
    # A mark beside the left edge is cut off with the outer strip, and stays where that edge lies under a neighbour.
    marked = panel.column == 1 or (spoil.ink_kept and panel.number == len(record.panels))
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
