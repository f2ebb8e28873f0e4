#!/usr/bin/env python3
"""The Debian package in a bare system: installs, starts, works, is installed anew, and goes without a trace of itself.

A chroot of the machine's own Debian is made (root, network). There is no systemd at work in it, so what the unit says is
started by hand as the unit's user; the unit itself is looked at by systemd's own check, and by ``systemd-analyze security``
elsewhere. With ``--broken`` three packages are made that are each wrong in one way, and every one of them must be found out.
"""

from __future__ import annotations

import argparse
import gzip
import os
import pwd
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from judging.findings import Findings
from PIL import Image

USER = "seamwright"
STUDIO = "var/lib/seamwright"
PATIENCE = 300
"""Seconds until a job must be done, also on a slow machine."""

STAYS = re.compile(
    rf"({STUDIO}|etc/(passwd|group|shadow|gshadow|subuid|subgid)-?|etc/\.pwd\.lock|var/(log|cache)|var/lib/(dpkg|apt|systemd)|etc/systemd|run|tmp|dev|proc|sys)(/|$)"
)
"""What others than the package own, and the studio, which nobody removes."""

BREAKS = {
    "no user is made": ("DEBIAN/postinst", lambda text: re.sub(r"adduser .*", "true", text)),
    "the studio goes with the package": ("DEBIAN/postrm", lambda text: text + f'\n[ "$1" != remove ] || rm -r /{STUDIO}\n'),
    "what is there is written over": ("DEBIAN/postinst", lambda text: text + f"\necho units: inch >/{STUDIO}/seamwright.yaml\n"),
}  # fmt: skip


