"""Profiles that must not be used without a word: made from good ones by changing bytes."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from . import art, pictures
from .findings import Findings
from .workbench import Piece, Workbench

OVERSIZED = (16 << 20) + 1
"""Bytes: one more than a profile may have."""
CURES = ("Cure:", "Give the printer", "Export the profile", "Fetch or make", "Set another")
"""By which a cure is known: in why.txt, and of a printer's profile in what the program says."""


def marked(profile: bytes, at: int, word: bytes) -> bytes:
    """A profile with other bytes in its head: its class stands at 12, its colour space at 16."""
    return profile[:at] + word + profile[at + len(word) :]


def padded(profile: bytes, length: int) -> bytes:
    """A profile of this length, which it states; what is added are zeros."""
    return struct.pack(">I", length) + profile[4:] + bytes(length - len(profile))


def without(profile: bytes, *names: bytes) -> bytes:
    """A profile whose tags of these names go by another that means nothing."""
    head = bytearray(profile)
    for i in range(struct.unpack_from(">I", profile, 128)[0]):
        at = 132 + 12 * i
        if bytes(head[at : at + 4]) in names:
            head[at : at + 4] = b"none"
    return bytes(head)


def astray(profile: bytes) -> bytes:
    """A profile whose tags all lie beyond its end."""
    head = bytearray(profile)
    for i in range(struct.unpack_from(">I", profile, 128)[0]):
        struct.pack_into(">I", head, 136 + 12 * i, 0x7FFF0000)
    return bytes(head)


def shuffled(profile: bytes) -> bytes:
    """A profile of which only head and list of tags are left; the rest is noise."""
    tags = struct.unpack_from(">I", profile, 128)[0]
    kept = 132 + 12 * tags
    return profile[:kept] + np.random.default_rng(3).bytes(len(profile) - kept)


