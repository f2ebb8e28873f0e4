"""The machine fails and comes back while the daemon runs: it must go on by itself, without a restart."""

from __future__ import annotations

import errno
import os
import random
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from .bench import Bench, shell, wait_for
from .cuts import mounted
from .ends import judge
from .people import Collector, Maker
from .studio import Piece, Studio, children, kill

Harm = Callable[[], None]
PATIENCE = 90
"""Seconds: the pauses between tries grow from five to twenty within it, each longer under load."""


def endure(bench: Bench, studio: Studio, what: str, harm: Harm, cure: Harm) -> None:
    """Works, suffers a while, is cured, and must come to the end alone."""
    pieces = [Piece(number) for number in range(bench.much(10, 40))]
    studio.save(*pieces)
    with Collector(studio) as collector:
        daemon = studio.start()
        wait_for(lambda: bool(studio.finished()), 20)
        harm()
        time.sleep(2 + random.random())
        cure()
        by_itself = wait_for(lambda: not studio.waiting() and not studio.unfinished(), PATIENCE)
        bench.found.add(f"{what}: goes on by itself", by_itself and daemon.poll() is None, f"exit code {daemon.poll()}")
        kill(daemon, *children(daemon))
    if not by_itself:
        studio.once()
    judge(bench.found, studio, pieces, f"{what}: every piece ends once")
    bench.found.add(f"{what}: nothing half done was visible", not collector.halves, str(collector.halves[:3]))


@contextmanager
def small_disk(bench: Bench, how: str, what: str) -> Iterator[Studio | None]:
    """A studio on a small file system of its own, where one may be mounted."""
    place = bench.scratch / what.replace(" ", "-")
    with mounted(place, "-t", "tmpfs", "-o", how, "tmpfs") as why:
        if why:
            bench.not_run(what, f"nothing can be mounted here ({why})")
        yield None if why else Studio(place / "studio", bench.binary)


def full(bench: Bench) -> None:
    """Bytes run out, then files, and there is room again."""
    for what, how, fill in (("disk full", "size=180m", fill_bytes), ("no more files", "size=400m,nr_inodes=400", fill_files)):
        with small_disk(bench, how, what) as studio:
            if studio is not None:
                litter = studio.root.parent / "litter"
                endure(bench, studio, what, lambda fill=fill, litter=litter: fill(litter), lambda litter=litter: tidy(litter))


def fill_bytes(litter: Path) -> None:
    """Until nothing goes on the disk any more."""
    litter.mkdir()
    with (litter / "big").open("wb", buffering=0) as file:
        until_full(lambda _: file.write(bytes(1 << 20)) and file.write(bytes(1 << 12)))


def fill_files(litter: Path) -> None:
    litter.mkdir()
    until_full(lambda number: (litter / str(number)).touch())


def until_full(more: Callable[[int], object]) -> None:
    number = 0
    while True:
        try:
            more(number)
        except OSError as why:
            if why.errno == errno.ENOSPC:
                return
            raise
        number += 1


def tidy(litter: Path) -> None:
    for file in litter.iterdir():
        file.unlink()


def read_only(bench: Bench) -> None:
    """outgoing/ cannot be written to for a while."""
    studio = bench.studio("read-only")
    with mounted(studio.outgoing, "--bind", studio.outgoing) as why:
        if why:
            bench.not_run("outgoing read-only", f"nothing can be mounted here ({why})")
            return

        def remount(how: str) -> None:
            # Refused for as long as a file is open for writing.
            wait_for(lambda: not shell("mount", "-o", f"remount,bind,{how}", studio.outgoing), 20)

        # Collected jobs cannot leave the mount, so that they are only looked at.
        studio.collected = studio.outgoing / ".collected"
        studio.collected.mkdir()
        endure(bench, studio, "outgoing read-only", lambda: remount("ro"), lambda: remount("rw"))
        studio.collected = studio.collected.rename(studio.outgoing / ".collected")


def apart(bench: Bench) -> None:
    """Each of the four folders on a file system of its own, and kills while jobs cross from one to the other."""
    studio = bench.studio("apart", quiet="0s")
    with ExitStack() as mounts:
        for folder in (studio.incoming, studio.outgoing, studio.refused, studio.kept):
            why = mounts.enter_context(mounted(folder, "-t", "tmpfs", "-o", "size=200m", "tmpfs"))
            if why:
                bench.not_run("four file systems", f"nothing can be mounted here ({why})")
                return
        fresh = Studio(studio.root, bench.binary)
        fresh.collected = fresh.outgoing / ".collected"
        fresh.collected.mkdir()
        with Collector(fresh) as collector, Maker(fresh) as maker:
            for _ in range(bench.much(15, 200)):
                daemon = fresh.start()
                time.sleep(0.6 * random.random())
                kill(daemon, *children(daemon))
        fresh.once()
        judge(bench.found, fresh, maker.given, "four file systems: every piece ends once")
        bench.found.add("four file systems: nothing half done was visible", not collector.halves, str(collector.halves[:3]))


