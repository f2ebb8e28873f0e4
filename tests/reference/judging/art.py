"""Artwork to judge with: a photograph-like picture with grain, flat art, a tint; the same every time."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from PIL import Image, ImageDraw


def photo(width: int, height: int, seed: int) -> Image.Image:
    """Soft shapes at several sizes, edges, and fine grain; no white and no black."""
    chance = np.random.default_rng(seed)
    total = np.zeros((height, width, 3), np.float32)
    for cells, weight in ((5, 70.0), (17, 35.0), (61, 20.0), (180, 10.0)):
        down = max(2, cells * height // width)
        coarse = chance.uniform(-1, 1, (down, cells, 3)).astype(np.float32)
        for channel in range(3):
            layer = Image.fromarray(coarse[..., channel]).resize((width, height), Image.Resampling.BICUBIC)
            total[..., channel] += np.asarray(layer) * weight
    total[total[..., 0] > 40] *= 0.7
    total += chance.normal(0, 5, (height, width, 1)).astype(np.float32)
    return Image.fromarray(np.clip(total + 120, 12, 236).astype(np.uint8))


def flat(width: int, height: int, seed: int, clear: bool = False) -> Image.Image:
    """Shapes of even colour with smooth edges, on a ground of colour or, where ``clear``, on none."""
    chance = np.random.default_rng(seed)
    picture = Image.new("RGBA", (width * 2, height * 2), (238, 226, 196, 0 if clear else 255))
    draw = ImageDraw.Draw(picture)
    for _ in range(60):
        x, y = chance.uniform(0, width * 2), chance.uniform(0, height * 2)
        r = chance.uniform(0.02, 0.14) * width
        colour = (*(int(v) for v in chance.integers(10, 230, 3)), 255)
        if chance.random() < 0.5:
            draw.ellipse((x - r, y - r * 0.7, x + r, y + r * 0.7), fill=colour)
        else:
            points = [(x + r * np.cos(a), y + r * np.sin(a)) for a in chance.uniform(0, 6.28, 4)]
            draw.polygon(points, fill=colour)
    small = picture.resize((width, height), Image.Resampling.BOX)
    return small if clear else small.convert("RGB")


def tint(width: int, height: int) -> Image.Image:
    """One pale colour: inked all over, and nothing in it is dark."""
    return Image.new("RGB", (width, height), (206, 224, 240))


Part = tuple[float, float, float, float]
"""Left, top, width and height as shares of a picture's."""


def edges(picture: Image.Image, part: Part) -> tuple[int, int, int, int]:
    """A part in whole pixels: left, top, right, bottom."""
    x, y, w, h = part
    across, down = picture.width, picture.height
    return round(x * across), round(y * down), round((x + w) * across), round((y + h) * down)


def only(picture: Image.Image, parts: Iterable[Part], ground: int = 255) -> Image.Image:
    """What lies in some parts of a picture; the rest is bare, or of one grey."""
    left = Image.new("RGB", picture.size, (ground, ground, ground))
    for part in parts:
        box = edges(picture, part)
        left.paste(picture.crop(box), box)
    return left


def words(width: int, height: int, parts: Iterable[Part], seed: int) -> Image.Image:
    """Paragraphs of lines of word-like strokes, each filling its part; between them all is bare."""
    chance = np.random.default_rng(seed)
    picture = Image.new("RGB", (width, height), (255, 255, 255))
    draw = ImageDraw.Draw(picture)
    line = max(6, height // 90)
    for part in parts:
        left, top, right, bottom = edges(picture, part)
        for y in range(top, bottom - line // 2, line):
            x = left
            while x < right:
                end = min(x + int(chance.integers(line // 2, line * 4)), right)
                draw.rectangle((x, y, end - 1, y + line // 2), fill=(20, 30, int(chance.integers(40, 120))))
                x = end + line // 3 + 1
    return picture
