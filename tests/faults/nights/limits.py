"""The kernel tells too little: too few watches, none at all, or more events than it keeps. The inbox is looked through anyway."""

from __future__ import annotations

import shlex
from pathlib import Path

from .bench import Bench, shell, wait_for
from .cuts import stopped
from .ends import judge
from .studio import Piece, children, kill


def limits(bench: Bench) -> None:
    """Both limits, set for this daemon alone: in a user's namespace of its own."""
    for name, most in (("watches", 3), ("watches", 1), ("instances", 0)):
        what = f"{most} inotify {name}"
        lower = f"echo {most} > /proc/sys/user/max_inotify_{name}"
        if why := shell("unshare", "-U", "-r", "sh", "-c", lower):
            bench.not_run(what, f"it cannot be limited here ({why})")
            continue
        studio = bench.studio(f"limits-{name}-{most}")
        daemon = studio.start(before=("unshare", "-U", "-r", "sh", "-c", f'{shlex.quote(lower)[1:-1]}; exec "$@"', "sh"))
        wait_for(lambda studio=studio: (studio.incoming / ".claimed").is_dir(), 10)
        pieces = [Piece(number) for number in range(10)]
        for number in range(5):
            # Each folder wants a watch more.
            (studio.incoming / f"empty{number}").mkdir()
        studio.save(*pieces)
        ended = wait_for(lambda studio=studio: not studio.waiting() and not studio.unfinished(), 60)
        code = daemon.poll()
        kill(daemon, *children(daemon))
        warnings = studio.log.read_text(errors="replace").count("cannot be watched as a whole")
        bench.found.add(f"{what}: goes on", ended and code is None, f"exit code {code}")
        bench.found.add(f"{what}: one warning", warnings == 1, f"{warnings}")
        judge(bench.found, studio, pieces, f"{what}: every piece ends once")


def overflow(bench: Bench) -> None:
    """While the daemon is held, more happens than the kernel remembers; the pieces are among what it forgets."""
    studio, pieces = bench.studio("overflow"), [Piece(number) for number in range(10)]
    daemon, kept = studio.start(), int(Path("/proc/sys/fs/inotify/max_queued_events").read_text())
    wait_for(lambda: (studio.incoming / ".claimed" / ".now").exists(), 10)
    with stopped(daemon):
        for _ in range(kept // 2 + 1000):
            (studio.incoming / ".busy").touch()
            (studio.incoming / ".busy").unlink()
        studio.save(*pieces)
    ended = wait_for(lambda: not studio.waiting() and not studio.unfinished(), 60)
    code = daemon.poll()
    kill(daemon, *children(daemon))
    bench.found.add("more events than are kept: goes on", ended and code is None, f"over {kept} events, exit code {code}")
    judge(bench.found, studio, pieces, "more events than are kept: every piece ends once")
