"""What every worker of a running daemon takes: looked at again and again while it lives."""

from __future__ import annotations

import os
import re
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

from .people import Person
from .studio import children

TICKS = os.sysconf("SC_CLK_TCK")


@dataclass
class Work:
    """One worker's means so far."""

    job: str
    given_kib: int = 0
    """What it was given for pixels."""
    peak_kib: int = 0
    now_kib: int = 0
    seconds: float = 0.0
    """Of processor time, which does not know how busy the machine is otherwise."""


class Workers(Person):
    """Watches the workers of a daemon. Whichever lives for less than a look is not seen, and has taken next to nothing."""

    def __init__(self, daemon: subprocess.Popen) -> None:
        super().__init__()
        self.daemon_process = daemon
        self.seen: dict[int, Work] = {}
        self.together_kib = 0
        """The most that all held at one moment."""
        self.side_by_side = 0

    def turn(self) -> None:
        living = [work for number in children(self.daemon_process) if (work := self.look(number))]
        self.together_kib = max(self.together_kib, sum(work.now_kib for work in living))
        self.side_by_side = max(self.side_by_side, len(living))
        time.sleep(0.01)

    def look(self, number: int) -> Work | None:
        """Nothing where it has gone, or is not yet the program that it will be."""
        try:
            place = Path(f"/proc/{number}")
            if number not in self.seen:
                words = (place / "cmdline").read_bytes().split(b"\0")
                if b"--" not in words:
                    return None
                given = int(words[words.index(b"--memory") + 1]) >> 10
                self.seen[number] = Work(os.fsdecode(words[words.index(b"--") + 1]), given)
            work = self.seen[number]
            held = {name: int(kib) for name, kib in re.findall(r"(VmHWM|VmRSS):\s*(\d+)", (place / "status").read_text())}
            work.now_kib = held.get("VmRSS", 0)
            work.peak_kib = max(work.peak_kib, held.get("VmHWM", 0))
            fields = (place / "stat").read_text().rpartition(")")[2].split()
            work.seconds = sum(int(field) for field in fields[11:13]) / TICKS
        except (OSError, ValueError, IndexError):
            return None
        return work
