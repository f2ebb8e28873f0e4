"""The outside programs, called and never trusted to be there."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

NEEDED = {
    "qpdf": "qpdf",
    "pdfinfo": "poppler-utils",
    "pdfimages": "poppler-utils",
    "pdftoppm": "poppler-utils",
    "pdftotext": "poppler-utils",
    "mutool": "mupdf-tools",
    "gs": "ghostscript",
}


class Missing(Exception):
    """A program that is not installed."""


def run(tool: str, *arguments: object) -> str:
    """Runs a program and gives what it prints; its failure is ours."""
    if shutil.which(tool) is None:
        raise Missing(f"{tool} is not installed (package {NEEDED[tool]})")
    done = subprocess.run(
        [tool, *map(str, arguments)], capture_output=True, text=True, errors="replace", timeout=600, check=False
    )
    if done.returncode != 0:
        said = (done.stdout + done.stderr).strip().splitlines()
        raise RuntimeError(f"{tool} ended with {done.returncode}: {' / '.join(said[-3:])}")
    return done.stdout + done.stderr


def missing() -> list[str]:
    """The programs that are not there."""
    return [tool for tool in NEEDED if shutil.which(tool) is None]


def existing(path: Path) -> Path:
    """The path, if something is there."""
    if not path.exists():
        raise FileNotFoundError(f"{path} is missing")
    return path
