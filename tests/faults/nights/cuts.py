"""Power cuts: what the disk holds at one moment is copied, and the copy is mounted as if after a cut.

The studio lies on an ext4 file system in an image file. Its processes are stopped for the moment of the copy; since the kernel
goes on writing, the copy is compared with the image afterwards and made good until nothing changed in between, so that it
is the disk at one single moment. Pieces are flushed when they are given, so each of them must be there after the cut.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .bench import Bench, shell
from .ends import breaches, halves
from .studio import Piece, Studio, children, kill

SIZE = 320 << 20
"""Of the disk: twice the room without which no job is begun."""
BLOCK = 1 << 16


@contextmanager
def mounted(place: Path, *how: str | Path) -> Iterator[str]:
    """Mounts for a while; gives what stands against it, if anything does."""
    place.mkdir(exist_ok=True)
    why = shell("mount", *how, place)
    try:
        yield why
    finally:
        if not why:
            # A worker may take a moment longer than its daemon.
            while shell("umount", place) and place.is_mount():
                time.sleep(0.1)


def extents(file: int) -> Iterator[tuple[int, int]]:
    """Where a sparse file has anything, block by block."""
    at = 0
    while True:
        try:
            at = os.lseek(file, at, os.SEEK_DATA)
        except OSError:
            return
        end = os.lseek(file, at, os.SEEK_HOLE)
        while at < end:
            yield at, min(BLOCK, end - at)
            at += BLOCK
        at = end


def copy_of_one_moment(image: Path, to: Path) -> None:
    """Copies until a whole comparison finds nothing that was written since."""
    source, goal = os.open(image, os.O_RDONLY), os.open(to, os.O_RDWR | os.O_CREAT | os.O_TRUNC)
    try:
        os.ftruncate(goal, SIZE)
        changed = True
        while changed:
            changed = False
            for at, size in extents(source):
                data = os.pread(source, size, at)
                if os.pread(goal, size, at) != data:
                    os.pwrite(goal, data, at)
                    changed = True
    finally:
        os.close(source)
        os.close(goal)


@contextmanager
def stopped(daemon: subprocess.Popen) -> Iterator[None]:
    """Holds the daemon and its workers for a moment."""
    held = [daemon.pid, *children(daemon)]
    send(held, signal.SIGSTOP)
    try:
        yield
    finally:
        send(held, signal.SIGCONT)


def send(to: list[int], what: signal.Signals) -> None:
    for number in to:
        try:
            os.kill(number, what)
        except ProcessLookupError:
            continue


def give(studio: Studio, piece: Piece) -> None:
    """So that it is on the disk when this returns."""
    studio.save_picture(piece, durable=True)
    studio.save_sidecar(piece, durable=True)
    for folder in {studio.place(piece).parent, studio.incoming}:
        handle = os.open(folder, os.O_RDONLY)
        os.fsync(handle)
        os.close(handle)


def after_the_cut(bench: Bench, copy: Path, given: list[Piece]) -> list[str]:
    """What is wrong with the studio on a copied disk, before and after a plain run."""
    with mounted(bench.scratch / "after", "-o", "loop", copy) as why:
        if why:
            return [f"the copy cannot be mounted: {why}"]
        studio = Studio(bench.scratch / "after" / "studio", bench.binary)
        found = [f"at once visible: {half}" for half in halves(studio)]
        studio.once()
        return found + breaches(studio, given)


def cuts(bench: Bench) -> None:
    """Copies at random moments while pieces come in."""
    image, copy, times = bench.scratch / "disk", bench.scratch / "copy", bench.much(8, 100)
    what = f"after {times} power cuts every piece ends once, whole"
    with image.open("wb") as file:
        file.truncate(SIZE)
    if why := shell("mkfs.ext4", "-q", "-F", "-J", "size=4", image):
        bench.not_run(what, why)
        return
    # The file system's own flushing each second instead of every fifth, so that its order tells more often.
    with mounted(bench.scratch / "before", "-o", "loop,commit=1", image) as why:
        if why:
            bench.not_run(what, f"nothing can be mounted here ({why})")
            return
        studio, given, broken = Studio(bench.scratch / "before" / "studio", bench.binary), [], []
        daemon = studio.start()
        try:
            os.sync()
            for cut in range(times):
                end = time.monotonic() + 0.2 + random.random()
                while time.monotonic() < end:
                    if len(studio.waiting()) < 12:
                        given.append(Piece(len(given)))
                        give(studio, given[-1])
                    time.sleep(0.02)
                with stopped(daemon):
                    copy_of_one_moment(image, copy)
                broken += [f"cut {cut}: {complaint}" for complaint in after_the_cut(bench, copy, given)]
        finally:
            kill(daemon, *children(daemon))
    bench.found.add(what, not broken and len(given) > times, f"{len(given)} given; {len(broken)} breaches {broken[:5]}")
