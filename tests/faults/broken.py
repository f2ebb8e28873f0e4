#!/usr/bin/env python3
"""The harness must be able to fail: breaks a copy of the program in two ways and expects it to be found out.

Each break is one that a reader might not miss: nothing is flushed before a rename, and a job is published before it is
marked as done. Neither shows in any run that nobody disturbs.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent

BREAKS = {
    "nothing is flushed": ("cuts", {
        "src/journal/files.rs": [
            ("    file.sync_all()?;\n", ""),
            ("File::open(entry.path())?.sync_all()?;", "File::open(entry.path())?;"),
            ("File::open(folder)?.sync_all()", "File::open(folder).map(|_| ())"),
        ],
    }),
    "published before done": ("calls", {
        "src/journal/mod.rs": [
            ("            move_no_replace(&claim.folder, &done)?;\n", ""),
            (
                "        match move_no_replace(&done.join(ORDER)",
                "        let plain = self.state(id, \"\");\n"
                "        if there(&plain)? {\n            move_no_replace(&plain, &done)?;\n        }\n"
                "        match move_no_replace(&done.join(ORDER)",
            ),
        ],
    }),
}  # fmt: skip
"""By name: the scenario that must find it, and what is written differently where."""


def build(tree: Path, edits: dict[str, list[tuple[str, str]]]) -> Path:
    """Breaks a fresh copy and builds it; the program."""
    for name in subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.splitlines():
        to = tree / name
        to.parent.mkdir(parents=True, exist_ok=True)
        text = (ROOT / name).read_bytes()
        for old, new in edits.get(name, []):
            if text.count(old.encode()) != 1:
                sys.exit(f"{name} does not have this once, so it cannot be broken there: {old.strip()}")
            text = text.replace(old.encode(), new.encode())
        # Left alone where nothing changed, so that it is not built again.
        if not to.exists() or to.read_bytes() != text:
            to.write_bytes(text)
    target = Path(os.environ.get("CARGO_TARGET_DIR", tree / "target"))
    subprocess.run(["cargo", "build", "--locked", "-q"], cwd=tree, env=os.environ | {"CARGO_TARGET_DIR": str(target)}, check=True)
    return Path(shutil.copy(target / "debug" / "seamwright", tree / "broken"))


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", default="1", help="for the random moments")
    said = parser.parse_args()
    missed = []
    with tempfile.TemporaryDirectory(prefix="broken-") as tree:
        for name, (scenario, edits) in BREAKS.items():
            binary = build(Path(tree), edits)
            run = [sys.executable, HERE / "run.py", "--binary", binary, "--only", scenario, "--seed", said.seed]
            done = subprocess.run(run, capture_output=True, text=True, check=False)
            breaches = [line for line in done.stdout.splitlines() if line.startswith("FAIL") and "piece" in line]
            print(f"{'caught' if breaches else 'MISSED'}  {name}, by {scenario}: {' / '.join(breaches)[:300]}", flush=True)
            if not breaches:
                missed.append(name)
    print(f"{len(BREAKS) - len(missed)} passed, {len(missed)} failed")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
