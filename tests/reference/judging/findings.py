"""What the judges found: a list of named checks, a table and an exit code."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass, field


@dataclass
class Finding:
    """One check: what was looked at, whether it held, and the figures that show it."""

    job: str
    check: str
    state: str  # "pass", "FAIL" or "skip"
    detail: str


@dataclass
class Findings:
    """Findings of one or several jobs, in the order made."""

    job: str = ""
    items: list[Finding] = field(default_factory=list)

    def add(self, check: str, held: bool, detail: str = "") -> bool:
        """Notes a check that held or did not."""
        self.items.append(Finding(self.job, check, "pass" if held else "FAIL", detail))
        return held

    def skip(self, check: str, why: str) -> None:
        """Notes a check that could not be made; where all tools must be there, that is a failure."""
        state = "FAIL" if os.environ.get("CI") == "true" else "skip"
        print(f"NOT CHECKED: {check}: {why}", file=sys.stderr)
        self.items.append(Finding(self.job, check, state, f"not checked: {why}"))

    def failed(self) -> list[Finding]:
        """The checks that did not hold."""
        return [item for item in self.items if item.state == "FAIL"]

    def table(self) -> str:
        """All findings, one a line."""
        wide = max((len(item.job) for item in self.items), default=0)
        check = max((len(item.check) for item in self.items), default=0)
        return "\n".join(f"{i.state}  {i.job:<{wide}}  {i.check:<{check}}  {i.detail}" for i in self.items)

    def close(self) -> int:
        """Prints the sum and gives the exit code."""
        count = {state: sum(i.state == state for i in self.items) for state in ("pass", "FAIL", "skip")}
        skipped = f", {count['skip']} skipped" if count["skip"] else ""
        print(f"{count['pass']} passed, {count['FAIL']} failed{skipped}")
        return 0 if count["FAIL"] == 0 and count["pass"] > 0 else 1
