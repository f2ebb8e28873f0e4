"""What the daemon keeps away from: a studio that another one works in, and results that would come back as artwork."""

from __future__ import annotations

from .bench import Bench, wait_for
from .ends import judge
from .studio import BUSY, Piece, children, kill

WRONG = 2
"""The exit code of a wrong configuration."""


def two(bench: Bench) -> None:
    """A second one leaves at once and takes nothing from the first."""
    studio, pieces = bench.studio("two"), [Piece(number) for number in range(8)]
    daemon = studio.start()
    wait_for(lambda: (studio.incoming / ".claimed").is_dir(), 10)
    studio.save(*pieces)
    codes = [studio.start(verb).wait(20) for verb in ("watch", "once", "watch")]
    bench.found.add("the second one ends with 75", set(codes) == {BUSY}, str(codes))
    wait_for(lambda: not studio.waiting() and not studio.unfinished(), 60)
    kill(daemon, *children(daemon))
    judge(bench.found, studio, pieces, "the first one works on alone")


def own_output(bench: Bench) -> None:
    """Results that lead into the inbox by way of a link are refused at start."""
    for name in ("outgoing", "refused", "kept"):
        studio = bench.studio(f"own-{name}")
        studio.save(Piece(0))
        inside = studio.incoming / name
        inside.mkdir()
        if (studio.root / name).is_dir():
            (studio.root / name).rmdir()
        (studio.root / name).symlink_to(inside)
        code = studio.start("once").wait(20)
        kept_away = code == WRONG and len(studio.waiting()) == len(Piece(0).digests())
        bench.found.add(f"{name} inside the inbox is refused at start", kept_away, f"exit code {code}")
