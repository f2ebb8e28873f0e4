"""Those who come and go while the studio works: one saves pieces, one takes finished jobs away."""

from __future__ import annotations

import errno
import random
import threading
import time
from pathlib import Path

from .ends import half, half_refusal
from .studio import Piece, Studio, folders


class Person(threading.Thread):
    """Does something again and again until told to stop; leaving it waits for that."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.stopped = threading.Event()
        self.trouble: Exception | None = None

    def __enter__(self) -> Person:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopped.set()
        self.join()
        if self.trouble:
            raise self.trouble

    def run(self) -> None:
        try:
            while not self.stopped.is_set():
                self.turn()
            self.turn()
        except Exception as why:  # noqa: BLE001 - told by whoever waits for this thread
            self.trouble = why

    def turn(self) -> None:
        raise NotImplementedError


class Maker(Person):
    """Saves piece after piece, as long as not too many wait; some sidecars come late."""

    def __init__(self, studio: Studio, pause: float = 0.02, most: int = 60) -> None:
        super().__init__()
        self.studio, self.pause, self.most = studio, pause, most
        self.given: list[Piece] = []
        self.late: list[tuple[float, Piece]] = []

    def turn(self) -> None:
        now = time.monotonic()
        for due, piece in list(self.late):
            if due <= now or self.stopped.is_set():
                self.studio.save_sidecar(piece)
                self.late.remove((due, piece))
        if self.stopped.is_set():
            return
        if len(self.studio.waiting()) < self.most:
            piece = Piece(len(self.given))
            self.given.append(piece)
            self.studio.save_picture(piece)
            if piece.late:
                self.late.append((now + 0.3, piece))
            else:
                self.studio.save_sidecar(piece)
        time.sleep(self.pause)


class Collector(Person):
    """Watches what appears without a pause and takes half of the finished jobs away at once."""

    def __init__(self, studio: Studio) -> None:
        super().__init__()
        self.studio = studio
        self.seen: set[tuple[str, int]] = set()
        self.halves: list[str] = []
        self.taken = 0

    def turn(self) -> None:
        for folder in folders(self.studio.outgoing):
            if self.is_new(folder):
                self.look(half(folder))
                if random.random() < 0.5:
                    self.take_away(folder)
        for folder in folders(self.studio.refused):
            if self.is_new(folder):
                self.look(half_refusal(folder))
        time.sleep(0.002)

    def is_new(self, folder: Path) -> bool:
        key = (str(folder), folder.stat().st_ino)
        known = key in self.seen
        self.seen.add(key)
        return not known

    def look(self, complaint: str) -> None:
        if complaint:
            self.halves.append(complaint)

    def take_away(self, folder: Path) -> None:
        """Under a number, since the name may come again; from a disk that may only be read nothing can be taken."""
        try:
            folder.rename(self.studio.collected / f"{self.taken}-{folder.name}")
        except OSError as why:
            if why.errno != errno.EROFS:
                raise
        else:
            self.taken += 1
