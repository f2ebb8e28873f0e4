#!/usr/bin/env python3
"""Lets the built program hand sheets to a real IPP printer on loopback (CUPS' ippeveprinter) and judges what arrives there.

What is asked for, byte by byte what is printed, and above all: with connections that break and a daemon that is killed at
every point between hand-off and answer, no job is ever printed twice, and none is lost without a word to the maker.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from judging.findings import Findings
from judging.printer import Bus, Line, Printer, free_port, until
from PIL import Image

CONFIG = """
quiet: 0s
wait: 0s
workers: 1
stages: [{resize: {ppi: 40}}, profile, mirror, overlap, tile, press]
writers: [sheets]
"""
BLANK = {"width": "4in", "height": "3in", "substrate": "polyester-mat", "ppi_refuse": 10, "ppi_floor": 10}
HISTORY = "kept/.history.jsonl"


class Studio:
    """A studio whose one printer is at this address."""

    def __init__(self, root: Path, binary: Path, **send_to: object) -> None:
        self.root, self.binary = root, binary
        (root / "incoming").mkdir(parents=True)
        (root / "printers").mkdir()
        (root / "seamwright.yaml").write_text(CONFIG, encoding="utf-8")
        self.printer("desk-letter", **send_to)
        self.daemon: subprocess.Popen | None = None

    def printer(self, name: str, **send_to: object) -> None:
        entry = {"papers": ["letter", "a4", "legal"], "margins": "6mm", "send_to": send_to}
        (self.root / "printers" / f"{name}.yaml").write_text(json.dumps(entry), encoding="utf-8")

    def save(self, name: str, **more: object) -> None:
        seed = int(hashlib.sha256(name.encode()).hexdigest(), 16)
        Image.effect_noise((160, 120), 20 + seed % 60).save(self.root / "incoming" / f"{name}.png")
        (self.root / "incoming" / f"{name}.yaml").write_text(json.dumps({"blank": BLANK, **more}), encoding="utf-8")

    def start(self) -> None:
        log = open(self.root / "daemon.log", "ab")
        self.daemon = subprocess.Popen([self.binary, "watch", "--config", self.root / "seamwright.yaml"], stdout=log, stderr=log)
        log.close()

    def kill(self) -> None:
        if self.daemon:
            self.daemon.kill()
            self.daemon.wait()
            self.daemon = None

    def stop(self) -> None:
        if self.daemon:
            self.daemon.terminate()
            self.daemon.wait(timeout=60)
            self.daemon = None

    def call(self, *words: str) -> tuple[int, str]:
        done = subprocess.run([self.binary, *words, "--config", self.root / "seamwright.yaml"], capture_output=True, text=True, check=False)
        return done.returncode, done.stdout

    def finished(self, name: str) -> Path | None:
        return next((path for path in (self.root / "outgoing").glob(f"{name}-*") if (path / "sheets.pdf").exists()), None)

    def ends(self, name: str) -> list[str]:
        """What the history says of a job, in order."""
        path = self.root / HISTORY
        lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
        return [line["end"] for line in map(json.loads, lines) if line["job"].startswith(f"{name}-")]

    def slips(self) -> dict[str, dict]:
        found = {}
        for path in (self.root / ".seamwright" / "printing").glob("*/slip.json"):
            try:
                found[path.parent.name] = json.loads(path.read_text(encoding="utf-8"))
            except FileNotFoundError:
                pass
        return found

    def page(self) -> str:
        path = self.root / "outgoing" / "index.html"
        return re.sub(r"<[^>]*>", "", path.read_text(encoding="utf-8")) if path.exists() else ""

    def settled(self, name: str) -> bool:
        """Whether nothing more is to be expected of a job by itself."""
        ends = self.ends(name)
        live = [slip for job, slip in self.slips().items() if job.startswith(f"{name}-") and not stopped(slip)]
        return ("sent" in ends or "printed" in ends or "unprinted" in ends) and not live


def stopped(slip: dict) -> bool:
    return isinstance(slip["state"], dict) and "stopped" in slip["state"]


def asked(found: Findings, binary: Path, folder: Path, bus: Bus) -> None:
    """What the printer is asked for, and what it gets."""
    found.job = "asked"
    # It takes one job at a time, and one that is held stays.
    printer, holds = Printer(folder / "printer", bus), Printer(folder / "holds", bus)
    line = Line(printer.port)
    studio = Studio(folder / "studio", binary, uri=line.uri)
    studio.printer("photo-letter", uri=holds.uri, quality="draft", kind="photographic-matte", tray="rear")
    studio.printer("keeps", uri=holds.uri, hold=True)
    studio.printer("follows", uri=line.uri, follow=True)
    studio.printer("calls", command=["/bin/sh", "-c", f"cp \"$1\" '{folder}/called.pdf'; echo \"$2 $3 $4\" > '{folder}/called'", "sh", "{sheets}", "{copies}", "{media}", "{name}"])
    studio.save("plain", copies=3)
    studio.save("special", printer="photo-letter", orientation="landscape")
    studio.save("refused", printer="keeps")
    studio.save("follow", printer="follows", paper="legal")
    studio.save("called", printer="calls", copies=2, paper="a4")
    studio.save("kept", print="hold")
    studio.save("never", print="no")
    code, _ = studio.call("once")
    names = {name: studio.finished(name).name for name in ("plain", "special", "follow", "called", "kept", "never")}
    found.add("the batch says that one was refused", code == 1, f"exit code {code}")
    jobs = {}
    for one in (printer, holds):
        for number in range(1, 8):
            if "job-name" in (job := one.job(number)):
                jobs[job["job-name"].rsplit("-", 1)[0]] = (number, job)
    found.add("three jobs, no more", sorted(jobs) == ["follow", "plain", "special"], ", ".join(sorted(jobs)))
    want = {
        "plain": {"copies": "3", "sides": "one-sided", "print-scaling": "none", "print-quality": "high", "print-color-mode": "color", "media": "na_letter_8.5x11in"},
        "special": {"copies": "1", "sides": "one-sided", "print-scaling": "none", "print-quality": "draft",
                    "media-col": "{media-size={x-dimension=21590 y-dimension=27940} media-type=photographic-matte media-source=rear}"},
        "follow": {"media": "na_legal_8.5x14in", "print-quality": "high"},
    }  # fmt: skip
    for name, attributes in want.items():
        got = jobs.get(name, (0, {}))[1]
        wrong = {key: got.get(key) for key, value in attributes.items() if got.get(key) != value and key != "media-col"}
        if "media-col" in attributes and sorted(re.findall(r"[\w-]+=[\w-]+", got.get("media-col", ""))) != sorted(re.findall(r"[\w-]+=[\w-]+", attributes["media-col"])):
            wrong["media-col"] = got.get("media-col")
        found.add(f"{name}: asked for as it should be", not wrong, str(wrong or attributes))
        found.add(f"{name}: its orientation is left alone", "orientation-requested" not in got)
        digest = hashlib.sha256((studio.root / "outgoing" / names[name] / "sheets.pdf").read_bytes()).hexdigest()
        found.add(f"{name}: called by job and digest", got.get("job-name") == f"{names[name]} {digest[:12]}", got.get("job-name", ""))
        sheets = (studio.root / "outgoing" / names[name] / "sheets.pdf").read_bytes()
        number = jobs.get(name, (0, {}))[0]
        copies = [path for path in printer.received() + holds.received() if path.name.startswith(f"{number}-{name}-")]
        found.add(f"{name}: byte by byte what was made", len(copies) == 1 and copies[0].read_bytes() == sheets, f"{len(sheets)} bytes")
    found.add("fidelity is asked for", all(b"ipp-attribute-fidelity\x00\x01\x01" in body for what, body in line.requests if what == "open"))
    sizes = {}
    for path in printer.received() + holds.received():
        sizes[path.name.split("-")[1]] = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=False).stdout
    sizes = {name: re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", text).groups() for name, text in sizes.items()}
    found.add("the pages keep the paper's size", sizes == {"plain": ("612", "792"), "special": ("792", "612"), "follow": ("612", "1008")}, str(sizes))
    called = (folder / "called").read_text(encoding="utf-8") if (folder / "called").exists() else ""
    found.add("a command gets its words", called.startswith(f"2 iso_a4_210x297mm {names['called']} "), called.strip())
    found.add("and the sheets", (folder / "called.pdf").exists() and (folder / "called.pdf").read_bytes() == (studio.root / "outgoing" / names["called"] / "sheets.pdf").read_bytes())
    held = studio.slips()
    why = [slip["why"] for name, slip in held.items() if name.startswith("refused-")]
    found.add("what the printer cannot do it is not talked into", "job-hold-until" in str(why) and studio.ends("refused") == ["done", "unprinted"], str(why))
    found.add("what is held waits", list(held) == [names["kept"]] or names["kept"] in held, str(list(held)))
    said = studio.call("status")[1] + studio.page()
    found.add("page and status say that it is held", said.count("is held") >= 2)
    code, said = studio.call("print", names["kept"])
    found.add("a word hands it over", code == 0 and studio.ends("kept")[-1:] == ["sent"], said.strip())
    code, said = studio.call("print", names["kept"])
    found.add("and only once", code == 1 and "--once-more" in said, said.strip())
    code, said = studio.call("print", "never")
    found.add("so is what was not to be printed", code == 0 and studio.ends("never")[-1:] == ["sent"], said.strip())
    code, said = studio.call("print", "never", "--once-more")
    found.add("and once more if it must be", code == 0 and studio.ends("never").count("sent") == 2, said.strip())
    studio.start()
    until(lambda: "printed" in studio.ends("follow"), "the followed job is printed", 40)
    found.add("a followed job is seen to its end", studio.ends("follow") == ["done", "sent", "printed"], str(studio.ends("follow")))
    studio.stop()
    told = studio.call("history", "plain")[1]
    found.add("the history tells where it went", "sent" in told and line.uri in told)
    printer.stop()
    holds.stop()
    line.close()


def learnt(found: Findings, binary: Path, folder: Path, bus: Bus) -> None:
    """A printer is asked what it is, and a job is made for and printed on what is learnt of it."""
    found.job = "learnt"
    printer = Printer(folder / "printer", bus)
    line = Line(printer.port)
    studio = Studio(folder / "studio", binary, uri=line.uri)
    code, said = studio.call("printer", "learn", line.uri)
    found.add("it is learnt", code == 0 and "printers/loopback-test-printer.yaml" in said, said.strip())
    wanted = next((body for what, body in line.requests if what == "able"), b"")
    found.add("the database is asked for by name", b"media-col-database" in wanted)
    for words in ("letter, legal, a4", "Loaded now: letter", "without borders", "how sheets come to lie"):
        found.add(f"it is said: {words}", words in said)
    entry = (studio.root / "printers" / "loopback-test-printer.yaml").read_text(encoding="utf-8")
    margins = "margins: {top: 3 mm, right: 3.4 mm, bottom: 5 mm, left: 3.4 mm}"
    found.add("margins are those of the database, not the borderless ones", margins in entry, entry)
    code, said = studio.call("check")
    found.add("check accepts the entry", code == 0, said.strip())
    code, said = studio.call("printer", "learn", line.uri)
    found.add("it is not written over", code == 1 and "is there already" in said, said.strip())
    found.add("nothing of it is changed", (studio.root / "printers" / "loopback-test-printer.yaml").read_text(encoding="utf-8") == entry)
    studio.save("first", printer="loopback-test-printer")
    code, said = studio.call("once")
    found.add("a job is made, and nothing printed by itself", code == 0 and not printer.received(), said.strip())
    code, said = studio.call("print", studio.finished("first").name)
    sheets = (studio.finished("first") / "sheets.pdf").read_bytes()
    received = [path.read_bytes() for path in printer.received()]
    found.add("it is printed by what was learnt", code == 0 and received == [sheets], said.strip())
    fit = Printer(folder / "fit", bus, scaling="ATTR keyword print-scaling-supported auto,fit\nATTR keyword print-scaling-default auto")
    code, said = studio.call("printer", "learn", fit.uri, "fit")
    found.add("what is not promised is said", code == 0 and "does not promise actual size" in said, said.strip())
    away = free_port()
    code, said = studio.call("printer", "learn", f"ipp://localhost:{away}/ipp/print", "away")
    found.add("a printer that is away is said to be", code == 1 and "cannot be asked" in said and not (studio.root / "printers" / "away.yaml").exists(), said.strip())
    printer.stop()
    fit.stop()
    line.close()


def nights(found: Findings, binary: Path, folder: Path, bus: Bus) -> None:
    """Printers that are away, refuse, pause, and take long: the others go on, and it is said what waits and why."""
    found.job = "nights"
    away = free_port()
    slow = Printer(folder / "slow", bus, work="sleep 8")
    fit = Printer(folder / "fit", bus, scaling="ATTR keyword print-scaling-supported auto,fit\nATTR keyword print-scaling-default auto")
    well = Printer(folder / "well", bus)
    full = Line(well.port)
    studio = Studio(folder / "studio", binary, uri=well.uri)
    studio.printer("away", uri=f"ipp://localhost:{away}/ipp/print")
    studio.printer("slow", uri=slow.uri)
    studio.printer("fit", uri=fit.uri)
    studio.printer("odd", uri=well.uri, media={"letter": "na_huge_80x110in"})
    studio.printer("full", uri=full.uri)
    studio.printer("fails", command=["/bin/sh", "-c", "echo no toner >&2; exit 3 # {sheets}"])
    full.arm("open", "busy")
    for name in ("away", "slow", "fit", "odd", "full", "fails"):
        studio.save(f"{name}1", printer=name)
        studio.save(f"{name}2", printer=name)
    studio.save("last")
    studio.start()
    until(lambda: "sent" in studio.ends("last"), "the last job is printed all the same", 60)
    found.add("a job behind them all is printed", True)
    until(lambda: studio.settled("fit1") and studio.settled("odd2") and studio.settled("full2"), "what can settle has settled", 60)
    until(lambda: "tried" in studio.page(), "the page says that something waits", 30)
    page, status = studio.page(), studio.call("status")[1]
    for name, why in (("away1", "refused"), ("fit1", "does not promise to print at true size"), ("odd2", "na_huge"), ("fails1", "no toner")):
        for where, text in (("page", page), ("status", status)):
            line = next((line for line in re.split(r"\n|(?=Not printed)", text) if name in line and why in line), None) or (name in text and why in text)
            found.add(f"{name}: the {where} says why", bool(line), why)
    found.add("what is not promised is not risked", not fit.received() and studio.ends("fit1") == ["done", "unprinted"], str(studio.ends("fit1")))
    found.add("busy is tried again", studio.ends("full1") == ["done", "sent"] == studio.ends("full2"), str(studio.ends("full1")))
    until(lambda: studio.settled("slow2"), "the slow printer gets its second", 90)
    found.add("a slow printer gets one after the other", len(slow.received()) == 2, f"{len(slow.received())} documents")
    late = Printer(folder / "late", bus, port=away)
    studio.call("print", "away1")
    until(lambda: studio.settled("away1") and studio.settled("away2"), "the printer that came back gets its jobs", 60)
    found.add("one that comes back gets its jobs", len(late.received()) == 2, f"{len(late.received())} documents")
    studio.printer("fit", uri=fit.uri, true_size="measured")
    time.sleep(7)
    studio.call("print", "fit1")
    until(lambda: studio.ends("fit1")[-1:] == ["sent"], "a mended entry lets it through", 60)
    found.add("a mended entry and a word let it through", len(fit.received()) == 1, str(studio.ends("fit1")))
    found.add("nothing came twice", all(len({p.read_bytes() for p in one.received()}) == len(one.received()) for one in (slow, fit, well, late)))
    studio.stop()
    for one in (slow, fit, well, late):
        one.stop()
    full.close()


POINTS = [(what, where, how) for what in ("able", "open", "fill", "jobs", "job") for where in ("asked", "heard") for how in ("cut", "kill")]
POINTS += [("fill", "half", "cut"), ("fill", "half", "kill"), ("open", "busy", "cut"), ("fill", "busy", "cut"), ("open", "refused", "cut"), ("fill", "refused", "cut")]
PRINT_POINTS = [("print", where, how) for where in ("asked", "heard", "half") for how in ("cut", "kill")]


class Lane(threading.Thread):
    """One studio with one printer, run after run."""

    def __init__(self, number: int, runs: list[tuple[str, str, str]], binary: Path, folder: Path, bus: Bus, only_print: bool) -> None:
        super().__init__()
        self.number, self.runs = number, runs
        self.printer = Printer(folder / "printer", bus)
        self.line = Line(self.printer.port)
        self.line.only_print = only_print
        self.studio = Studio(folder / "studio", binary, uri=self.line.uri)
        self.ended: list[tuple[str, str, int, int, list[str]]] = []
        self.trouble: BaseException | None = None

    def run(self) -> None:
        try:
            for number, (what, where, how) in enumerate(self.runs):
                self.one(f"r{number}", what, where, how)
        except BaseException as why:  # noqa: BLE001: told by whoever waits for the lane
            self.trouble = why
        finally:
            self.studio.kill()
            self.printer.stop()
            self.line.close()

    def one(self, name: str, what: str, where: str, how: str) -> None:
        studio = self.studio
        kill = studio.kill if how == "kill" else lambda: None
        # To be asked after a job, there must be one that was cut off.
        if what in ("jobs", "job"):
            self.line.arm("open" if what == "jobs" else "fill", "heard", then=lambda: self.line.arm(what, where, kill))
        else:
            self.line.arm(what, where, kill)
        studio.save(name)
        if studio.daemon is None:
            studio.start()
        until(lambda: self.line.struck.is_set() and self.line.cut is None, f"{name}: it breaks at {what} {where}", 240)
        if how == "kill":
            until(lambda: studio.daemon is None, "the daemon is killed", 30)
            studio.start()
        until(lambda: studio.settled(name), f"{name}: {what} {where} {how} is settled", 240)
        sheets = studio.finished(name).joinpath("sheets.pdf").read_bytes()
        received = [path.read_bytes() for path in self.printer.received()]
        whole = sum(document == sheets for document in received)
        part = sum(document != sheets and bool(document) and sheets.startswith(document) for document in received)
        self.ended.append((f"{what} {where} {how}", name, whole, part, studio.ends(name)))


def kills(found: Findings, binary: Path, folder: Path, bus: Bus, runs: int) -> None:
    """A hundred cuts and kills between hand-off and answer."""
    found.job = "kills"
    lanes = []
    for number in range(4):
        only_print = number == 3
        points = PRINT_POINTS if only_print else POINTS
        order = [points[(run * 3 + number) % len(points)] for run in range(runs // 4)]
        lanes.append(Lane(number, order, binary, folder / f"lane{number}", bus, only_print))
    for lane in lanes:
        lane.start()
    count = {"sent": 0, "told": 0}
    for lane in lanes:
        lane.join()
        found.add(f"lane {lane.number}: all runs are made", lane.trouble is None, str(lane.trouble or f"{len(lane.ended)} runs"))
        for point, name, whole, part, ends in lane.ended:
            sent = "sent" in ends or "printed" in ends
            count["sent" if sent else "told"] += 1
            right = whole == 1 and part == 0 if sent else whole + part <= 1 and ends[-1] == "unprinted"
            if not right:
                found.add(f"lane {lane.number} {name}, {point}", False, f"{whole} whole, {part} in part, {ends}")
        untold = [(name, point, ends) for point, name, whole, part, ends in lane.ended if not part and whole and "unprinted" in ends and "sent" not in ends]
        # What cannot be told is told to the maker: only where sheets went with the job in one, or half of them went.
        surprising = [item for item in untold if not lane.line.only_print and "half" not in item[1]]
        found.add(f"lane {lane.number}: the maker is asked only where nobody can tell", not surprising, str(surprising[:3] or len(untold)))
    ends = [entry for lane in lanes for entry in lane.ended]
    twice = sum(whole + part > 1 for _, _, whole, part, _ in ends)
    lost = sum(not whole and "unprinted" not in said for _, _, whole, _, said in ends)
    found.add(f"{len(ends)} runs: none twice, none lost", len(ends) == runs // 4 * 4 and not twice and not lost, f"{count['sent']} printed once, {count['told']} told to the maker, {twice} twice, {lost} lost")


def main() -> int:
    """Reads the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", type=Path, required=True, help="the built program")
    parser.add_argument("--only", choices=("asked", "learnt", "nights", "kills"), action="append", help="this part; may be given again")
    parser.add_argument("--runs", type=int, default=100, help="cuts and kills")
    said = parser.parse_args()
    binary, found, bus = said.binary.resolve(), Findings(), Bus()
    random.seed(10)
    memory = Path("/dev/shm")
    try:
        with tempfile.TemporaryDirectory(prefix="spool-", dir=memory if memory.is_dir() else None) as folder:
            for name, part in (("asked", asked), ("learnt", learnt), ("nights", nights)):
                if not said.only or name in said.only:
                    part(found, binary, Path(folder) / name, bus)
            if not said.only or "kills" in said.only:
                kills(found, binary, Path(folder) / "kills", bus, said.runs)
    finally:
        bus.close()
    print(found.table())
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
