"""A studio in a temporary folder: artwork and orders go in, the built program works them off."""

from __future__ import annotations

import json
import re
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from PIL import Image

PAPERS = ["letter", "a4", "13x19"]

CATALOGUE = {
    "printers/judge.yaml": {"papers": PAPERS, "margins": "1/4 in", "profile": "none"},
    "substrates/judge-cloth.yaml": {
        "heat": "190-200C", "dwell": "35-70s", "preheat": "10s", "pressure": "medium", "seen_through": False, "origin": "made up",
    },
    "substrates/judge-glass.yaml": {
        "heat": "190-200C", "dwell": "35-70s", "preheat": "10s", "pressure": "medium", "seen_through": True, "origin": "made up",
    },
}  # fmt: skip


@dataclass
class Case:
    """A picture, its order, and what must come of it."""

    name: str
    picture: Image.Image
    size: tuple[str, str]
    sheets: int
    ending: str = "png"
    save: dict[str, Any] = field(default_factory=dict)
    order: dict[str, Any] = field(default_factory=dict)
    seen_through: bool = False
    bare: bool = False

    @property
    def file(self) -> str:
        return f"{self.name}.{self.ending}"

    def sidecar(self) -> dict[str, Any]:
        """The order: a blank exactly as large as the design, written out."""
        width, height = self.size
        blank = {
            "width": width, "height": height, "shape": "rectangle", "ppi_floor": 20, "ppi_refuse": 10, "colour": "white",
            "substrate": "judge-glass" if self.seen_through else "judge-cloth",
        }  # fmt: skip
        return {"blank": blank, "paper": "letter"} | self.order


@dataclass
class Studio:
    """One studio and its configuration."""

    root: Path
    ppi: int
    overlap: dict[str, Any]

    def prepare(self, cases: list[Case]) -> None:
        """Writes configuration, catalogue, artwork and orders; what is JSON is YAML."""
        stages = [{"resize": {"ppi": self.ppi}}, {"profile": {"do": "tag"}}, "mirror", {"overlap": self.overlap},
                  "tile", "marks", "press"]  # fmt: skip
        config = {
            "studio": ".", "stages": stages, "writers": ["sheets", "notes", "proof", "record"], "printer": "judge", "quiet": "0s",
        }  # fmt: skip
        texts = {"seamwright.yaml": config} | CATALOGUE
        incoming = self.root / "incoming"
        incoming.mkdir(parents=True)
        (self.root / "art").mkdir()
        for case in cases:
            case.picture.save(incoming / case.file, **case.save)
            (self.root / "art" / case.file).write_bytes((incoming / case.file).read_bytes())
            texts[f"incoming/{case.name}.yaml"] = case.sidecar()
        for name, text in texts.items():
            path = self.root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(json.dumps(text, indent=1), encoding="utf-8")

    def work(self, binary: Path) -> subprocess.CompletedProcess[str]:
        """Works off what lies in ``incoming/``."""
        command = [binary, "once", "--config", self.root / "seamwright.yaml"]
        return subprocess.run(command, capture_output=True, text=True, errors="replace", timeout=1800, check=False)

    def finished(self, case: Case) -> Path | None:
        """The folder of a finished job."""
        folders = sorted((self.root / "outgoing").glob(f"{case.name}-" + "[0-9a-f]" * 6))
        return folders[0] if folders else None

    def why(self, case: Case) -> str:
        """Why a job was refused, if it was."""
        named = re.compile(re.escape(case.name) + r"(-[0-9a-f]{6})?(-\d+)?")
        reasons = [path for path in (self.root / "refused").glob("*/why.txt") if named.fullmatch(path.parent.name)]
        return " ".join(reasons[0].read_text(encoding="utf-8").split())[:300] if reasons else "no trace of it"
