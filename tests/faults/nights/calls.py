"""Harm at every file-system call in turn: SIGKILL, EIO, ENOSPC, by strace's injection.

strace counts calls by thread, so "the 57th call" names none. A first run is written down; each call in it is named by
what it is, the path it touches, and how often its thread had done that before. Job names come from content, so the same
call is met again in a fresh copy of the same studio. After the harm follows a plain run.

Two studios are gone through: one with fresh pieces, and one whose jobs were left in every state that a kill can leave them
in, so that recovery itself is harmed too.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from .bench import Bench, wait_for
from .ends import breaches
from .studio import BUSY, Piece, Studio, kill

READING = "read,pread64,getdents64,statx,newfstatat"
CHANGING = (
    "openat,write,pwrite64,copy_file_range,sendfile,ftruncate,mkdir,mkdirat,rmdir,rename,renameat,renameat2,link,linkat,"
    "symlink,symlinkat,unlink,unlinkat,fsync,fdatasync"
)
LINE = re.compile(r"(?P<thread>\d+) +(?P<call>\w+)\((?P<said>.*)")
HARMS = {"SIGKILL": "signal=SIGKILL", "EIO": "error=EIO", "ENOSPC": "error=ENOSPC"}
"""A kill at a call that only reads is one at the next that changes something, and no reading finds the disk full."""
LIMIT = 2
"""How many times as long as the unharmed run a harmed one may go on: a job that met trouble pauses for longer than that."""


@dataclass(frozen=True)
class Call:
    """The n-th time that some thread does this to that path, which is seen from the studio."""

    name: str
    path: str
    nth: int

    def __str__(self) -> str:
        return f"{self.name} {self.path} ({self.nth})"


def strace(studio: Studio, *words: str) -> tuple[str, ...]:
    """The words before the command line that let strace start it."""
    return ("strace", "-f", "-qq", "-o", f"{studio.root}.calls", "-e", "signal=none", *words)


def calls_of(studio: Studio) -> list[Call]:
    """Runs once and writes down every call that touches the studio."""
    studio.start("once", strace(studio, "-y", "-s", "4096", "-e", f"trace={READING},{CHANGING}")).wait(120)
    path = re.compile(rf"""["<]{re.escape(str(studio.root))}/([^">]+)[">]""")
    counts: Counter[tuple[str, str, str]] = Counter()
    seen: dict[Call, None] = {}
    for line in Path(f"{studio.root}.calls").read_text(errors="replace").splitlines():
        said = LINE.match(line)
        paths = list(dict.fromkeys(path.findall(said["said"].split(" = ")[0]))) if said else []
        for touched in paths:
            counts[said["thread"], said["call"], touched] += 1
        if paths:
            seen[Call(said["call"], paths[0], counts[said["thread"], said["call"], paths[0]])] = None
    return list(seen)


def interrupted(bench: Bench) -> tuple[Studio, list[Piece]]:
    """A studio with jobs killed before each of their moves: good ones make eight, refused ones five."""
    whole, given = bench.studio("interrupted"), []
    for number, moves in ((10, 8), (13, 5)):
        for nth in range(2, moves + 1):
            piece = Piece(number + 30 * nth)
            part = bench.studio(f"{piece.stem}")
            part.save(piece)
            part.start("once", strace(part, "-e", "trace=renameat2", "-e", f"inject=renameat2:{HARMS['SIGKILL']}:when={nth}")).wait(60)
            for folder in ("incoming", "incoming/.claimed", "outgoing", "outgoing/.staging", "kept", "refused"):
                (whole.root / folder).mkdir(exist_ok=True)
                for left in (part.root / folder).glob(f"{piece.stem}*"):
                    left.rename(whole.root / folder / left.name)
            given.append(piece)
    return whole, given


def harmed(bench: Bench, master: Studio, given: list[Piece], call: Call, harm: str, limit: float) -> tuple[bool, list[str]]:
    """Whether the call was met in a copy, and how the studio breaks its word after a plain run."""
    root = bench.scratch / f"{master.root.name}-{harm}-{abs(hash(call))}"
    shutil.copytree(master.root, root)
    studio = Studio(root, bench.binary)
    inject = ("-P", str(root / call.path), "-e", f"trace={call.name}", "-e", f"inject={call.name}:{HARMS[harm]}:when={call.nth}")
    run = studio.start("once", strace(studio, *inject))
    try:
        run.wait(limit)
    except subprocess.TimeoutExpired:
        kill(run)
    lines = Path(f"{root}.calls").read_text(errors="replace")
    met = "(INJECTED)" in lines or " = ?" in lines
    # The daemon under strace is not our child; it may take a moment to be gone.
    wait_for(lambda: studio.once() != BUSY, 10)
    broken = breaches(studio, given, as_meant=False)
    if broken:
        print(f"{harm} at {call}: {broken}", flush=True)
    else:
        shutil.rmtree(root)
    return met, broken


def choice(bench: Bench, every: list[Call]) -> list[Call]:
    """All of them, or above all the moves between states."""
    if bench.long:
        return every
    moves, rest = ([call for call in every if (call.name == "renameat2") == wanted] for wanted in (True, False))
    return moves[:: 1 + len(moves) // 13] + rest[:: 1 + len(rest) // 5]


def calls(bench: Bench) -> None:
    """Each harm at each call that makes fresh pieces."""
    if not traceable(bench):
        return
    fresh, given = bench.studio("fresh"), [Piece(0), Piece(3), Piece(4)]
    fresh.save(*given)
    harm_each(bench, fresh, given)


def recoveries(bench: Bench) -> None:
    """Each harm at each call that recovers what kills have left."""
    if traceable(bench):
        harm_each(bench, *interrupted(bench))


def traceable(bench: Bench) -> bool:
    """Whether calls can be harmed here."""
    there = shutil.which("strace") is not None
    if not there:
        bench.not_run("harm at every call", "strace is not installed")
    return there


def harm_each(bench: Bench, studio: Studio, given: list[Piece]) -> None:
    """Each harm at each call of a run in copies of a studio."""
    trial = Studio(shutil.copytree(studio.root, bench.scratch / f"{studio.root.name}-trial"), bench.binary)
    began = time.monotonic()
    every = calls_of(trial)
    limit = 1 + LIMIT * (time.monotonic() - began)
    bench.found.add(f"{studio.root.name}: ends well unharmed", not breaches(trial, given), f"{len(every)} calls")
    for harm in HARMS:
        chosen = choice(bench, [call for call in every if harm == "EIO" or call.name in CHANGING.split(",")])
        with ThreadPoolExecutor(2) as both:
            ends = list(both.map(lambda call: harmed(bench, studio, given, call, harm, limit), chosen))  # noqa: B023
        met, broken = sum(met for met, _ in ends), [complaint for _, found in ends for complaint in found]
        # Threads and scans do not always take turns alike, so a few calls are not met again; most must be.
        what = f"{studio.root.name}: {harm} at each call harms no piece"
        bench.found.add(what, met * 4 >= len(chosen) * 3 and not broken, f"{met} of {len(chosen)} met; {broken[:3]}")
        print(f"{harm} at {len(chosen)} calls of {studio.root.name}: {met} met, {len(broken)} breaches", flush=True)
