"""How the daemon behaves towards others: what it keeps away from, what it does again, and what it is told."""

from __future__ import annotations

import signal

from .bench import Bench, wait_for
from .ends import judge
from .studio import BUSY, Piece, Studio, children, kill

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


def again(bench: Bench) -> None:
    """The same thing saved again is made again, also by a daemon that knows of the first only from its folders."""
    studio, piece = bench.studio("again"), Piece(0)
    for _ in range(2):
        studio.save(piece)
        studio.once()
    daemon = studio.start()
    for count in (3, 4):
        studio.save(piece)
        wait_for(lambda count=count: len(studio.finished()) == count and not studio.unfinished(), 20)
    kill(daemon, *children(daemon))
    names = sorted(folder.name.removeprefix("chart0-")[6:] for folder in studio.finished())
    kept = sorted(folder.name.removeprefix("chart0-")[6:] for folder in studio.kept.glob("chart0-*"))
    bench.found.add("the same again is made again, under the next number", names == kept == ["", "-2", "-3", "-4"], f"{names}, kept {kept}")


def hangup(bench: Bench) -> None:
    """Told to read broken settings it says where they are broken and goes on by the old ones; then by mended ones."""
    studio, pieces = bench.studio("hangup"), [Piece(0), Piece(1), Piece(2)]
    good = studio.config.read_text(encoding="utf-8")
    daemon = studio.start()
    studio.save(pieces[0])
    wait_for(lambda: len(studio.finished()) == 1, 20)
    for broken, words in (("units: inch\nworkers: none\n", "line 2, `workers`"), ("units: [inch\n", "line 1"), ("units: inch\n\x01", "line 2")):
        since = studio.log.stat().st_size
        studio.config.write_text(broken, encoding="utf-8")
        daemon.send_signal(signal.SIGHUP)
        said = lambda since=since: studio.log.read_bytes()[since:].decode(errors="replace")  # noqa: E731
        told = wait_for(lambda said=said: "the old ones stay" in said(), 10)
        where = words in said() and "^" in said()
        bench.found.add(f"broken settings: it says where ({words})", told and where, said()[:300])
    studio.save(pieces[1])
    wait_for(lambda: len(studio.finished()) == 2, 20)
    bench.found.add("broken settings: health tells", "not in use" in health(studio), health(studio))
    studio.config.write_text(good, encoding="utf-8")
    daemon.send_signal(signal.SIGHUP)
    bench.found.add("mended settings: health is well", wait_for(lambda: health(studio).startswith("Well"), 15), health(studio))
    studio.save(pieces[2])
    wait_for(lambda: len(studio.finished()) == 3, 20)
    kill(daemon, *children(daemon))
    judge(bench.found, studio, pieces, "broken settings: every piece ends once")


def health(studio: Studio) -> str:
    """What the program says of the daemon; asked with settings of its own, since the studio's may be broken."""
    aside = Studio(studio.root.with_name("asked"), studio.binary)
    aside.set(studio=str(studio.root))
    asked = aside.start("health")
    asked.wait(20)
    said = aside.log.read_text(encoding="utf-8").strip()
    aside.log.unlink()
    return said