def run(*words: str | Path, **more) -> subprocess.CompletedProcess[str]:
    """A command that must succeed."""
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, **more)
    if done.returncode:
        raise RuntimeError(f"{' '.join(map(str, words))}: {done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done


class System:
    """A chroot with the bare system."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def do(self, *words: str) -> subprocess.CompletedProcess[str]:
        """A command in it, as root."""
        quiet = {"DEBIAN_FRONTEND": "noninteractive", "LC_ALL": "C.UTF-8", "PATH": "/usr/sbin:/usr/bin:/sbin:/bin"}
        return run("chroot", self.root, *words, env=quiet)

    def tree(self) -> set[str]:
        """Every path in it that only a package would change."""
        found = set()
        for folder, folders, files in os.walk(self.root):
            here = Path(folder).relative_to(self.root)
            folders[:] = [name for name in folders if not STAYS.match(str(here / name))]
            found.update(str(here / name) for name in folders + files if not STAYS.match(str(here / name)))
        return found

    def install(self, deb: Path) -> None:
        """All that it needs must be there: dpkg fetches nothing."""
        shutil.copy(deb, self.root / "tmp/seamwright.deb")
        self.do("dpkg", "--install", "/tmp/seamwright.deb")

    def user(self) -> pwd.struct_passwd | None:
        """The service's user, by the system's own list."""
        lines = (self.root / "etc/passwd").read_text().splitlines()
        fields = next((line.split(":") for line in lines if line.startswith(f"{USER}:")), None)
        return pwd.struct_passwd((*fields[:2], int(fields[2]), int(fields[3]), *fields[4:])) if fields else None


def bare(root: Path) -> System:
    """Makes the system, of the same release and from the same places as this machine's."""
    release = re.search(r"^VERSION_CODENAME=(.+)$", Path("/etc/os-release").read_text(), re.M)
    places = [*Path("/etc/apt").glob("sources.list"), *Path("/etc/apt/sources.list.d").glob("*")]
    places = [str(place) for place in places if place.suffix in (".list", ".sources")]
    run("mmdebstrap", "--variant=minbase", "--include=adduser", release.group(1).strip('"'), root, *places)
    return System(root)


def text_of(file: Path) -> bytes:
    """What a file says that may be compressed."""
    return gzip.decompress(file.read_bytes()) if file.suffix == ".gz" else file.read_bytes()


def unit(system: System) -> dict[str, str]:
    """What the unit says, by keys."""
    lines = (system.root / "usr/lib/systemd/system/seamwright.service").read_text().splitlines()
    return dict(line.split("=", 1) for line in lines if "=" in line and not line.startswith("#"))


def installed(system: System, found: Findings) -> None:
    """What must be there once it is installed."""
    user = system.user()
    found.add("a system user", user is not None and user.pw_uid < 1000 and user.pw_shell.endswith("nologin"), str(user))
    if user is None:
        return
    says = unit(system)
    found.add("the unit runs as that user", says["User"] == USER, says["User"])
    studio = system.root / STUDIO
    found.add("a studio of that user's", studio.is_dir() and studio.stat().st_uid == user.pw_uid, STUDIO)
    found.add("the group may save into it", (studio / "incoming").stat().st_mode & 0o2020 == 0o2020, "incoming/")
    checked = system.do("seamwright", "check", "--config", f"/{STUDIO}/seamwright.yaml").stdout
    found.add("the studio is in order", "Nothing to complain of" in checked, checked.strip())
    pages = (system.root / "usr/share/man/man1").glob("seamwright*.1*")
    spoken = {page.name.removesuffix(".gz") for page in pages if b".SH NAME" in text_of(page)}
    verbs = re.findall(r"^  ([a-z-]+) ", system.do("seamwright", "--help").stdout.split("Commands:")[1].split("Options:")[0], re.M)
    wanted = {"seamwright.1"} | {f"seamwright-{verb}.1" for verb in verbs if verb != "help"}
    found.add("a page for every command", len(verbs) > 15 and wanted <= spoken, f"{len(spoken)} pages, {len(wanted)} wanted")
    script = ". /usr/share/bash-completion/completions/seamwright; COMP_WORDS=(seamwright expl); COMP_CWORD=1"
    offered = system.do("bash", "-c", f"{script}; _seamwright seamwright expl seamwright; echo ${{COMPREPLY[@]}}").stdout
    found.add("the shell completes", offered.strip() == "explain", offered.strip())
    for name in ("copyright", "README.md", "fonts-LICENSE.txt"):
        there = [path for path in (system.root / "usr/share/doc/seamwright").glob(f"{name}*") if path.stat().st_size]
        found.add(f"{name} comes along", bool(there))


def works(system: System, found: Findings) -> None:
    """Starts what the unit starts, saves a picture, waits for its sheets, and stops it as systemd would."""
    says, studio, done = unit(system), system.root / STUDIO, []
    log = tempfile.TemporaryFile("w+")
    words = [shutil.which("chroot"), f"--userspec={says['User']}:{says['Group']}", "--groups=", str(system.root), *says["ExecStart"].split()]
    run("mount", "-t", "proc", "proc", system.root / "proc")
    daemon = subprocess.Popen(words, stdout=log, stderr=log, env={"PATH": "/usr/local/bin:/usr/bin:/bin"}, umask=int(says["UMask"], 8))
    try:
        picture = Image.radial_gradient("L").resize((2400, 1250)).convert("RGB")
        picture.save(studio / "incoming/my-mat/gulls.png")
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end and daemon.poll() is None and not (done := list((studio / "outgoing").glob("gulls-*/sheets.pdf"))):
            time.sleep(0.2)
        owner = {path.stat().st_uid for path in done}
        found.add("sheets come of a picture", bool(done), ", ".join(path.parent.name for path in done))
        found.add("they are the user's own", owner == {system.user().pw_uid}, str(owner))
    finally:
        daemon.send_signal(signal.SIGTERM)
        code = daemon.wait(60)
        run("umount", system.root / "proc")
    log.seek(0)
    found.add("it stops when it is told to", code == 0, f"exit code {code} {log.read()[-300:] if code else ''}")


def judge(deb: Path, base: Path, work: Path, found: Findings) -> None:
    """One package; a step that fails is a finding too."""
    try:
        whole_life(deb, base, work, found)
    except RuntimeError as why:
        found.add("every step goes through", False, str(why).strip().splitlines()[-1])


def whole_life(deb: Path, base: Path, work: Path, found: Findings) -> None:
    """A package, from nothing to nothing."""
    root = work / found.job.replace(" ", "-")
    run("cp", "-a", "--reflink=auto", base, root)
    system = System(root)
    before = system.tree()
    system.install(deb)
    installed(system, found)
    if system.user() is None:
        return
    works(system, found)
    settings = root / STUDIO / "seamwright.yaml"
    settings.write_text(settings.read_text() + "# a word of the maker's\n")
    told = settings.read_text()
    system.install(deb)
    found.add("installed anew, the studio is as it was", settings.read_text() == told)
    system.do("dpkg", "--remove", USER)
    found.add("removed, the studio is as it was", settings.exists() and settings.read_text() == told)
    system.do("dpkg", "--purge", USER)
    jobs = list((root / STUDIO / "outgoing").glob("gulls-*/sheets.pdf"))
    found.add("purged, the finished job stays", bool(jobs))
    left = system.tree() - before
    found.add("purged, nothing else stays", not left, ", ".join(sorted(left)[:5]))


def broken(deb: Path, work: Path) -> dict[str, Path]:
    """Packages that are each wrong in one way, by what is wrong."""
    made = {}
    for name, (file, edit) in BREAKS.items():
        tree = work / f"broken {name}"
        run("dpkg-deb", "-R", deb, tree)
        text = (tree / file).read_text()
        if edit(text) == text:
            sys.exit(f"{file} cannot be broken so that {name}")
        (tree / file).write_text(edit(text))
        made[name] = work / f"{name.replace(' ', '-')}.deb"
        run("dpkg-deb", "-b", "-Znone", tree, made[name])
    return made


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--deb", type=Path, required=True, help="the package, as cargo deb makes it")
    parser.add_argument("--broken", action="store_true", help="see that what is wrong is found")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="seamwright-package-") as folder:
        work, all_found = Path(folder), Findings("package")
        base = bare(work / "base").root
        if asked.broken:
            for name, deb in broken(asked.deb, work).items():
                found = Findings(name)
                judge(deb, base, work, found)
                all_found.add(f"found out: {name}", bool(found.failed()), ", ".join(item.check for item in found.failed()))
        else:
            judge(asked.deb.resolve(), base, work, all_found)
        print(all_found.table())
        return all_found.close()


if __name__ == "__main__":
    sys.exit(main())
