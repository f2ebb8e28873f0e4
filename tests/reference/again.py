#!/usr/bin/env python3
"""Makes panels of random jobs again and compares them with the first ones, byte for byte, as they are stored in the PDFs.

For each of 100 random jobs: one panel, some panels, or all of them again; the streams of their pictures, the marks on their
pages and their boxes must be those of the first sheets, and the sums in the record those of the streams. Then what should
keep a reprint from leaving the studio is done to some of them: another picture in `kept/`, another record, a lost folder.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pikepdf
from judging.findings import Findings
from PIL import Image

BLANKS = {
    "slate": {"width": "11in", "height": "7in", "shape": "rectangle"},
    "mat": {"width": "24in", "height": "12.5in", "shape": "rectangle", "inset": "0.25in"},
    "moon": {"width": "19in", "height": "19in", "shape": "round"},
    "cloth": {"width": "30in", "height": "20in", "shape": "rounded", "radius": "2in", "bleed": "0.25in"},
}
CONFIG = """
quiet: 0s
wait: 0s
stages: [{resize: {ppi: 72}}, {profile: {do: %s}}, mirror, {overlap: {lap: 5mm}}, tile, marks, press]
writers: [%s]
printer: own
"""
WRITERS = ("sheets, notes, proof, record", "sheets, proof")
PROFILE = Path(__file__).resolve().parent.parent / "data" / "colour" / "test-profiles" / "dye-rgb-v4.icc"


class Studio:
    """A studio in a scratch folder."""

    def __init__(self, root: Path, binary: Path, convert: bool, writers: str) -> None:
        self.root, self.binary = root, binary
        (root / "incoming").mkdir(parents=True)
        for folder in ("blanks", "printers"):
            (root / folder).mkdir()
        (root / "seamwright.yaml").write_text(CONFIG % ("convert" if convert else "tag", writers))
        printer = {"papers": ["letter", "legal"], "margins": "1/4 in"} | ({"profile": "dye.icc"} if convert else {})
        shutil.copy(PROFILE, root / "printers" / "dye.icc")
        (root / "printers" / "own.yaml").write_text(json.dumps(printer))
        for name, blank in BLANKS.items():
            (root / "blanks" / f"{name}.yaml").write_text(json.dumps({"substrate": "polyester-mat", "ppi_refuse": 5, "ppi_floor": 6} | blank))

    def call(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run([self.binary, *words, "--config", self.root / "seamwright.yaml"], capture_output=True, text=True, check=False)

    def save(self, number: int, chance: random.Random) -> None:
        """A random job: picture, kind of file, blank, paper, fit."""
        mode = chance.choice(("RGB", "RGB", "L", "RGBA"))
        small = Image.frombytes(mode, (9, 7), chance.randbytes(63 * len(mode.replace("RGBA", "1234").replace("RGB", "123"))))
        art = small.resize((chance.randrange(200, 900), chance.randrange(200, 900)), chance.choice((Image.Resampling.NEAREST, Image.Resampling.BICUBIC)))
        if chance.random() < 0.4:
            art.paste(255 if mode == "L" else (255, 255, 255, 255)[: len(mode)], (0, 0, art.width // 2, art.height // 3))
        kind = chance.choice(("png", "tif", "png")) if mode != "RGB" else chance.choice(("png", "jpg", "tif"))
        art.save(self.root / "incoming" / f"job{number}.{kind}")
        order = {
            "blank": chance.choice(sorted(BLANKS)), "fit": chance.choice(("contain", "cover", "stretch")),
            "paper": chance.choice(("letter", "legal", "auto")), "orientation": chance.choice(("auto", "portrait", "landscape")),
            "copies": chance.choice((1, 1, 3)), "note": chance.choice(("", "a: #1\n\"two\"\n  three", "- ü & 'x'")), "allow_low_ppi": True,
            "extra_sheets": chance.choice((0, 0, 2)),
        }  # fmt: skip
        (self.root / "incoming" / f"job{number}.yaml").write_text(json.dumps(order))


def pages(file: Path) -> list[dict[str, object]]:
    """What each page is made of: its picture as stored, its boxes, and how an independent reader draws all of it."""
    with pikepdf.open(file) as pdf:
        found = []
        for number, page in enumerate(pdf.pages, 1):
            (image,) = page.Resources.XObject.values()
            draw = ["pdftoppm", "-r", "40", "-f", str(number), "-l", str(number), str(file)]
            found.append({
                "image": image.read_raw_bytes(), "size": (int(image.Width), int(image.Height), str(image.get("/DecodeParms"))),
                "drawn": subprocess.run(draw, capture_output=True, check=True).stdout,
                "boxes": [str(page.get(box)) for box in ("/MediaBox", "/TrimBox")],
            })  # fmt: skip
        return found


def again(studio: Studio, job: str, wanted: list[int], found: Findings) -> None:
    """The wanted panels again, none for all; then the program has forgotten them."""
    record = json.loads((studio.root / "kept" / job / "record.json").read_text())
    first = pages(studio.root / "outgoing" / job / "sheets.pdf")
    shown = ",".join(map(str, wanted)) or "all"
    done = studio.call("again", job, *(["--panels", shown] if wanted else []))
    at = studio.root / "outgoing" / f"{job}-again"
    if not found.add(f"panels {shown} are made again", done.returncode == 0 and (at / "sheets.pdf").is_file(), done.stdout + done.stderr):
        return
    found.add("nothing but the sheets", [path.name for path in at.iterdir()] == ["sheets.pdf"], str(list(at.iterdir())))
    made = pages(at / "sheets.pdf")
    panels = sorted((panel for panel in record["panels"] if not wanted or panel["panel"] in wanted), key=lambda panel: panel["page"])
    found.add("as many pages", len(made) == len(panels), f"{len(made)}")
    for panel, page in zip(panels, made, strict=False):
        before = first[panel["page"] - 1]
        found.add(f"panel {panel['panel']}: the picture's bytes", page["image"] == before["image"])
        found.add(f"panel {panel['panel']}: all else on the page", {k: v for k, v in page.items() if k != "image"} == {k: v for k, v in before.items() if k != "image"})
        found.add(f"panel {panel['panel']}: the sum in the record", hashlib.sha256(before["image"]).hexdigest() == panel["image_sha256"])
    if not wanted:
        same = (at / "sheets.pdf").read_bytes() == (studio.root / "outgoing" / job / "sheets.pdf").read_bytes()
        found.add("the whole file is the same", same)
    shutil.rmtree(at)


def refusals(studio: Studio, jobs: list[str], found: Findings) -> None:
    """What was kept is changed: nothing comes out, and it is said why."""
    kept, outgoing = studio.root / "kept", studio.root / "outgoing"

    def refused(what: str, job: str, *words: str, says: str) -> None:
        done = studio.call("again", job, *words)
        nothing = not (outgoing / f"{job}-again").exists() and not list((outgoing / ".staging").iterdir())
        found.add(f"{what}: nothing comes out, and it is said", done.returncode == 1 and nothing and says in done.stdout, done.stdout + done.stderr)

    job, other, lost, settings = jobs[:4]
    refused("a panel there is none of", job, "--panels", "1,99", says="no panel 99")
    refused("no such job", "nobody-123456", says="no finished job 'nobody-123456'")
    refused("a name that leads away", "../kept", says="no finished job")
    record = kept / job / "record.json"
    then = json.loads(record.read_text())
    then["panels"][0]["face_um"][2] += 1
    record.write_text(json.dumps(then))
    refused("another geometry", job, says="panels 1.face_um was")
    then["panels"][0]["face_um"][2] -= 1
    then["panels"][0]["image_sha256"] = "0" * 64
    record.write_text(json.dumps(then))
    refused("another picture by the sum", job, "--panels", "1", says="image_sha256")
    if len(then["panels"]) > 1:
        done = studio.call("again", job, "--panels", "2")
        found.add("panels that are the same still are", done.returncode == 0, done.stdout)
        shutil.rmtree(outgoing / f"{job}-again")
    then["panels"][0]["image_sha256"] = None
    then["blank"]["colour_lab"] = [50, 0, 0]
    record.write_text(json.dumps(then))
    done = studio.call("again", job)
    found.add("what is not about the sheets is told", done.returncode == 0 and "not about the sheets: blank.colour_lab was [50,0,0]" in done.stdout, done.stdout)
    art = next(path for path in (kept / other).iterdir() if path.suffix in {".png", ".jpg", ".tif"})
    art.write_bytes(art.read_bytes() + b"\0")
    refused("another artwork", other, says="is not the picture it was")
    art.unlink()
    refused("no artwork", other, says="is not there any more")
    shutil.rmtree(kept / lost)
    refused("no sources", lost, says="not kept any more")
    # All that could be asked from outside is another now, and the job is still made by what was kept.
    (studio.root / "blanks" / "mat.yaml").write_text("{width: 1in, height: 1in, substrate: polyester-mat}")
    for name in BLANKS:
        (studio.root / "blanks" / f"{name}.yaml").write_text("{width: 10in, height: 10in, substrate: plush-blanket}")
    (studio.root / "printers" / "own.yaml").write_text("{papers: [a4], margins: 1in}")
    (studio.root / "printers" / "dye.icc").unlink()
    (studio.root / "seamwright.yaml").write_text("printer: own\nunits: metric\nstages: [{resize: {ppi: 50}}, profile, {overlap: {lap: 9mm}}, tile]\n")
    again(studio, settings, [], found)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=9)
    options = parser.parse_args()
    found, chance = Findings(), random.Random(options.seed)
    with tempfile.TemporaryDirectory(prefix="seamwright-again-") as scratch:
        for turn, (convert, writers) in enumerate((convert, writers) for convert in (False, True) for writers in WRITERS):
            studio = Studio(Path(scratch) / f"studio{turn}", options.binary.resolve(), convert, writers)
            for number in range(options.jobs // 4):
                studio.save(number, chance)
            done = studio.call("once")
            found.job = f"studio {turn}"
            found.add("all jobs are worked", done.returncode == 0, done.stdout[-600:] + done.stderr[-300:])
            jobs = sorted(path.name for path in (studio.root / "outgoing").iterdir() if path.is_dir() and not path.name.startswith("."))
            for job in jobs:
                found.job = job
                count = len(json.loads((studio.root / "kept" / job / "record.json").read_text())["panels"])
                k = chance.randint(1, count)
                again(studio, job, chance.choice(([k], [k], sorted(chance.sample(range(1, count + 1), chance.randint(1, count))), [])), found)
            found.job = f"studio {turn}"
            refusals(studio, jobs, found)
    for item in found.failed():
        print(f"FAIL  {item.job}  {item.check}: {item.detail}")
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
