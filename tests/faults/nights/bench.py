"""What every scenario is given: the program, a scratch folder, the findings, and how much of it to do."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from judging.findings import Finding, Findings

from .studio import Studio


@dataclass
class Bench:
    """The means of one scenario."""

    binary: Path
    scratch: Path
    long: bool
    found: Findings = field(default_factory=Findings)

    def much(self, short: int, long: int) -> int:
        """How often."""
        return long if self.long else short

    def studio(self, name: str, **settings: str) -> Studio:
        """A new studio."""
        return Studio(self.scratch / name, self.binary, **settings)

    def not_run(self, check: str, why: str) -> None:
        """Says plainly what this machine cannot do; it does not count as passed."""
        print(f"NOT RUN: {check}: {why}", flush=True)
        self.found.items.append(Finding(self.found.job, check, "skip", f"not run: {why}"))


def wait_for(holds: Callable[[], bool], seconds: float) -> bool:
    """Whether something comes to hold within a time."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.02)
    return holds()


def shell(*words: str | Path) -> str:
    """Runs a system tool; what it complains of, nothing if all went well."""
    try:
        done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False)
    except FileNotFoundError:
        return f"{words[0]} is not installed"
    return "" if done.returncode == 0 else (done.stderr.strip() or f"{words[0]} failed").splitlines()[-1]