def forbidden(bench: Bench) -> None:
    """A file and a folder that the daemon may not read: others go on, and so do these once they are allowed."""
    studio, pieces = bench.studio("forbidden"), [Piece(number) for number in range(5)]
    shut, closed = pieces[0], studio.incoming / "closed"
    closed.mkdir()
    studio.save(*pieces)
    (closed / "chart.txt").touch()
    # Nothing is forbidden to root but in a user's namespace of its own, where it is a user like others.
    before = ("unshare", "-U") if os.geteuid() == 0 else ()
    if before and (why := shell(*before, "true")):
        bench.not_run("forbidden file", f"nothing is forbidden here ({why})")
        return
    studio.place(shut).chmod(0)
    closed.chmod(0)
    daemon = studio.start(before=before)
    others = wait_for(lambda: len(studio.finished()) == sum(piece.good for piece in pieces[1:]), 30)
    waits = studio.place(shut).exists() and daemon.poll() is None
    bench.found.add("forbidden file: the others go on", others and waits, f"exit code {daemon.poll()}, {len(studio.finished())} finished")
    studio.place(shut).chmod(0o644)
    closed.chmod(0o755)
    ended = wait_for(lambda: not studio.waiting() and not studio.unfinished(), PATIENCE)
    kill(daemon, *children(daemon))
    log = studio.log.read_text(errors="replace")
    bench.found.add("forbidden file: taken once it is allowed", ended and "cannot be taken out" in log, f"{log.count('cannot be taken out')} tries")
    bench.found.add("forbidden folder: told once", log.count("cannot be looked into") == 1, f"{log.count('cannot be looked into')}")
    judge(bench.found, studio, pieces, "forbidden file: every piece ends once")


def tidied(bench: Bench) -> None:
    """The folders of results and the hidden ones are removed while the daemon runs: it makes them again."""
    studio, pieces = bench.studio("tidied"), [Piece(number) for number in range(10)]
    daemon = studio.start()
    studio.save(Piece(10))
    wait_for(lambda: len(studio.finished()) == 1 and not studio.unfinished(), 20)
    for folder in (studio.outgoing, studio.kept, studio.refused, studio.incoming / ".claimed", studio.root / ".seamwright"):
        shutil.rmtree(folder)
    studio.save(*pieces)
    ended = wait_for(lambda: not studio.waiting() and not studio.unfinished(), PATIENCE)
    bench.found.add("folders tidied away: goes on by itself", ended and daemon.poll() is None, f"exit code {daemon.poll()}")
    kill(daemon, *children(daemon))
    judge(bench.found, studio, pieces, "folders tidied away: every piece ends once")


def vanished(bench: Bench) -> None:
    """incoming/ is taken away and comes back, as a network drive does, at different moments of a job's way."""
    for time_ in range(bench.much(3, 20)):
        studio = bench.studio(f"vanished{time_}")
        away = studio.root / "away"

        def leave(studio: Studio = studio, away: Path = away) -> None:
            time.sleep(0.2 * random.random())
            studio.incoming.rename(away)

        def come_back(studio: Studio = studio, away: Path = away) -> None:
            made_anew = studio.incoming.exists()
            bench.found.add("inbox away: not made anew", not made_anew)
            if made_anew:
                studio.incoming.rename(studio.root / "made-anew")
            away.rename(studio.incoming)

        endure(bench, studio, "inbox away", leave, come_back)


def clock(bench: Bench) -> None:
    """The wall clock is set back a day, then far ahead, while the daemon runs; monotonic time goes on."""
    what = "clock set back and ahead"
    preload = os.popen("faketime -f +0 printenv LD_PRELOAD 2>/dev/null").read().strip()
    if not preload:
        bench.not_run(what, "faketime is not installed")
        return
    studio, offset = bench.studio("clock", quiet="1s"), bench.scratch / "offset"
    offset.write_text("+0")
    pieces = [Piece(number) for number in range(12)]
    env = {"LD_PRELOAD": preload, "FAKETIME_TIMESTAMP_FILE": str(offset), "FAKETIME_NO_CACHE": "1", "FAKETIME_DONT_FAKE_MONOTONIC": "1"}
    daemon = studio.start(env=env)
    for part, jump in ((pieces[:4], "-1d"), (pieces[4:8], "+30d"), (pieces[8:], "-1d")):
        studio.save(*part)
        time.sleep(0.5)
        offset.write_text(jump)
    ended = wait_for(lambda: not studio.waiting() and not studio.unfinished(), 40)
    kill(daemon, *children(daemon))
    bench.found.add(f"{what}: goes on by itself", ended)
    said = (studio.kept / ".history.jsonl").read_text() if ended else ""
    days = {line[7:17] for line in said.splitlines()}
    bench.found.add(f"{what}: the daemon saw it", len(days) > 1, str(sorted(days)))
    judge(bench.found, studio, pieces, f"{what}: every piece ends once")
