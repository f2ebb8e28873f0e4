"""The kernel gives too few watches, or none: one warning, and the inbox is looked through instead."""

from __future__ import annotations

import shlex

from .bench import Bench, shell, wait_for
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
