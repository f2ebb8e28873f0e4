"""A studio in a temporary folder: artwork and orders go in, the built program works them off."""

from __future__ import annotations

import json
import re
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from PIL import Image

from .asked import Asked
from .record import Box

MARGIN = "0.25in"
CATALOGUE = {
    "printers/judge.yaml": {"papers": ["letter", "a4", "13x19"], "margins": MARGIN, "profile": "none"},
    "printers/judge-small.yaml": {"papers": ["letter", "a4"], "margins": MARGIN, "profile": "none"},
    "substrates/judge-cloth.yaml": {
        "heat": "190-200C", "dwell": "35-70s", "preheat": "10s", "pressure": "medium", "seen_through": False, "origin": "made up",
    },
    "substrates/judge-glass.yaml": {
        "heat": "190-200C", "dwell": "35-70s", "preheat": "10s", "pressure": "medium", "seen_through": True, "origin": "made up",
    },
}  # fmt: skip


def um(length: str) -> int:
    """A length of millimetres or inches in micrometres."""
    number, unit = re.fullmatch(r"([\d.]+)(mm|in)", length).groups()
    return round(float(number) * {"mm": 1000, "in": 25_400}[unit])


def write(root: Path, texts: dict[str, Any]) -> None:
    """Puts texts under their names into a folder; what is JSON is YAML."""
    for name, text in texts.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(text, indent=1), encoding="utf-8")


@dataclass
class Case:
    """A picture, its order, and what must come of it; ``size`` is the blank's."""

    name: str
    picture: Image.Image
    size: tuple[str, str]
    sheets: int
    ending: str = "png"
    save: dict[str, Any] = field(default_factory=dict)
    order: dict[str, Any] = field(default_factory=dict)
    blank: dict[str, str] = field(default_factory=dict)
    seen_through: bool = False
    tint: bool = False
    fewer: bool = False
    """Whether fewer sheets are as good: the count by hand is one that can be done, and none known to be least."""
    bare_seams: bool = False
    """Whether every seam can lie where the artwork is bare."""
    says: str = ""
    """A word that a warning or remark must have."""

    @property
    def file(self) -> str:
        return f"{self.name}.{self.ending}"

    def sidecar(self) -> dict[str, Any]:
        """The order: a blank whose design area is the design, written out."""
        width, height = self.size
        blank = {
            "width": width, "height": height, "shape": "rectangle", "ppi_floor": 20, "ppi_refuse": 10, "colour": "white",
            "substrate": "judge-glass" if self.seen_through else "judge-cloth",
        }  # fmt: skip
        return {"blank": blank | self.blank, "paper": "letter"} | self.order


@dataclass
class Studio:
    """One studio and its configuration."""

    root: Path
    ppi: int
    overlap: dict[str, Any]
    cleaned: bool = False
    """Whether what is almost bare is made bare."""

    def asked(self, case: Case) -> Asked:
        """What the judges are told of a case."""
        zones = (
            [um(zone[side]) for side in ("x", "y", "width", "height")] for zone in case.order.get("keep_clear", [])
        )
        blank = {"bleed": "0mm", "inset": "0mm", "radius": "0mm"} | case.blank
        return Asked(
            cut=self.overlap.get("cut", 0.5),
            margin_um=um(MARGIN),
            reach_um=um(blank["bleed"]) - um(blank["inset"]),
            radius_um=um(blank["radius"]),
            place=tuple((edge, um(length)) for edge, length in case.order.get("place", {}).items()),
            keep_clear=tuple(Box(*zone) for zone in zones),
            cleaned=self.cleaned,
            tint=case.tint,
        )

    def prepare(self, cases: list[Case]) -> None:
        """Writes configuration, catalogue, artwork and orders."""
        stages = [{"resize": {"ppi": self.ppi}}, {"profile": {"do": "tag"}}, *(["bare"] if self.cleaned else []), "mirror",
                  {"overlap": self.overlap}, "tile", "marks", "press"]  # fmt: skip
        config = {
            "studio": ".", "stages": stages, "writers": ["sheets", "notes", "proof", "swatches", "record"], "printer": "judge", "quiet": "0s",
        }  # fmt: skip
        texts = {"seamwright.yaml": config} | CATALOGUE
        incoming = self.root / "incoming"
        incoming.mkdir(parents=True)
        (self.root / "art").mkdir()
        for case in cases:
            case.picture.save(incoming / case.file, **case.save)
            (self.root / "art" / case.file).write_bytes((incoming / case.file).read_bytes())
            texts[f"incoming/{case.name}.yaml"] = case.sidecar()
        write(self.root, texts)

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
