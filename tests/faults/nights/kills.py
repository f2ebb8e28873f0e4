"""SIGKILL at random moments, again and again, while pieces come in and finished jobs are taken away."""

from __future__ import annotations

import random
import signal
import time

from .bench import Bench
from .ends import judge
from .people import Collector, Maker
from .studio import Studio, children, kill


def kills(bench: Bench) -> None:
    """The daemon, and in half of the cases its workers with it; the next one starts at once."""
    studio, times = bench.studio("kills", quiet="1s"), bench.much(120, 1000)
    with Collector(studio) as collector, Maker(studio) as maker:
        for _ in range(times):
            daemon = studio.start()
            # Short lives find the faults of recovery, longer ones let jobs come to their end.
            time.sleep(random.choice((0.05, 0.4, 0.4)) * random.random())
            kill(daemon, *(children(daemon) if random.random() < 0.5 else ()))
    conclude(bench, studio, maker, collector, f"after {times} kills every piece ends once")


def terms(bench: Bench) -> None:
    """SIGTERM at random moments: the running job is finished, and the daemon ends well."""
    studio, times = bench.studio("terms", quiet="1s"), bench.much(10, 100)
    codes = []
    with Collector(studio) as collector, Maker(studio) as maker:
        for _ in range(times):
            daemon = studio.start()
            time.sleep(0.1 + 0.5 * random.random())
            daemon.terminate()
            codes.append(daemon.wait(30))
    # One that was not up yet has nothing to end well.
    wrong = [code for code in codes if code not in {0, -signal.SIGTERM}]
    bench.found.add("told to stop it ends well", not wrong, f"{codes.count(0)} of {times} by themselves; {wrong}")
    conclude(bench, studio, maker, collector, f"after {times} stops every piece ends once")


def conclude(bench: Bench, studio: Studio, maker: Maker, collector: Collector, what: str) -> None:
    """A plain run, and the count."""
    studio.once()
    judge(bench.found, studio, maker.given, what)
    halves = collector.halves
    bench.found.add("nothing half done was ever visible", not halves, f"{len(collector.seen)} looked at, {collector.taken} taken away; {halves[:3]}")
