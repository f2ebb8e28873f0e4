"""A studio of tiny jobs: pieces to give in, the folders, and the built program working in them."""

from __future__ import annotations

import hashlib
import io
import json
import os
import signal
import subprocess
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

BLANK = {
    "width": "2in", "height": "2in", "shape": "rectangle", "ppi_floor": 1, "ppi_refuse": 1, "colour": "white",
    "substrate": "polyester-cloth",
}  # fmt: skip
STAGES = [{"resize": {"ppi": "native"}}, {"profile": {"do": "tag"}}, "mirror", {"overlap": {"lap": "5mm"}}, "tile", "marks", "press"]
BUSY = 75
"""The exit code of one that found another at work in the studio."""
SHELF = "shelf"
"""A folder in the inbox with defaults: its pictures come without sidecars."""


def sha256(data: bytes) -> str:
    """The digest in hex."""
    return hashlib.sha256(data).hexdigest()


@dataclass(frozen=True)
class Piece:
    """One picture with its order, no two alike."""

    number: int

    @property
    def good(self) -> bool:
        """Whether it can be done; the others name a blank nobody knows."""
        return self.number % 5 != 3

    @property
    def late(self) -> bool:
        """Whether its sidecar is saved a while after the picture."""
        return self.number % 4 == 1

    @property
    def on_shelf(self) -> bool:
        """Whether its folder's defaults are all the order it has."""
        return self.good and self.number % 6 == 4

    @property
    def stem(self) -> str:
        return f"chart{self.number}"

    @property
    def picture(self) -> bytes:
        """A PNG of 24 x 24 pixels; the number is its first pixels, since names are not to be believed."""
        picture = Image.new("RGB", (24, 24), (20, 60, 120))
        for i, byte in enumerate(self.number.to_bytes(4, "big")):
            picture.putpixel((i, 0), (byte, 255 - byte, 80))
        file = io.BytesIO()
        picture.save(file, "PNG")
        return file.getvalue()

    @property
    def sidecar(self) -> bytes | None:
        """The order; what is JSON is YAML."""
        if self.on_shelf:
            return None
        blank = BLANK if self.good else "cloud-of-steam"
        return json.dumps({"blank": blank, "allow_low_ppi": True, "note": f"piece {self.number}"}).encode()

    def digests(self) -> list[str]:
        """Of all its sources."""
        return [sha256(data) for data in (self.picture, self.sidecar) if data is not None]


class Studio:
    """One studio in its own folder, which need not be there yet."""

    def __init__(self, root: Path, binary: Path, *, wait: str = "10m", quiet: str = "0s") -> None:
        self.root, self.binary = root, binary
        self.config = root / "seamwright.yaml"
        self.incoming, self.outgoing = root / "incoming", root / "outgoing"
        self.refused, self.kept = root / "refused", root / "kept"
        self.collected = root / "collected"
        self.log = root.with_name(f"{root.name}.log")
        for folder in (self.incoming / SHELF, self.outgoing, self.collected):
            folder.mkdir(parents=True, exist_ok=True)
        config = {"studio": ".", "stages": STAGES, "workers": 1, "quiet": quiet, "wait": wait}
        self.config.write_text(json.dumps(config), encoding="utf-8")
        defaults = {"blank": BLANK, "allow_low_ppi": True}
        (self.incoming / SHELF / "folder.yaml").write_text(json.dumps(defaults), encoding="utf-8")

    def set(self, **keys: object) -> None:
        """Changes these keys of the configuration."""
        said = json.loads(self.config.read_text(encoding="utf-8"))
        self.config.write_text(json.dumps(said | keys), encoding="utf-8")

    def place(self, piece: Piece) -> Path:
        """Where a piece's picture is saved."""
        folder = self.incoming / SHELF if piece.on_shelf else self.incoming
        return folder / f"{piece.stem}.png"

    def save_picture(self, piece: Piece, *, durable: bool = False) -> None:
        """In place and in two halves, as a slow program does it."""
        data = piece.picture
        with self.place(piece).open("wb", buffering=0) as file:
            file.write(data[:50])
            file.write(data[50:])
            if durable:
                os.fsync(file.fileno())

    def save_sidecar(self, piece: Piece, *, durable: bool = False) -> None:
        """Beside it under a hidden name, then renamed, as an editor does it."""
        if piece.sidecar is None:
            return
        hidden, to = self.incoming / f".{piece.stem}.yaml", self.incoming / f"{piece.stem}.yaml"
        with hidden.open("wb", buffering=0) as file:
            file.write(piece.sidecar)
            if durable:
                os.fsync(file.fileno())
        hidden.rename(to)

    def save(self, *pieces: Piece) -> None:
        """Pieces, one after the other, with their orders."""
        for piece in pieces:
            self.save_picture(piece)
            self.save_sidecar(piece)

    def command(self, verb: str) -> list[str]:
        """The command line."""
        return [str(self.binary), verb, "--config", str(self.config)]

    def start(self, verb: str = "watch", before: tuple[str, ...] = (), env: dict[str, str] | None = None) -> subprocess.Popen:
        """Starts it in a session of its own; what it says goes into the log."""
        with self.log.open("ab") as log:
            return subprocess.Popen(
                [*before, *self.command(verb)], stdout=log, stderr=log, start_new_session=True, cwd="/",
                env=os.environ | (env or {}),
            )  # fmt: skip

    def once(self, limit: float = 120) -> int:
        """Works off what lies in the inbox; the exit code."""
        run = self.start("once")
        try:
            return run.wait(limit)
        except subprocess.TimeoutExpired:
            kill(run)
            return -int(signal.SIGALRM)

    def finished(self) -> list[Path]:
        """Folders of finished jobs, taken away or not."""
        return [*folders(self.outgoing), *folders(self.collected)]

    def waiting(self) -> list[Path]:
        """Sources in the inbox."""
        if not self.incoming.is_dir():
            return []
        places = [*self.incoming.iterdir(), *(self.incoming / SHELF).glob("*")]
        return [place for place in places if place.is_file() and not place.name.startswith(".") and place.stem != "folder"]

    def unfinished(self) -> list[Path]:
        """What lies between the states: claims, staged files, copies half made."""
        claims = [place for place in (self.incoming / ".claimed").glob("*") if place.name != ".now"]
        halves = [*self.kept.glob(".*.part"), *self.refused.glob(".*.part")]
        return [*claims, *(self.outgoing / ".staging").glob("*"), *halves]


def folders(of: Path) -> list[Path]:
    """The visible folders in a folder."""
    if not of.is_dir():
        return []
    return [place for place in of.iterdir() if not place.name.startswith(".") and place.is_dir()]


def children(process: subprocess.Popen) -> list[int]:
    """The workers of a running daemon."""
    found = []
    for said in Path(f"/proc/{process.pid}/task").glob("*/children"):
        try:
            found += [int(number) for number in said.read_text().split()]
        except OSError:
            continue
    return found


def kill(process: subprocess.Popen, *more: int) -> None:
    """SIGKILL to the daemon and to what it was started through, then to these of its workers, which are groups of their own."""
    os.killpg(process.pid, signal.SIGKILL)
    for number in more:
        try:
            os.kill(number, signal.SIGKILL)
        except ProcessLookupError:
            continue
    process.wait()
