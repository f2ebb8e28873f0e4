"""A corpus of artwork for a seaside observatory's workshop, drawn here with fixed seeds.

Photographs are stood in for by scenes of smooth noise with grain; the rest is drawn: borders, text, scattered motifs,
charts, line drawings, tables, flat colour, frames. Every piece has a size in mm and 4 pixels a mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

PER = 4
"""Pixels a millimetre."""
INK = (28, 52, 92)
WORDS = "tide moon neap spring ebb flood star harbour beacon comet dome pier gull chart noon dawn zenith orbit".split()


@dataclass(frozen=True)
class Piece:
    """One artwork."""

    name: str
    size: tuple[int, int]
    orientation: str
    draw: Callable[[Image.Image, np.random.Generator], Image.Image]
    seed: int

    def image(self) -> Image.Image:
        """Drawn anew each time, the same each time."""
        blank = Image.new("RGB", (self.size[0] * PER, self.size[1] * PER), "white")
        return self.draw(blank, np.random.default_rng(self.seed))


def font(mm: float) -> ImageFont.FreeTypeFont:
    """The library's own scalable face."""
    return ImageFont.load_default(mm * PER)


def scene(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Like a photograph: broad shapes, finer ones over them, grain."""
    width, height = image.size
    total = np.zeros((height, width, 3))
    for cells, weight in ((4, 0.6), (13, 0.3), (60, 0.1)):
        small = rng.random((cells, cells, 3)) * 255
        layer = Image.fromarray(small.astype(np.uint8)).resize((width, height), Image.Resampling.BICUBIC)
        total += weight * np.asarray(layer)
    total = (total - total.mean()) * 1.8 + 128 + rng.normal(0, 4, (height, width, 1))
    return Image.fromarray(total.clip(0, 255).astype(np.uint8))


def night(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A dark sky, brighter below, with stars in drifts."""
    width, height = image.size
    fall = np.linspace(20, 70, height)[:, None, None] * np.array([0.4, 0.6, 1.2])
    sky = np.broadcast_to(fall, (height, width, 3)) + rng.normal(0, 2, (height, width, 1))
    image = Image.fromarray(sky.clip(0, 255).astype(np.uint8))
    draw = ImageDraw.Draw(image)
    for _ in range(5):
        cx, cy = rng.random(2) * image.size
        for _ in range(60):
            x, y = rng.normal((cx, cy), 22 * PER)
            r = rng.random() * 1.2 * PER
            draw.ellipse((x - r, y - r, x + r, y + r), fill=(250, 246, 220))
    return image


def border(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A frame of tiles round a bare middle."""
    draw = ImageDraw.Draw(image)
    tile = int(rng.integers(14, 24)) * PER
    for x in range(0, image.width, tile):
        for y in range(0, image.height, tile):
            if not (tile * 1.5 < x < image.width - 2.5 * tile and tile * 1.5 < y < image.height - 2.5 * tile):
                draw.polygon([(x + tile / 2, y), (x + tile, y + tile / 2), (x + tile / 2, y + tile), (x, y + tile / 2)], fill=INK)
    return image


def letters(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Paragraphs in columns with gutters."""
    draw = ImageDraw.Draw(image)
    columns = int(rng.integers(2, 5))
    gutter, face = 16 * PER, font(7)
    wide = (image.width - gutter * (columns + 1)) / columns
    for column in range(columns):
        y, x0 = gutter, gutter + column * (wide + gutter)
        while y < image.height - gutter - 8 * PER:
            for _ in range(int(rng.integers(3, 7))):
                line = " ".join(rng.choice(WORDS, 12))
                while draw.textlength(line, font=face) > wide:
                    line = line.rsplit(" ", 1)[0] if " " in line else ""
                draw.text((x0, y), line, font=face, fill=(20, 20, 20))
                y += 10 * PER
                if y > image.height - gutter - 8 * PER:
                    break
            y += 14 * PER
    return image


def motifs(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Crescents, stars and boats, scattered, none on another."""
    draw, taken = ImageDraw.Draw(image), []
    for _ in range(int(rng.integers(10, 40))):
        r = rng.uniform(8, 26) * PER
        x, y = rng.uniform(r, image.width - r), rng.uniform(r, image.height - r)
        if any(math.hypot(x - a, y - b) < r + q + 6 * PER for a, b, q in taken):
            continue
        taken.append((x, y, r))
        colour = tuple(int(v) for v in rng.integers(20, 170, 3))
        kind = int(rng.integers(3))
        if kind == 0:
            draw.ellipse((x - r, y - r, x + r, y + r), fill=colour)
            draw.ellipse((x - r * 0.4, y - r * 0.9, x + r * 1.2, y + r * 0.7), fill="white")
        elif kind == 1:
            spikes = [(x + r * (1 if i % 2 else 0.4) * math.cos(i * math.pi / 5), y + r * (1 if i % 2 else 0.4) * math.sin(i * math.pi / 5)) for i in range(10)]
            draw.polygon(spikes, fill=colour)
        else:
            draw.polygon([(x - r, y + r * 0.4), (x + r, y + r * 0.4), (x + r * 0.6, y + r * 0.8), (x - r * 0.6, y + r * 0.8)], fill=colour)
            draw.polygon([(x, y - r), (x, y + r * 0.3), (x - r * 0.8, y + r * 0.3)], fill=colour)
    return image


def curves(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A chart: axes, a few tide curves, figures under it."""
    draw = ImageDraw.Draw(image)
    left, top, right, bottom = 30 * PER, 24 * PER, image.width - 20 * PER, image.height - 34 * PER
    draw.line([(left, top), (left, bottom), (right, bottom)], fill=INK, width=PER)
    for curve in range(int(rng.integers(2, 5))):
        turns, phase, tall = rng.uniform(1, 5), rng.uniform(0, 6), rng.uniform(0.1, 0.4)
        xs = np.linspace(left, right, 600)
        ys = (top + bottom) / 2 + np.sin((xs - left) / (right - left) * turns * 6.28 + phase) * (bottom - top) * tall
        draw.line(list(zip(xs, ys, strict=True)), fill=((190, 90, 50), INK, (60, 130, 120), (120, 90, 40))[curve], width=2 * PER)
    for i in range(13):
        x = left + (right - left) * i / 12
        draw.text((x - 3 * PER, bottom + 6 * PER), str(i), font=font(8), fill=INK)
    return image


def table(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Hours and heights in rows and columns, with rules between blocks."""
    draw, face = ImageDraw.Draw(image), font(7)
    for block, x in enumerate(range(20 * PER, image.width - 70 * PER, 90 * PER)):
        for row, y in enumerate(range(20 * PER, image.height - 20 * PER, 12 * PER)):
            if row % 8 == 7:
                continue
            hour = f"{int(rng.integers(24)):02}:{int(rng.integers(60)):02}"
            draw.text((x, y), f"{hour}   {rng.uniform(0, 6):.1f} m", font=face, fill=INK if block % 2 else (90, 60, 40))
    return image


def lines(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A line drawing: hills, a dome, waves in part of the sheet."""
    draw = ImageDraw.Draw(image)
    width, height = image.size
    xs = np.linspace(0.06, 0.94, 200)
    ridge = 0.5 + 0.06 * np.sin(xs * rng.uniform(6, 12)) + 0.03 * np.sin(xs * 31)
    draw.line([(x * width, y * height) for x, y in zip(xs, ridge, strict=True)], fill=INK, width=PER)
    x, r = rng.uniform(0.25, 0.7) * width, 0.12 * height
    draw.pieslice((x - r, 0.5 * height - 2 * r, x + r, 0.5 * height), 180, 360, outline=INK, width=PER)
    for row in range(6):
        for _ in range(12):
            x, y = rng.uniform(0.08, 0.9) * width, (0.66 + 0.04 * row) * height
            draw.arc((x, y, x + 14 * PER, y + 5 * PER), 180, 360, fill=(92, 122, 160), width=PER)
    return image


def rings(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A dial of rings and ticks in the middle."""
    draw = ImageDraw.Draw(image)
    cx, cy, most = image.width / 2, image.height / 2, min(image.size) * 0.46
    for r in np.linspace(0.35, 1, int(rng.integers(3, 6))) * most:
        draw.ellipse((cx - r, cy - r, cx + r, cy + r), outline=INK, width=2 * PER)
    for tick in range(60):
        a = tick * math.pi / 30
        draw.line([(cx + most * 0.9 * math.cos(a), cy + most * 0.9 * math.sin(a)), (cx + most * math.cos(a), cy + most * math.sin(a))], fill=INK, width=PER)
    return image


def panels(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Small scenes mounted side by side with bare card between them."""
    columns, rows = int(rng.integers(2, 4)), int(rng.integers(2, 4))
    gap = int(rng.integers(12, 22)) * PER
    wide, high = (image.width - gap * (columns + 1)) // columns, (image.height - gap * (rows + 1)) // rows
    for column in range(columns):
        for row in range(rows):
            small = scene(Image.new("RGB", (wide, high)), rng)
            image.paste(small, (gap + column * (wide + gap), gap + row * (high + gap)))
    return image


def plaque(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A name in large letters, a line above and below."""
    draw = ImageDraw.Draw(image)
    text = str(rng.choice(["TIDEMARK", "NEAP ROOM", "OBSERVATORY", "STAR HALL"]))
    face = font(image.height / PER * 0.2)
    draw.text((image.width / 2, image.height / 2), text, font=face, fill=INK, anchor="mm")
    for y in (0.28, 0.72):
        draw.line([(image.width * 0.12, image.height * y), (image.width * 0.88, image.height * y)], fill=(196, 92, 58), width=3 * PER)
    return image


def glow(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Soft lights that fade into bare ground."""
    draw = ImageDraw.Draw(image)
    for _ in range(int(rng.integers(4, 9))):
        r = rng.uniform(12, 30) * PER
        x, y = rng.uniform(r, image.width - r), rng.uniform(r, image.height - r)
        draw.ellipse((x - r, y - r, x + r, y + r), fill=tuple(int(v) for v in rng.integers(90, 220, 3)))
    return image.filter(ImageFilter.GaussianBlur(4 * PER))


def names(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A visitors' roll: names in columns, a crescent before each."""
    draw, face = ImageDraw.Draw(image), font(9)
    for x in range(24 * PER, image.width - 80 * PER, 105 * PER):
        for y in range(26 * PER, image.height - 26 * PER, 22 * PER):
            if rng.random() < 0.2:
                continue
            draw.ellipse((x, y, x + 8 * PER, y + 8 * PER), fill=(196, 150, 58))
            draw.ellipse((x + 3 * PER, y - PER, x + 10 * PER, y + 6 * PER), fill="white")
            draw.text((x + 14 * PER, y), " ".join(rng.choice(WORDS, 2)).title(), font=face, fill=INK)
    return image


def figures(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Constellations as dots and lines on bare ground, each with its name."""
    draw, face = ImageDraw.Draw(image), font(8)
    for gx in range(0, image.width - 100 * PER, 130 * PER):
        for gy in range(0, image.height - 90 * PER, 120 * PER):
            spots = [(gx + rng.uniform(15, 110) * PER, gy + rng.uniform(15, 85) * PER) for _ in range(6)]
            draw.line(spots, fill=(92, 122, 160), width=PER)
            for x, y in spots:
                r = rng.uniform(1, 3) * PER
                draw.ellipse((x - r, y - r, x + r, y + r), fill=INK)
            draw.text((gx + 30 * PER, gy + 94 * PER), str(rng.choice(WORDS)), font=face, fill=INK)
    return image


def phases(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Moons in rows, waxing and waning, a date under each."""
    draw, face = ImageDraw.Draw(image), font(8)
    across, r = 7, min(image.width / 7, image.height / 5) * 0.34
    for day in range(across * 4):
        x, y = (day % across + 0.5) * image.width / across, (day // across + 0.5) * image.height / 4
        draw.ellipse((x - r, y - r, x + r, y + r), fill=(30, 40, 70))
        lit = r * math.cos(day / 28 * 2 * math.pi)
        draw.ellipse((x - abs(lit), y - r, x + abs(lit), y + r), fill=(244, 236, 210))
        draw.text((x, y + r + 3 * PER), str(day + 1), font=face, fill=INK, anchor="mt")
    return image


KINDS = [scene, night, border, letters, motifs, curves, table, lines, rings, panels, plaque, glow, names, figures, phases]
SIZES = [(610, 318), (900, 600), (460, 460), (500, 700)]


def pieces() -> list[Piece]:
    """All of them."""

    def every() -> Iterator[Piece]:
        for k, kind in enumerate(KINDS):
            for s, size in enumerate(SIZES):
                way = "landscape" if (k + s) % 2 else "portrait"
                yield Piece(f"{kind.__name__}-{size[0]}x{size[1]}", size, way, kind, 100 * k + s)

    return list(every())
