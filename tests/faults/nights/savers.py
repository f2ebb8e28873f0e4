"""How programs save: slowly, with pauses, again and again. Each picture ends as one job, made of all of it."""

from __future__ import annotations

import io
import json
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from .bench import Bench, wait_for
from .ends import breaches
from .studio import Piece, Studio, children, folders, kill, sha256

PAUSE = 3
"""Seconds, three times as long as the studio leaves a file alone."""


def noise(number: int, kind: str) -> bytes:
    """A picture that does not pack, so that half of the file is half of the picture."""
    file = io.BytesIO()
    Image.fromarray(np.random.default_rng(number).integers(0, 200, (200, 200, 3), np.uint8)).save(file, kind)
    return file.getvalue()


def steady(path: Path, data: bytes) -> None:
    """A little every now and then."""
    with path.open("wb", buffering=0) as file:
        for at in range(0, len(data), len(data) // 12 + 1):
            file.write(data[at : at + len(data) // 12 + 1])
            time.sleep(0.3)


def stalled(path: Path, data: bytes) -> None:
    """Half of it, and after a long pause the rest."""
    with path.open("wb", buffering=0) as file:
        file.write(data[: len(data) // 2])
        time.sleep(PAUSE)
        file.write(data[len(data) // 2 :])


def reopened(path: Path, data: bytes) -> None:
    """The same, but closed in between, as scanners do it."""
    path.write_bytes(data[: len(data) // 2])
    time.sleep(PAUSE)
    with path.open("ab") as file:
        file.write(data[len(data) // 2 :])


def made_beforehand(path: Path, data: bytes) -> None:
    """Of its whole size at once, and filled after a long pause."""
    with path.open("wb", buffering=0) as file:
        file.write(data[:100])
        file.truncate(len(data))
        time.sleep(PAUSE)
        file.write(data[100:])


def last_first(path: Path, data: bytes) -> None:
    """Its end before its middle, so that its end mark says nothing."""
    with path.open("wb", buffering=0) as file:
        file.write(data[: len(data) // 2])
        file.seek(len(data) - 100)
        file.write(data[-100:])
        time.sleep(PAUSE)
        file.seek(len(data) // 2)
        file.write(data[len(data) // 2 : -100])


Save = Callable[[Path, bytes], None]
# TIFF has no end mark: of those only an open file tells. Nothing tells of one that was closed half-way but its end mark.
SLOW: dict[str, tuple[Save, str]] = {
    "steady.png": (steady, "PNG"), "stalled.png": (stalled, "PNG"), "reopened.png": (reopened, "PNG"), "beforehand.png": (made_beforehand, "PNG"),
    "scanned.jpg": (reopened, "JPEG"), "steady-too.tif": (steady, "TIFF"), "stalled-too.tif": (stalled, "TIFF"),
    "beforehand-too.tif": (made_beforehand, "TIFF"), "last-first.tif": (last_first, "TIFF"),
}  # fmt: skip


def writers(bench: Bench) -> None:
    """All of them at once, into a studio that waits for a second only."""
    studio, given = bench.studio("writers", quiet="1s"), {}
    daemon = studio.start()
    saving = []
    for number, (name, (save, kind)) in enumerate(SLOW.items()):
        given[name] = noise(number, kind)
        (studio.incoming / name).with_suffix(".yaml").write_bytes(Piece(0).sidecar)
        saving.append(threading.Thread(target=save, args=(studio.incoming / name, given[name])))
        saving[-1].start()
    for one in saving:
        one.join()
    wait_for(lambda: not studio.waiting() and not studio.unfinished(), 60)
    kill(daemon, *children(daemon))
    wrong = [name for name, data in given.items() if made_of(studio, data) != 1]
    refused = [folder.name for folder in folders(studio.refused)]
    figures = f"{len(given)} writers, {len(studio.finished())} finished; wrong {wrong}, refused {refused}"
    bench.found.add("slow writers end as one whole job each", not wrong and not refused and len(studio.finished()) == len(given), figures)


def made_of(studio: Studio, data: bytes) -> int:
    """How many finished jobs were made of it, and kept it."""
    digest = sha256(data)
    records = (json.loads((folder / "record.json").read_text(encoding="utf-8")) for folder in studio.finished())
    made = sum(record["artwork"]["sha256"] == digest for record in records)
    kept = sum(sha256(file.read_bytes()) == digest for folder in folders(studio.kept) for file in folder.iterdir() if file.suffix != ".json")
    return made if made == kept else -1


def replaced(bench: Bench) -> None:
    """One picture is saved anew again and again, by a rename as editors do it, while it is taken and read.

    Each version that is taken ends once, whole; the last one always does.
    """
    studio, versions = bench.studio("replaced"), [Piece(5 * number) for number in range(bench.much(60, 1000))]
    daemon, target, hidden = studio.start(), studio.incoming / "chart.png", studio.incoming / ".chart.png.tmp"
    for version in versions:
        hidden.write_bytes(version.picture)
        hidden.replace(target)
        if not (studio.incoming / "chart.yaml").exists():
            (studio.incoming / ".chart.yaml").write_bytes(versions[0].sidecar)
            (studio.incoming / ".chart.yaml").rename(studio.incoming / "chart.yaml")
        time.sleep(0.02)
    if not (studio.incoming / "chart.yaml").exists() and target.exists():
        (studio.incoming / "chart.yaml").write_bytes(versions[0].sidecar)
    wait_for(lambda: not studio.waiting() and not studio.unfinished(), 60)
    kill(daemon, *children(daemon))
    counts = [made_of(studio, version.picture) for version in versions]
    taken = [version for version, count in zip(versions, counts, strict=True) if count]
    whole = set(counts) <= {0, 1} and not [breach for breach in breaches(studio, []) if "made of" not in breach]
    done, figures = len(studio.finished()), f"{len(taken)} of {len(versions)} were taken"
    bench.found.add("a picture saved anew while it is read is one version, whole", whole and done == len(taken) > 1, figures)
    bench.found.add("the last version is always made", counts[-1] == 1, f"{counts[-5:]}")
