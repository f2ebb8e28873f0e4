"""Hundreds of hostile files at once: each ends as it should, in little time and memory, and the daemon goes on.

Every case lies in a folder of its own in the inbox, so that where a job came from tells which case it was. How each must
end is said beforehand. Outside of the studio lie files that nobody has a reason to read, and one that is linked from within;
the kernel notes when a file is read, and that is asked in the end. The judge itself is tried on results that were spoilt.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pikepdf
from judging import scrap

from .bench import Bench, wait_for
from .ends import half
from .hostile_case import DONE, EITHER, LEFT, REFUSED, Case, good_picture, order
from .hostile_drawings import drawings
from .hostile_names import names
from .hostile_orders import orders
from .hostile_others import others
from .hostile_png import pngs
from .hostile_profiles import profiles
from .hostile_workers import Work, Workers
from .studio import Piece, Studio, children, folders, kill, sha256

MEMORY = 512 << 20
PARTS = 2
"""Jobs side by side, each with an equal part of the memory; one that is alone has all of it."""
PROGRAM = 64 << 20
"""What a worker takes for itself beside pixels: the program, its tables and fonts."""
SECONDS = 5
"""Of work that a hostile file may cost."""
OURS = {b".claim.json", b".order.yaml", b"order.yaml", b"record.json", b"why.txt"}
SECRET = "the lamp room key hangs behind the barometer"
PATIENCE = 90
"""Seconds without any job's end; a picture without its end mark is waited for a minute."""
LONG_AGO = 1_000_000_000
TOLD = {
    "left-notes-txt": "is of no kind known", "left-chart-psd": "is of no kind known", "pipe-as-picture": "is a link or a device",
    "link-as-order": "is a link or a device", "link-out-of-the-studio": "is of no kind known", "folder-too-deep": "lies too deep",
}  # fmt: skip
"""What the log must say of these cases, once."""


@dataclass
class Night:
    """What there is to judge in the end."""

    studio: Studio
    outside: Path
    cases: list[Case]
    works: list[Work] = field(default_factory=list)
    log: str = ""
    jobs: dict[str, list[Path]] = field(default_factory=dict)
    """Of each case: its folders in ``refused/`` and ``kept/``."""

    def collect(self) -> None:
        """Finds out which job came from which case."""
        self.log = self.studio.log.read_text(errors="replace")
        self.jobs = {}
        for folder in folders(self.studio.refused) + folders(self.studio.kept):
            came = json.loads((folder / ".claim.json").read_text())["from"]
            text = came if isinstance(came, str) else bytes(came).decode(errors="replace")
            self.jobs.setdefault(text.partition("/")[0], []).append(folder)


def all_cases() -> list[Case]:
    """Every one, each under a name of its own."""
    cases = [*pngs(), *others(), *drawings(), *profiles(), *orders(), *names()]
    if len({case.key for case in cases}) != len(cases):
        raise ValueError("two cases share a name")
    return cases


def lay_out(outside: Path) -> None:
    """What lies outside of the studio, as if it had been there for long."""
    (outside / "pictures").mkdir(parents=True)
    for name in ("secret.png", "shared.png", "pictures/chart.png"):
        (outside / name).write_bytes(good_picture(f"outside {name}"))
    for name in ("secret.yaml", "pictures/chart.yaml"):
        (outside / name).write_bytes(order(note=SECRET))
    for place in sorted(outside.rglob("*")):
        os.utime(place, (LONG_AGO, LONG_AGO))


def facts(outside: Path) -> dict[str, tuple[int, ...]]:
    """What would show that something was read, written or made out there."""
    unread = {place for place in outside.rglob("*") if place.is_file() and place.name != "shared.png"}
    found = {}
    for place in sorted(outside.rglob("*")):
        told = place.lstat()
        read = (int(told.st_atime),) if place in unread else ()
        found[str(place.relative_to(outside))] = (told.st_mode, told.st_size, int(told.st_mtime), *read)
    return found


def reads_are_noted(outside: Path) -> bool:
    """Whether the file system says when a file was read; it is as unread as before afterwards."""
    place = outside / "secret.yaml"
    place.read_bytes()
    noted = int(place.stat().st_atime) != LONG_AGO
    os.utime(place, (LONG_AGO, LONG_AGO))
    return noted


