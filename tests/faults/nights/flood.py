"""Thousands of pictures moved in at once: more events than the kernel keeps, and none may be forgotten.

The pictures lack sidecars and are refused at once, so that the way of a job is what costs. Cost is processor time of the
daemon and its workers, which does not know how busy the machine is otherwise.
"""

from __future__ import annotations

import os
import re
import subprocess
import time
from collections import Counter
from pathlib import Path

from .bench import Bench
from .ends import sources_in
from .studio import Piece, Studio, children, kill, sha256

SAMPLE = 300
"""Jobs over which cost is counted."""
FEW = 100


def cost(daemon: subprocess.Popen) -> float:
    """Seconds of processor time so far, of the daemon and the workers that ended."""
    fields = Path(f"/proc/{daemon.pid}/stat").read_text().rpartition(")")[2].split()
    return sum(int(field) for field in fields[11:15]) / os.sysconf("SC_CLK_TCK")


def memory(daemon: subprocess.Popen) -> int:
    """What it holds, in KiB."""
    return int(re.search(r"VmRSS:\s*(\d+)", Path(f"/proc/{daemon.pid}/status").read_text())[1])


def refused(studio: Studio) -> int:
    return len(os.listdir(studio.refused)) if studio.refused.is_dir() else 0


def move_in(studio: Studio, name: str, numbers: range) -> Counter[str]:
    """Pictures in a folder of their own, moved in as one; their digests."""
    aside, digests = studio.root / name, Counter()
    aside.mkdir()
    for number in numbers:
        piece = Piece(number)
        (aside / f"{piece.stem}.png").write_bytes(piece.picture)
        digests[sha256(piece.picture)] += 1
    aside.rename(studio.incoming / name)
    return digests


def until(studio: Studio, daemon: subprocess.Popen, count: int) -> list[int]:
    """Waits for so many refusals; samples of the daemon's memory meanwhile. Gives up when nothing comes any more."""
    samples, last, since = [], -1, time.monotonic()
    while (now := refused(studio)) < count and time.monotonic() - since < 30:
        if now != last:
            last, since = now, time.monotonic()
        if now:
            samples.append(memory(daemon))
        time.sleep(0.05)
    return samples


def flood(bench: Bench) -> None:
    """A few at a time first, to compare with; then all at once."""
    many = bench.much(1000, 10_000)
    studio = bench.studio("flood", wait="0s")
    daemon = studio.start()
    given, costs = Counter(), {}
    try:
        until(studio, daemon, 0)
        began = cost(daemon)
        for turn in range(SAMPLE // FEW):
            given += move_in(studio, f"few{turn}", range(turn * FEW, (turn + 1) * FEW))
            until(studio, daemon, (turn + 1) * FEW)
        costs[FEW] = (cost(daemon) - began) / SAMPLE
        given += move_in(studio, "many", range(SAMPLE, SAMPLE + many))
        until(studio, daemon, SAMPLE + 1)
        first, began = refused(studio), cost(daemon)
        until(studio, daemon, first + SAMPLE)
        costs[many] = (cost(daemon) - began) / (refused(studio) - first)
        # By a tenth of it every thread has had its turn, and holds what the allocator lets it keep apart.
        until(studio, daemon, SAMPLE + many // 10)
        held = until(studio, daemon, SAMPLE + many)
    finally:
        kill(daemon, *children(daemon))
    ended = sources_in(studio.refused)
    bench.found.add("every picture of the flood ends once", ended == given, f"{len(given)} given, {sum(ended.values())} refused, no restart")
    ratio = costs[many] / costs[FEW]
    figures = f"{costs[FEW] * 1000:.1f} ms at {FEW} waiting, {costs[many] * 1000:.1f} ms at {many}: {ratio:.2f}"
    bench.found.add("a job costs as much when many wait", ratio < 1.2, figures)
    flat = max(held) - held[0] < 4096
    bench.found.add("memory stays flat", flat, f"{held[0] >> 10} MiB after a tenth, {max(held) >> 10} MiB at most")
