"""Pictures converted to a printer's values: against LittleCMS in double precision, seen through the printer's profile."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from . import art, littlecms, pictures
from .delta import ciede2000
from .findings import Findings
from .tagged import in_ink
from .workbench import Piece, Workbench, sheets

MEAN, MOST = 0.1, 1.0
"""Differences allowed, CIEDE2000, beside what the rounding to 8 bits costs."""
SIZE = 400, 250
"""Pixels across and down: 100,000 of them."""
INTENTS = {
    "perceptual": littlecms.PERCEPTUAL, "relative": littlecms.RELATIVE,
    "saturation": littlecms.SATURATION, "absolute": littlecms.ABSOLUTE,
}  # fmt: skip


@dataclass(frozen=True)
class Source:
    """A picture in a profile's values."""

    name: str
    pixels: np.ndarray
    profile: bytes
    tagged: bool = True

    def file(self) -> tuple[str, bytes]:
        """Its ending and content."""
        if self.pixels.shape[2] == 4:
            return "tif", pictures.saved(self.pixels, "TIFF", icc_profile=self.profile)
        return "png", pictures.png(self.pixels, pictures.iccp(self.profile) if self.tagged else b"")


def sources(profiles: dict[str, bytes]) -> dict[str, Source]:
    """Pictures by name: a photograph, and random colours."""
    width, height = SIZE
    chance = np.random.default_rng(11)
    photo = np.asarray(art.photo(width, height, seed=12))
    random = chance.integers(0, 256, (height, width, 4), dtype=np.uint8)
    deep = chance.integers(0, 65536, (height, width, 3), dtype=np.uint16)
    made = [
        Source("srgb-photo", photo, profiles["srgb"], tagged=False),
        Source("srgb-random", random[..., :3], profiles["srgb"], tagged=False),
        Source("p3-photo", photo, profiles["p3"]),
        Source("p3-random", deep, profiles["p3"]),
        Source("cmyk-photo", in_ink(photo), profiles["cmyk"]),
        Source("cmyk-random", random, profiles["cmyk"]),
        Source("printer-random", random[..., :3], profiles["dye-v2"]),
        Source("gray-random", random[..., :1], profiles["gray"]),
    ]
    return {source.name: source for source in made}


def jobs(profiles: dict[str, bytes]) -> list[tuple[Source, str, str]]:
    """Which picture to which printer by which intent."""
    made = sources(profiles)
    ways = [(name, target) for name in made for target in ("dye-v2", "dye-v4")]
    ways += [(name, target) for name in ("srgb-random", "cmyk-random", "printer-random") for target in ("cmyk", "p3")]
    return [(made[name], target, intent) for name, target in ways for intent in INTENTS]


@dataclass(frozen=True)
class Compared:
    """Stored values against exact ones, as Lab differences."""

    all: np.ndarray
    """With everything."""
    rounding: np.ndarray
    """What rounding the exact values to 8 bits does by itself."""
    beyond: np.ndarray
    """What rounding does not explain: from the exact value to the nearest one that rounds to what is stored."""

    def held(self, most: float = MOST) -> bool:
        """Whether the difference is allowed."""
        return bool(self.beyond.mean() <= MEAN and self.beyond.max() <= most
                    and self.all.mean() <= MEAN + self.rounding.mean() and self.all.max() <= most + self.rounding.max())  # fmt: skip

    def figures(self) -> str:
        """Mean and most of each."""
        parts = (("off by", self.all), ("rounding alone", self.rounding), ("beyond rounding", self.beyond))
        return "; ".join(f"{name} {apart.mean():.3f}, most {apart.max():.3f}" for name, apart in parts)


def compare(stored: np.ndarray, exact: np.ndarray, target: bytes) -> Compared:
    """Stored bytes against exact values of a printer."""
    seen = stored / 255
    nearest = np.clip(exact, seen - 0.5 / 255, seen + 0.5 / 255)
    lab = lambda values: littlecms.convert(values, target, littlecms.LAB)  # noqa: E731
    wanted = lab(exact)
    return Compared(*(ciede2000(wanted, lab(values)) for values in (seen, np.rint(exact * 255) / 255, nearest)))


def exact(source: Source, target: bytes, intent: str) -> np.ndarray:
    """What LittleCMS makes of a picture: black points are matched with the relative intent, elsewhere it decides."""
    values = source.pixels / np.iinfo(source.pixels.dtype).max
    if source.profile == target:
        return values
    return littlecms.convert(values, source.profile, target, INTENTS[intent], black_point=intent == "relative")


def judge(root: Path, binary: Path, profiles: dict[str, bytes], found: Findings) -> dict[str, np.ndarray]:
    """Lets the program convert them all; gives what the sheets of each hold."""
    printers = {
        f"{name}-{intent}": (profiles[name], intent)
        for name in ("dye-v2", "dye-v4", "cmyk", "p3")
        for intent in INTENTS
    }
    work, pieces = jobs(profiles), []
    for source, target, intent in work:
        ending, content = source.file()
        pieces.append(Piece(f"{source.name}-to-{target}-{intent}", ending, content, SIZE, f"{target}-{intent}"))
    bench = Workbench(root, do="convert", printers=printers)
    bench.prepare(pieces)
    bench.work(binary)
    held = {}
    for (source, target, intent), piece in zip(work, pieces, strict=True):
        found.job, folder = piece.name, bench.finished(piece)
        if folder is None:
            found.add("as LittleCMS converts", False, bench.why(piece))
            continue
        sheet = sheets(folder)
        held[piece.name] = sheet.stored
        compared = compare(sheet.stored, exact(source, profiles[target], intent), profiles[target])
        # The job is warned that colours for a display will be off: between the table of a printer and a display, whose
        # black is much deeper, tables are too coarse in the darkest places (5 CIEDE2000 LittleCMS's own for four inks, 2
        # ours for RGB). On average they must be right.
        misused = target == "p3" and source.name in ("cmyk-random", "printer-random")
        right = compared.held(np.inf if misused else MOST)
        found.add("as LittleCMS converts", right, compared.figures())
        found.add("carries the printer's profile", sheet.profile == profiles[target])
        if target == "p3":
            warned = [text for text in sheet.record["warnings"] if "describes a display" in text]
            found.add("warns that the profile is a display's", bool(warned))
    return held