def save(studio: Studio, outside: Path, case: Case) -> None:
    """Made aside, then moved into the inbox as a whole."""
    aside = studio.root / "aside" / case.key
    aside.mkdir(parents=True)
    for name, data in case.files.items():
        path = os.path.join(os.fsencode(aside), name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as file:
            file.write(data)
    if case.make:
        case.make(aside, outside)
    aside.rename(studio.incoming / case.key)


# What must hold


def ended(case: Case, night: Night) -> Iterator[str]:
    """As it should, once, with all its files."""
    jobs = night.jobs.get(case.key, [])
    folder = os.fsencode(night.studio.incoming / case.key)
    for name in case.left():
        place = os.path.join(folder, name)
        if not os.path.lexists(place) or (name in case.files and Path(os.fsdecode(place)).read_bytes() != case.files[name]):
            yield f"{name!r} was not left alone"
    if case.end == LEFT:
        if jobs:
            yield "was not left alone"
        return
    if len(jobs) != 1:
        yield f"ended {len(jobs)} times"
        return
    (job,) = jobs
    end = REFUSED if job.parent == night.studio.refused else DONE
    if case.end not in (end, EITHER):
        yield f"{end}, not {case.end}"
    for name, data in case.taken().items():
        place = Path(os.fsdecode(os.path.join(os.fsencode(job), name)))
        if not place.is_file() or place.read_bytes() != data:
            yield f"{name!r} is not what was saved"
    strangers = set(os.listdir(os.fsencode(job))) - set(case.taken()) - OURS - {name for name in case.stays if name == b"folder.yaml"}
    if strangers and not case.make:
        yield f"strange files with it: {strangers}"
    yield from refused_well(case, job) if end == REFUSED else done_well(case, job, night.studio)


def refused_well(case: Case, job: Path) -> Iterator[str]:
    """With a reason and a cure, without tricks."""
    why = (job / "why.txt").read_text() if (job / "why.txt").is_file() else ""
    if not re.search(r"^What:  \S", why, re.M) or not re.search(r"^Cure:  \S", why, re.M):
        yield f"no reason with a cure: {why!r}"
    if case.says and case.says not in why:
        yield f"the reason does not say {case.says!r}: {why!r}"
    if re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", why):
        yield f"the reason plays tricks: {why!r}"
    if "failed twice" in why or "report this" in why:
        yield f"taken for a fault of the program: {why!r}"
    if len(why) > 40_000:
        yield f"the reason has {len(why)} letters"


def done_well(case: Case, job: Path, studio: Studio) -> Iterator[str]:
    """Whole, of this very picture, with its pixels on the sheets."""
    at = studio.outgoing / job.name
    if complaint := half(at):
        yield complaint
        return
    record = json.loads((at / "record.json").read_text(encoding="utf-8"))
    picture = next((place for place in job.iterdir() if sha256(place.read_bytes()) == record["artwork"]["sha256"]), None)
    if picture is None:
        yield "made of another picture"
    if case.pixels is not None:
        with pikepdf.open(at / "sheets.pdf") as pdf:
            seen, _ = scrap.picture(pdf.pages[0])
        wanted = np.rint(case.pixels * 255).astype(int)[:, ::-1]
        if seen.shape != wanted.shape:
            yield f"pixels of the form {seen.shape}, not {wanted.shape}"
        elif (off := int(np.abs(seen - wanted).max())) > case.off:
            yield f"pixels differ by {off}"


def cheap(night: Night) -> Iterator[str]:
    """No file cost more time or memory than it may."""
    came_from = {job.name: key for key, jobs in night.jobs.items() for job in jobs}
    for work in night.works:
        key = came_from.get(work.job, work.job)
        if work.seconds > SECONDS:
            yield f"{key} took {work.seconds:.1f} s"
        if work.peak_kib > work.given_kib + (PROGRAM >> 10):
            yield f"{key} took {work.peak_kib >> 10} MiB of {work.given_kib >> 10}"


def quiet(night: Night) -> Iterator[str]:
    """Nothing in the log that would make anybody worry."""
    for line in night.log.splitlines():
        if re.search(r"panicked|worker died|ERROR|overflow|cannot be taken|trouble with", line):
            yield line[:200]
        if re.search(r"[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e]", line):
            yield f"the log plays tricks: {line[:200]!r}"


def told(night: Night) -> Iterator[str]:
    """What is left alone without hiding is told once."""
    for key, words in TOLD.items():
        lines = [line for line in night.log.splitlines() if f"/{key}/" in line and words in line]
        if len(lines) != 1:
            yield f"{key}: told {len(lines)} times that it {words}"


def kept_to_itself(night: Night, before: dict[str, tuple[int, ...]]) -> Iterator[str]:
    """Nothing outside of the studio was read, changed or made, and nothing of it stands in any result."""
    after = facts(night.outside)
    for place in sorted(before.keys() | after.keys()):
        if before.get(place) != after.get(place):
            yield f"outside: {place} was touched"
    for folder in (night.studio.outgoing, night.studio.refused, night.studio.kept):
        for place in folder.rglob("*"):
            if place.is_file() and place.stat().st_size < 1 << 20 and SECRET.encode() in place.read_bytes():
                yield f"the secret stands in {place}"
    if SECRET in night.log:
        yield "the secret stands in the log"


def complaints(night: Night, before: dict[str, tuple[int, ...]], cases: list[Case]) -> dict[str, list[str]]:
    """Everything that is wrong, by what was asked; of these cases, how they ended."""
    night.collect()
    ends = [f"{case.key}: {complaint}" for case in cases for complaint in ended(case, night)]
    known = {case.key for case in night.cases}
    ends += [f"a job of nobody's: {key}" for key in night.jobs if key not in known | {""}]
    return {
        "each ends as it should": ends, "little time and memory": list(cheap(night)), "nothing in the log": list(quiet(night)),
        "told what is left alone": list(told(night)), "nothing outside is touched": list(kept_to_itself(night, before)),
    }  # fmt: skip


# The night itself


def hostile(bench: Bench) -> None:
    """All of them, then a good one, then a stop."""
    root = bench.scratch / "hostile"
    cases, outside = all_cases(), root / "outside"
    lay_out(outside)
    studio = Studio(root / "studio", bench.binary, wait="2s")
    studio.set(memory=f"{MEMORY >> 20}MiB", workers=PARTS, limits={"pixels": 50_000_000, "bytes": "1GiB", "time": "60s", "drawing": "2s"})
    spoils = list(SPOILS)
    if not reads_are_noted(outside):
        bench.not_run("nothing outside is read", "this file system does not note when a file is read")
        spoils.remove(read_outside)
    before = facts(outside)
    for case in cases:
        save(studio, outside, case)
    daemon = studio.start()
    try:
        with Workers(daemon) as workers:
            until_ended(studio, sum(case.end != LEFT for case in cases))
            good = Piece(0)
            studio.save(good)
            after = wait_for(lambda: bool(list(studio.kept.glob(f"{good.stem}-*"))), 30)
            daemon_mib = peak_mib(daemon.pid)
            idle = not children(daemon)
        daemon.terminate()
        wait_for(lambda: daemon.poll() is not None, 30)
    finally:
        code = daemon.poll()
        if code is None:
            kill(daemon, *children(daemon))
    night = Night(studio, outside, cases, list(workers.seen.values()))
    add = bench.found.add
    for what, wrong in complaints(night, before, cases).items():
        add(what, not wrong, f"{len(wrong)} of {len(cases)} cases: {wrong[:12]}" if wrong else figures(night, workers, what))
    add("a good job afterwards is done", after and idle, f"idle: {idle}")
    add("the daemon is alive, small, and ends well", code == 0 and daemon_mib < PROGRAM >> 20, f"exit code {code}, {daemon_mib} MiB at most")
    most = MEMORY + PARTS * PROGRAM >> 20
    add("jobs side by side keep to the memory together", workers.side_by_side > 1 and workers.together_kib >> 10 < most,
        f"{workers.side_by_side} side by side, {workers.together_kib >> 10} MiB at most, {most} allowed")  # fmt: skip
    unseen = missed(night, before, spoils)
    add("the judge finds what is spoilt", not unseen, f"{len(spoils) - len(unseen)} of {len(spoils)}; missed {unseen}")
    shutil.rmtree(root)


def until_ended(studio: Studio, count: int) -> None:
    """Waits for so many ends, and gives up when nothing comes any more."""
    last, since = -1, time.monotonic()
    while time.monotonic() - since < PATIENCE:
        now = len(folders(studio.refused)) + len(folders(studio.kept))
        if now >= count:
            return
        if now != last:
            last, since = now, time.monotonic()
        time.sleep(0.1)


def peak_mib(number: int) -> int:
    """The most that a process held."""
    return int(re.search(r"VmHWM:\s*(\d+)", Path(f"/proc/{number}/status").read_text())[1]) >> 10


def figures(night: Night, workers: Workers, what: str) -> str:
    """What to say where all is well."""
    if what == "each ends as it should":
        counts = {end: sum(case.end == end for case in night.cases) for end in (DONE, REFUSED, EITHER, LEFT)}
        return f"{len(night.cases)} cases, {sum(len(case.files) for case in night.cases)} files: {counts}"
    if what == "little time and memory":
        slow, large = max(night.works, key=lambda work: work.seconds), max(night.works, key=lambda work: work.peak_kib)
        return f"{len(night.works)} workers; {slow.seconds:.1f} s at most ({slow.job}), {large.peak_kib >> 10} MiB at most ({large.job})"
    return ""


# The judge judged

Spoil = Callable[[Night], Callable[[], None]]
"""Spoils something and gives back how it is undone."""


def moved(place: Path, to: Path) -> Callable[[], None]:
    place.rename(to)
    return lambda: to.rename(place) and None


def a_reason_lost(night: Night) -> Callable[[], None]:
    why = night.jobs["alone-picture"][0] / "why.txt"
    return moved(why, why.with_name(".why"))


def a_reason_without_cure(night: Night) -> Callable[[], None]:
    return rewritten(night.jobs["alone-picture"][0] / "why.txt", lambda text: text.replace(b"Cure:", b"Hm:"))


def a_source_changed(night: Night) -> Callable[[], None]:
    return rewritten(night.jobs["png-cut-at-50"][0] / "chart.png", lambda data: data + b"x")


def refused_where_done(night: Night) -> Callable[[], None]:
    job = night.jobs["png-palette"][0]
    return moved(job, night.studio.refused / job.name)


def lost(night: Night) -> Callable[[], None]:
    job = night.jobs["png-palette"][0]
    return moved(job, night.studio.root / job.name)


def doubled(night: Night) -> Callable[[], None]:
    job = night.jobs["png-palette"][0]
    copy = Path(shutil.copytree(job, job.with_name(f"{job.name}-2")))
    return lambda: shutil.rmtree(copy)


def other_pixels(night: Night) -> Callable[[], None]:
    one, other = (night.studio.outgoing / night.jobs[key][0].name / "sheets.pdf" for key in ("png-interlaced", "png-palette"))
    return rewritten(one, lambda _: other.read_bytes())


def a_link_taken(night: Night) -> Callable[[], None]:
    place = night.studio.incoming / "link-out-of-the-studio" / "link"
    return moved(place, night.studio.root / "link")


def read_outside(night: Night) -> Callable[[], None]:
    (night.outside / "secret.yaml").read_bytes()
    return lambda: os.utime(night.outside / "secret.yaml", (LONG_AGO, LONG_AGO))


def made_outside(night: Night) -> Callable[[], None]:
    (night.outside / "new").touch()
    return (night.outside / "new").unlink


def told_a_secret(night: Night) -> Callable[[], None]:
    return rewritten(night.jobs["alone-order"][0] / "why.txt", lambda text: text + SECRET.encode())


def panicked(night: Night) -> Callable[[], None]:
    return rewritten(night.studio.log, lambda text: text + b"thread 'main' panicked at src/main.rs\n")


def slow(night: Night) -> Callable[[], None]:
    night.works.append(Work("x", seconds=SECONDS + 0.1))
    return lambda: night.works.pop() and None


def large(night: Night) -> Callable[[], None]:
    night.works.append(Work("x", 1 << 10, (PROGRAM >> 10) + (1 << 10) + 1))
    return lambda: night.works.pop() and None


SPOILS: tuple[Spoil, ...] = (
    a_reason_lost, a_reason_without_cure, a_source_changed, refused_where_done, lost, doubled, other_pixels, a_link_taken, read_outside,
    made_outside, told_a_secret, panicked, slow, large,
)  # fmt: skip
SPOILT = {"alone-picture", "alone-order", "png-cut-at-50", "png-palette", "png-interlaced", "link-out-of-the-studio"}
"""The cases that are spoilt."""


def rewritten(place: Path, how: Callable[[bytes], bytes]) -> Callable[[], None]:
    before = place.read_bytes()
    place.write_bytes(how(before))
    return lambda: place.write_bytes(before) and None


def missed(night: Night, before: dict[str, tuple[int, ...]], spoils: list[Spoil]) -> list[str]:
    """What the judge does not see though it is spoilt; only the cases concerned are looked at."""
    few = [case for case in night.cases if case.key in SPOILT]
    plain, unseen = complaints(night, before, few), []
    for spoil in spoils:
        undo = spoil(night)
        spoilt = complaints(night, before, few)
        undo()
        night.collect()
        if not any(set(spoilt[what]) - set(plain[what]) for what in plain):
            unseen.append(spoil.__name__)
    return unseen
