#!/usr/bin/env python3
"""Bad nights for the built program: kills, failing disks, power cuts, floods, hostile files. Nothing may be lost, doubled or half shown.

Each scenario makes studios of its own, gives real tiny jobs in, does them harm and counts what came out. What this
machine does not allow (mounting wants root) is said plainly and does not count as passed.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "reference"))

from judging.findings import Findings
from nights.bench import Bench
from nights.calls import calls, recoveries
from nights.cuts import cuts
from nights.flood import flood
from nights.hostile import hostile
from nights.kills import kills, terms
from nights.limits import limits, overflow
from nights.machine import apart, clock, forbidden, full, read_only, tidied, vanished
from nights.manners import again, hangup, own_output, two
from nights.rows import rows
from nights.savers import replaced, writers

SCENARIOS = {
    "kills": kills, "terms": terms, "calls": calls, "recoveries": recoveries, "cuts": cuts, "full": full,
    "read-only": read_only, "vanished": vanished, "clock": clock, "flood": flood, "two": two, "own-output": own_output,
    "again": again, "hangup": hangup, "limits": limits, "overflow": overflow, "writers": writers, "replaced": replaced,
    "apart": apart, "forbidden": forbidden, "tidied": tidied, "hostile": hostile, "rows": rows,
}  # fmt: skip


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    parser.add_argument("--only", choices=SCENARIOS, action="append", help="this scenario; may be given again")
    parser.add_argument("--long", action="store_true", help="the full numbers instead of what fits into a few minutes")
    parser.add_argument("--seed", type=int, default=time.time_ns() % 1_000_000, help="for the random moments")
    said = parser.parse_args()
    random.seed(said.seed)
    print(f"seed {said.seed}", flush=True)
    found = Findings()
    # In memory: what is on a disk only slows kills down. The power cuts bring a disk of their own.
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(prefix="nights-", dir=memory if memory.is_dir() else None) as folder:
        for name in said.only or SCENARIOS:
            found.job = name
            bench, began = Bench(said.binary.resolve(), Path(folder), said.long, found), time.monotonic()
            first = len(found.items)
            SCENARIOS[name](bench)
            print(Findings(items=found.items[first:]).table(), f"({time.monotonic() - began:.0f} s)", flush=True)
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
