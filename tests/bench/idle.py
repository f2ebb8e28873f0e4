#!/usr/bin/env python3
"""What the daemon costs while nothing is to do: start to ready, processor and memory when idle."""

from __future__ import annotations

import argparse
import os
import signal
import socket
import statistics
import subprocess
import tempfile
import time
from pathlib import Path

TICK = os.sysconf("SC_CLK_TCK")


def ready(binary: Path, root: Path) -> tuple[float, subprocess.Popen]:
    """Seconds from the start to its word of readiness (sd_notify(3), READY=1), and the daemon."""
    name = root / "notify"
    name.unlink(missing_ok=True)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as word:
        word.bind(str(name))
        word.settimeout(10)
        (root / "seamwright.yaml").write_text("studio: .\n", encoding="utf-8")
        began = time.monotonic()
        daemon = subprocess.Popen(
            [binary, "watch", "--config", root / "seamwright.yaml"],
            env={**os.environ, "NOTIFY_SOCKET": str(name)},
            stderr=subprocess.DEVNULL,
        )
        while b"READY=1" not in word.recv(4096):
            pass
        return time.monotonic() - began, daemon


def used(daemon: subprocess.Popen) -> tuple[float, float]:
    """Processor seconds so far, and MB of memory."""
    facts = Path(f"/proc/{daemon.pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()
    pages = int(Path(f"/proc/{daemon.pid}/statm").read_text(encoding="utf-8").split()[1])
    return (int(facts[11]) + int(facts[12])) / TICK, pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def main() -> None:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, required=True, help="the built program (release)")
    parser.add_argument("--seconds", type=float, default=60, help="of idleness")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="idle-") as folder:
        starts = []
        for _ in range(9):
            took, daemon = ready(asked.binary.resolve(), Path(folder))
            starts.append(took)
            daemon.send_signal(signal.SIGTERM)
            daemon.wait()
        _, daemon = ready(asked.binary.resolve(), Path(folder))
        time.sleep(2)
        before, _ = used(daemon)
        time.sleep(asked.seconds)
        after, memory = used(daemon)
        daemon.send_signal(signal.SIGTERM)
        daemon.wait()
    starts = sorted(1e3 * start for start in starts)
    print(f"ready after {statistics.median(starts):.0f} ms ({starts[0]:.0f} to {starts[-1]:.0f})")
    print(f"idle: {(after - before) / asked.seconds:.2%} of a core, {memory:.0f} MB")


if __name__ == "__main__":
    main()
