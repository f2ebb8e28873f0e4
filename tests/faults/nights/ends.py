"""What must hold after any night: every piece given in ends exactly once, whole, and nothing else is left."""

from __future__ import annotations

import io
import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

from .studio import Piece, Studio, folders, sha256

if TYPE_CHECKING:
    from judging.findings import Findings


def half(folder: Path) -> str:
    """What a visible finished folder lacks of being whole; nothing if it is."""
    try:
        record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
        if missing := set(record["files"]) ^ {file.name for file in folder.iterdir()}:
            return f"{folder.name}: not the files of its record: {sorted(missing)}"
        for file in folder.iterdir():
            data = file.read_bytes()
            if file.suffix == ".pdf" and not (data.startswith(b"%PDF-") and data.rstrip().endswith(b"%%EOF")):
                return f"{folder.name}: {file.name} is half a PDF ({len(data)} bytes)"
            if file.suffix == ".png":
                Image.open(io.BytesIO(data)).load()
            if not data:
                return f"{folder.name}: {file.name} is empty"
    except (OSError, ValueError, KeyError) as why:
        return f"{folder.name}: {why}"
    return ""


def half_refusal(folder: Path) -> str:
    """What a visible refusal lacks. What a killed worker left hidden beside the sources is not one."""
    given = [file for file in folder.iterdir() if file.suffix in {".png", ".yaml"} and not file.name.startswith(".")]
    sources = [file for file in given if file.name != "folder.yaml"]
    why = folder / "why.txt"
    if not why.is_file() or not why.stat().st_size:
        return f"{folder.name}: no reason given"
    return "" if sources and all(file.stat().st_size for file in sources) else f"{folder.name}: no sources"


def halves(studio: Studio) -> list[str]:
    """Everything visible that is not whole."""
    found = [half(folder) for folder in studio.finished()] + [half_refusal(folder) for folder in folders(studio.refused)]
    return [complaint for complaint in found if complaint]


def sources_in(folder: Path) -> Counter[str]:
    """Digests of all sources in the jobs of a folder: of the makers' files, not of ours."""
    ours = {"folder.yaml", "order.yaml", "record.json", "why.txt"}
    files = (file for job in folders(folder) for file in job.iterdir() if file.name not in ours)
    return Counter(sha256(file.read_bytes()) for file in files if not file.name.startswith("."))


def made_of(studio: Studio) -> Counter[str]:
    """Digests of the artwork that finished folders were made of."""
    digests: Counter[str] = Counter()
    for folder in studio.finished():
        try:
            digests[json.loads((folder / "record.json").read_text(encoding="utf-8"))["artwork"]["sha256"]] += 1
        except (OSError, ValueError, KeyError):
            digests[f"no record in {folder.name}"] += 1
    return digests


def breaches(studio: Studio, given: list[Piece], *, as_meant: bool = True) -> list[str]:
    """How the studio breaks its word about the pieces given to it; ``as_meant``: each also ends where it should."""
    made, kept, refused = made_of(studio), sources_in(studio.kept), sources_in(studio.refused)
    found = halves(studio)
    for piece in given:
        art = sha256(piece.picture)
        if made[art] + refused[art] != 1:
            found.append(f"{piece.stem} ended {made[art]} times finished, {refused[art]} times refused")
        elif as_meant and bool(made[art]) != piece.good:
            found.append(f"{piece.stem} was {'refused' if piece.good else 'finished'}")
        for digest in piece.digests():
            if kept[digest] + refused[digest] != 1:
                found.append(f"a source of {piece.stem} is kept {kept[digest]} times, refused {refused[digest]} times")
    if strangers := set(made) - {sha256(piece.picture) for piece in given}:
        found.append(f"made of what nobody gave: {sorted(strangers)}")
    found += [f"left lying: {place.relative_to(studio.root)}" for place in studio.waiting() + studio.unfinished()]
    return found


def judge(found: Findings, studio: Studio, given: list[Piece], what: str, *, as_meant: bool = True) -> bool:
    """Notes whether the invariant holds, and how many jobs ended how."""
    broken = breaches(studio, given, as_meant=as_meant)
    done, refused = len(studio.finished()), len(folders(studio.refused))
    counts = f"{len(given)} given, {done} finished, {refused} refused"
    return found.add(what, bool(given) and not broken, f"{counts}; {len(broken)} breaches {broken[:5]}" if broken else counts)
