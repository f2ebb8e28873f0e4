#!/usr/bin/env python3
"""Looks for inputs that fail: `run.py` fuzzes every target in turn, `run.py --keep` puts what it found into `corpus/`.

Needs a nightly Rust, and clang if the colour engine, which is C, is to be watched too. Inputs found meanwhile lie in the
folder `--work`, those that fail in `failures/` there.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from shutil import which

HERE = Path(__file__).resolve().parent
CORPUS = HERE / "corpus"
TRIPLE = "x86_64-unknown-linux-gnu"

# Each target with its dictionary and the longest input worth trying.
TARGETS = {
    "sidecar": ("texts", 2048),
    "list": ("texts", 2048),
    "job": ("texts", 1024),
    "settings": ("texts", 2048),
    "catalogue": ("texts", 2048),
    "page": (None, 512),
    "names": ("texts", 512),
    "state": ("state", 1024),
    "png": ("png", 4096),
    "jpeg": ("jpeg", 4096),
    "tiff": ("tiff", 4096),
    "webp": ("webp", 4096),
    "svg": ("svg", 2048),
    "pdf": ("pdf", 4096),
    "source-profile": ("profile", 4096),
    "printer-profile": ("profile", 4096),
}

# Inputs are kept up to this size, and a target's together up to that.
LARGEST_KEPT, MOST_KEPT = 2048, 80 * 1024


def build() -> Path:
    """The fuzzer, built with its ways watched."""
    watched = ["level=4", "inline-8bit-counters", "pc-table", "trace-compares"]
    flags = ["-Cpasses=sancov-module"] + [f"-Cllvm-args=-sanitizer-coverage-{what}" for what in watched]
    environment = {**os.environ, "RUSTFLAGS": " ".join(flags)}
    if clang := which("clang") or which("clang-14"):
        name = TRIPLE.replace("-", "_")
        environment[f"CC_{name}"] = clang
        environment[f"CFLAGS_{name}"] = "-fsanitize-coverage=inline-8bit-counters,pc-table,trace-cmp"
    command = ["cargo", "+nightly", "build", "--release", "--locked", "--target", TRIPLE]
    subprocess.run(command, cwd=HERE / "libfuzzer", env=environment, check=True)
    target = Path(os.environ.get("CARGO_TARGET_DIR", HERE / "libfuzzer/target"))
    return target / TRIPLE / "release/seamwright-libfuzzer"


def call(fuzzer: Path, target: str, work: Path, arguments: list[str]) -> str:
    """Runs the fuzzer on a target; returns what it said."""
    failures = work / "failures"
    failures.mkdir(parents=True, exist_ok=True)
    room = "/dev/shm" if Path("/dev/shm").is_dir() else tempfile.gettempdir()
    with tempfile.TemporaryDirectory(dir=room) as scratch:
        environment = {**os.environ, "SEAMWRIGHT_TARGET": target, "TMPDIR": scratch, "RUST_BACKTRACE": "0"}
        # The fuzzer's own limit of time is on the clock of the wall, and the machine may have other things to do.
        limits = ["-rss_limit_mb=1024", "-timeout=3600", "-report_slow_units=3600", f"-artifact_prefix={failures}/{target}-"]
        done = subprocess.run([fuzzer, *limits, *arguments], env=environment, capture_output=True, cwd=scratch, check=False)
    return done.stderr.decode(errors="replace")


def fuzz(fuzzer: Path, target: str, work: Path, seconds: int) -> str:
    """A slice of fuzzing; returns a line about it."""
    found, kept = work / target, CORPUS / target
    for folder in (found, kept):
        folder.mkdir(parents=True, exist_ok=True)
    dictionary, longest = TARGETS[target]
    arguments = [f"-max_total_time={seconds}", f"-max_len={longest}", "-print_final_stats=1"]
    if dictionary:
        arguments.append(f"-dict={HERE}/dictionaries/{dictionary}.dict")
    said = call(fuzzer, target, work, [*arguments, str(found), str(kept)])
    number = re.search(r"number_of_executed_units: *(\d+)", said)
    failed = re.search(r"Test unit written to (\S+)", said)
    foreign = sorted(set(re.findall(r"FOREIGN PANIC at \S*/registry/src/[^/]*/(\S+)", said)))
    if not number:
        raise RuntimeError(f"{target} did not run: {said[-2000:]}")
    if failed:
        (work / "failures" / f"{target}.log").write_text(said[-20_000:])
    return f"{target}: {number[1]} runs in {seconds} s" + (f", FAILED {failed[1]}" if failed else "") + (
        f", foreign panics {', '.join(foreign)}" if foreign else ""
    )


def keep(fuzzer: Path, target: str, work: Path) -> None:
    """Adds to the corpus the fewest inputs that lead down ways it does not lead down yet, the smallest first."""
    kept = CORPUS / target
    kept.mkdir(parents=True, exist_ok=True)
    before = set(kept.iterdir())
    call(fuzzer, target, work, ["-merge=1", "-use_counters=0", f"-max_len={LARGEST_KEPT}", str(kept), str(work / target)])
    room = MOST_KEPT - sum(path.stat().st_size for path in before)
    for path in sorted(set(kept.iterdir()) - before, key=lambda path: path.stat().st_size):
        room -= path.stat().st_size
        if room < 0:
            path.unlink()


def main() -> int:
    """Fuzzes or keeps."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("targets", nargs="*", choices=[*TARGETS, []], help="by default all")
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "seamwright-fuzz")
    parser.add_argument("--seconds", type=int, default=300, help="of each slice")
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--keep", action="store_true", help="put what was found into corpus/")
    parser.add_argument("--fuzzer", type=Path, help="built already")
    told = parser.parse_args()
    fuzzer = told.fuzzer or build()
    chosen = told.targets or list(TARGETS)
    if told.keep:
        for target in chosen:
            keep(fuzzer, target, told.work)
        return 0
    lines = []
    for _ in range(told.rounds):
        for target in chosen:
            lines.append(fuzz(fuzzer, target, told.work, told.seconds))
            print(time.strftime("%H:%M:%S"), lines[-1], flush=True)
    return int(any("FAILED" in line for line in lines))


if __name__ == "__main__":
    sys.exit(main())
