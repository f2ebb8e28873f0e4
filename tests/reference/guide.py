#!/usr/bin/env python3
"""Adds a stage by the guide in DEVELOPERS.md, to the letter, on a copy of the tree; then a program by the same.

What is done is read from the guide: files are the blocks under their names, the line of the registry is the block that is a
dependency. One folder and one line, under 150 lines, and no other file of the tree is touched (Cargo writes its lock itself).
The copy is tested and built, and works a job by the new stage and by the program.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MOST_LINES = 150
FILE = re.compile(r"^`([^`\n]+)`:\n\n```\w+\n(.*?)^```$", re.MULTILINE | re.DOTALL)
LINE = re.compile(r"^```toml\n(seamwright-[^\n]+\n)```$", re.MULTILINE)


def guide() -> tuple[dict[str, str], str]:
    """The files by their names, and the line."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text.split("\n## Add a stage\n")[1].split("\n## ")[0]
    (line,) = LINE.findall(part)
    return dict(FILE.findall(part)), line


def copied(to: Path) -> None:
    """All files that belong to the tree."""
    listed = subprocess.run(["git", "ls-files", "-coz", "--exclude-standard"], cwd=ROOT, check=True, capture_output=True)
    for name in listed.stdout.decode().split("\0"):
        if name and (ROOT / name).is_file():
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, to / name)


def contents(of: Path) -> dict[str, bytes]:
    """Every file but Cargo's lock."""
    files = (path for path in of.rglob("*") if path.is_file() and path.name != "Cargo.lock")
    return {str(path.relative_to(of)): path.read_bytes() for path in files}


def cargo(tree: Path, *words: str) -> None:
    """Runs Cargo on the copy, with what the original has built of others."""
    target = os.environ.get("CARGO_TARGET_DIR", str(ROOT / "target"))
    env = {**os.environ, "CARGO_TARGET_DIR": target}
    subprocess.run(["cargo", *words, "--offline", "--quiet"], cwd=tree, check=True, env=env)


def worked(binary: Path, folder: Path, stages: list[object], programs: dict[str, str]) -> dict[str, object]:
    """The record of a job in a studio with these stages."""
    (folder / "incoming").mkdir(parents=True)
    config = {"quiet": "0s", "stages": stages, "writers": ["sheets", "record"]}
    (folder / "seamwright.yaml").write_text(json.dumps(config), encoding="utf-8")
    for name, text in programs.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    shutil.copyfile(ROOT / "tests/data/colour/images/png_rgb8_iccp.png", folder / "incoming/chart.png")
    order = {"blank": "mouse-mat-9x7.5", "allow_low_ppi": "yes"}
    (folder / "incoming/chart.yaml").write_text(json.dumps(order), encoding="utf-8")
    for program in programs and ["pace"]:
        subprocess.run([binary, "check", "--config", folder / "seamwright.yaml", "--program", program], check=True)
    said = subprocess.run([binary, "once", "--config", folder / "seamwright.yaml"], capture_output=True, check=False)
    made = list(folder.glob("outgoing/*/record.json"))
    if said.returncode or len(made) != 1:
        raise SystemExit(f"the job was not worked: {said.stdout.decode()}{said.stderr.decode()}")
    return json.loads(made[0].read_text(encoding="utf-8"))


def main() -> int:
    """Reads the command line."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    files, line = guide()
    crate = {name: text for name, text in files.items() if name.startswith("plugins/")}
    programs = {name: text for name, text in files.items() if name.startswith("programs/")}
    lines = sum(text.count("\n") for text in crate.values()) + 1
    assert lines < MOST_LINES, f"the guide's stage takes {lines} lines"
    assert {Path(name).parts[1] for name in crate} == {"pace"}, "one folder"
    with tempfile.TemporaryDirectory(prefix="guide-") as folder:
        tree = Path(folder) / "tree"
        copied(tree)
        before = contents(tree)
        for name, text in crate.items():
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            (tree / name).write_text(text, encoding="utf-8")
        manifest = (tree / "Cargo.toml").read_text(encoding="utf-8")
        beside = "seamwright-press.workspace = true\n"
        (tree / "Cargo.toml").write_text(manifest.replace(beside, beside + line), encoding="utf-8")
        after = contents(tree)
        touched = sorted(name for name in after if before.get(name) != after[name])
        assert touched == sorted([*crate, "Cargo.toml"]), touched
        cargo(tree, "test", "-p", "seamwright-pace", "--lib")
        cargo(tree, "build")
        binary = Path(os.environ.get("CARGO_TARGET_DIR", str(ROOT / "target"))) / "debug" / "seamwright"
        stages: list[object] = [{"resize": {"ppi": 60}}, {"profile": {"do": "tag"}}, "mirror", {"overlap": {"lap": "5mm"}}, "tile",
                                "marks", "press"]  # fmt: skip
        for step in ({"pace": {"a_sheet": "3m"}}, {"program": "pace"}):
            own = programs if "program" in step else {}
            record = worked(binary, Path(folder) / next(iter(step)), [*stages, step], own)
            minutes = len(record["panels"]) * 3
            said = f"The sheets take about {minutes} min to print."
            assert any(str(remark).endswith(said) for remark in record["remarks"]), record["remarks"]
            print(f"{step}: {said}")
    print(f"one folder, one line, {lines} lines in all")
    return 0


if __name__ == "__main__":
    sys.exit(main())