def embedded(profiles: dict[str, bytes]) -> dict[str, tuple[Piece, str]]:
    """Artwork with a wrong profile, and a word that its refusal must have."""
    photo = np.asarray(art.photo(128, 96, seed=9))
    ink, gray = np.concatenate([255 - photo, photo[..., :1] // 8], -1), photo[..., :1]
    p3, dye = profiles["p3"], profiles["dye-v2"]
    broken = {
        "gray": (profiles["gray"], "GRAY"),
        "cmyk": (profiles["cmyk"], "CMYK"),
        "garbage": (np.random.default_rng(4).bytes(3000), "unreadable"),
        "text": (b"no profile at all", "unreadable"),
        "half": (dye[: len(dye) // 2], "unreadable"),
        "head-only": (p3[:100], "unreadable"),
        "astray": (astray(p3), "unreadable"),
        "shuffled": (shuffled(dye), "unreadable"),
        "no-curves": (without(p3, b"rTRC", b"gTRC", b"bTRC"), "unreadable"),
        "no-tables": (without(dye, b"A2B0", b"A2B1", b"A2B2"), "unreadable"),
        "link": (marked(dye, 12, b"link"), "unreadable"),
        "named-colours": (marked(dye, 12, b"nmcl"), "unreadable"),
        "abstract": (marked(dye, 12, b"abst"), "unreadable"),
        "class-unknown": (marked(dye, 12, b"xxxx"), "unreadable"),
        "lab-space": (marked(p3, 16, b"Lab "), "Lab"),
        "oversized": (padded(p3, OVERSIZED), "large"),
    }
    wrong = {}
    for name, (profile, word) in broken.items():
        files = {
            "png": pictures.png(photo, pictures.iccp(profile)),
            "tif": pictures.saved(photo, "TIFF", icc_profile=profile),
            "webp": pictures.saved(photo, "WEBP", icc_profile=profile, lossless=True),
        }
        if name != "oversized":
            # A JPEG holds at most 255 pieces of 64 KiB.
            files["jpg"] = jpeg(photo, profile)
        wrong |= {f"{name}-{ending}": (ending, content, word) for ending, content in files.items()}
    wrong |= {
        "rgb-on-gray": ("png", pictures.png(gray, pictures.iccp(p3)), "RGB"),
        "cmyk-on-gray": ("tif", pictures.saved(gray, "TIFF", icc_profile=profiles["cmyk"]), "CMYK"),
        "rgb-on-ink-tif": ("tif", pictures.saved(ink, "TIFF", icc_profile=p3), "RGB"),
        "rgb-on-ink-jpg": ("jpg", pictures.saved(ink, "JPEG", icc_profile=p3), "RGB"),
        "none-on-ink": ("tif", pictures.saved(ink, "TIFF"), "CMYK without a profile"),
        "piece-twice": ("jpg", jpeg(photo, dye, numbers=(1, 1)), "missing or doubled"),
        "piece-lost": ("jpg", jpeg(photo, dye, numbers=(1,)), "missing or doubled"),
    }
    return {
        name: (Piece(f"art-{name}", ending, content, (128, 96)), word)
        for name, (ending, content, word) in wrong.items()
    }


def jpeg(pixels: np.ndarray, profile: bytes, numbers: tuple[int, ...] = ()) -> bytes:
    """A JPEG with a profile in pieces of 64,000 bytes, all of them or those of these numbers."""
    parts = [profile[i : i + 64_000] for i in range(0, len(profile), 64_000)]
    segments = b""
    for number in numbers or range(1, len(parts) + 1):
        content = b"ICC_PROFILE\0" + bytes((number, len(parts))) + parts[number - 1]
        segments += b"\xff\xe2" + struct.pack(">H", len(content) + 2) + content
    plain = pictures.saved(pixels, "JPEG")
    return plain[:2] + segments + plain[2:]


def for_printers(profiles: dict[str, bytes]) -> dict[str, bytes]:
    """Profiles that no printer can be given."""
    p3, dye = profiles["p3"], profiles["dye-v2"]
    return {
        "input": marked(p3, 12, b"scnr"),
        "input-tables": marked(dye, 12, b"scnr"),
        "space": marked(p3, 12, b"spac"),
        "link": marked(dye, 12, b"link"),
        "named-colours": marked(dye, 12, b"nmcl"),
        "abstract": marked(dye, 12, b"abst"),
        "lab-space": marked(dye, 16, b"Lab "),
        "half": dye[: len(dye) // 2],
        "half-and-says-so": struct.pack(">I", len(dye) // 2) + dye[4 : len(dye) // 2],
        "shuffled": shuffled(dye),
        "astray": astray(dye),
        "no-way-back": without(dye, b"B2A0", b"B2A1", b"B2A2"),
        "garbage": np.random.default_rng(4).bytes(3000),
        "empty": b"",
        "oversized": padded(dye, OVERSIZED),
    }


def judge(root: Path, binary: Path, profiles: dict[str, bytes], found: Findings) -> None:
    """Artwork all in one studio, printers each in one of their own: a wrong one may stop the studio."""
    wrong = embedded(profiles)
    bench = Workbench(root / "art")
    bench.prepare([piece for piece, _ in wrong.values()])
    bench.work(binary)
    for piece, word in wrong.values():
        found.job, folder = piece.name, bench.finished(piece)
        why = f"finished as {folder.name}" if folder else bench.why(piece)
        refused = folder is None and word in why
        found.add("is refused with its cure", refused and cured(why), why)
    photo = np.asarray(art.photo(128, 96, seed=9))
    for name, profile in for_printers(profiles).items():
        found.job = f"printer-{name}"
        bench = Workbench(root / name, do="convert", printers={"wrong": (profile, "relative")})
        piece = Piece("photo", "png", pictures.png(photo, pictures.iccp(profiles["p3"])), (128, 96), "wrong")
        bench.prepare([piece])
        done = bench.work(binary)
        why = " ".join((done.stdout + done.stderr).split())
        refused = bench.finished(piece) is None and done.returncode not in (0, 101) and "profile" in why
        found.add("is refused with its cure", refused and cured(why), why[-400:])


def cured(why: str) -> bool:
    """Whether a refusal says what to do."""
    return any(word in why for word in CURES)
