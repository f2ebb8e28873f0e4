"""Hostile names, and things in the inbox that are no plain files."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from pathlib import Path

from .hostile_case import DONE, LEFT, REFUSED, Case, Maker, good_picture, order

ALONE, WITHOUT = "without a sidecar", "without artwork"


def pair(key: str, stem: bytes | str, end: str = DONE, picture: str = ".png", sidecar: str = ".yaml", **more: object) -> Case:
    """A good picture with a good order, of this stem, or on this way below the case's folder."""
    stem = os.fsencode(stem)
    return Case(key, end, {stem + picture.encode(): good_picture(key), stem + sidecar.encode(): order()}, **more)


def odd() -> Iterator[Case]:
    """Names that other programs stumble over; here they are names."""
    for key, stem in {
        "not-utf8": b"ch\xffart\xfe", "line-end": "ch\nart", "escape": "ch\x1b[2Jart", "tab": "ch\tart", "delete": "ch\x7fart",
        "turned": "ch\u202egnp.tra", "zero-width": "ch\u200b\ufeffart", "dash": "-rf", "option": "--config=x", "shell": "$(touch outside)",
        "semicolon": "a; rm -rf ~", "backticks": "`id`", "quotes": "it's \"quoted\"", "stars": "*?[a-z]", "formats": "%s%n%d",
        "braces": "{0}{}", "backslash": "a\\..\\..\\chart", "colon": "C:chart", "spaces": "  chart  ", "dots-behind": "chart...",
        "long": "x" * 250, "long-in-other-letters": "é" * 125, "piled": "Z" + "\u0301" * 100, "emoji": "🧵🪡", "arabic": "خريطة",
        "only-marks": "\u0301\u0302", "one-letter": "a", "percent": "%2e%2e%2f", "tilde": "~root", "equals": "A=B", "page": "<b>chart",
        "con": "CON", "nul": "NUL", "aux": "aux", "com1": "COM1", "lpt1": "LPT1.x", "number": "0", "none": "null", "yes": "yes",
        "staging": "chart.ready", "done": "chart.done", "refused": "chart.refused", "part-inside": "chart.part.x", "gone": "chart.gone",
        "tmp": "chart.tmp.x",
    }.items():  # fmt: skip
        yield pair(f"name-{key}", stem)
    yield pair("name-suffix-in-capitals", "chart", picture=".PNG", sidecar=".YAML")
    yield pair("name-suffix-yml", "chart", sidecar=".yml")
    yield pair("name-as-ours-order", "order")
    yield pair("name-as-ours-why", "why.txt")
    yield pair("name-as-ours-first", "first")
    yield pair("name-as-ours-record", "record.json")
    yield Case("name-as-ours-folder", DONE, {b"folder.png": good_picture("folder"), b"folder.yaml": order()}, stays=frozenset({b"folder.yaml"}))


def twins() -> Iterator[Case]:
    """Names that some systems cannot tell apart: refused together, never guessed."""
    for key, one, other in (
        ("case", "Chart", "chart"), ("accents", "caf\u00e9", "cafe\u0301"), ("suffix", "chart", "chart"), ("turkish", "I", "i"),
        ("not-utf8", b"a\xff", b"a\xfe"),
    ):  # fmt: skip
        second = b".jpg" if one == other else b".png"
        files = {os.fsencode(one) + b".png": good_picture(f"{key} 1"), os.fsencode(other) + second: good_picture(f"{key} 2")}
        yield Case(f"twins-{key}", REFUSED, files | {os.fsencode(one) + b".yaml": order()}, "several pictures")
    files = {b"chart.png": good_picture("sidecars"), b"chart.yaml": order(), b"chart.yml": order()}
    yield Case("twins-sidecars", REFUSED, files, "several sidecars")
    yield Case("alone-picture", REFUSED, {b"chart.png": good_picture("alone")}, ALONE)
    yield Case("alone-order", REFUSED, {b"chart.yaml": order()}, WITHOUT)


def folders() -> Iterator[Case]:
    """Folders with names of files, deep ones, and those that mean something."""
    yield pair("folder-called-like-a-picture", "chart.png/chart")
    yield pair("folder-called-like-an-order", "chart.yaml/chart")
    yield pair("folder-not-utf8", b"ch\xff/chart")
    yield pair("folder-line-end", "a\nb/chart")
    yield pair("folder-first", "first/chart")
    yield pair("folder-deep", "a/b/c/chart")
    yield pair("folder-too-deep", "a/b/c/d/e/f/chart", LEFT)
    yield pair("folder-hold", "hold/chart", LEFT)
    yield pair("folder-hidden", ".hidden/chart", LEFT)
    yield pair("folder-claimed", ".claimed/chart", LEFT)
    yield pair("folder-of-an-archive", "__MACOSX/chart", LEFT)
    yield pair("folder-unfinished", "chart.part/chart", LEFT)


def unfinished() -> Iterator[Case]:
    """Names that say: not yet, not this, or not for you."""
    for name in (
        ".chart.png", "chart.png.part", "chart.png.crdownload", "chart.png.tmp", "chart.png.filepart", "~$chart.png", "chart.png~", ".chart.png.swp",
        ".DS_Store", "._chart.png", "Thumbs.db", "desktop.ini", ".fuse_hidden0001", ".nfs0001", "chart.psd", "chart.eps", "chart", "notes.txt",
        "chart.png.exe", "png", ".png", ".yaml", "chart.gif",
    ):  # fmt: skip
        slug = name.replace("~", "tilde").replace("$", "").replace(".", "-")
        yield Case(f"left-{slug.removeprefix('-')}{'-hidden' if name[0] == '.' else ''}", LEFT, {os.fsencode(name): good_picture(name)})


def special() -> Iterator[Case]:
    """What is not a file, beside an order that waits in vain, or beside a picture."""

    def socket_at(folder: Path, name: str) -> None:
        # The way of a socket may not be long, so it is bound from within the folder.
        here = os.open(".", os.O_RDONLY)
        os.chdir(folder)
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(name)
        os.fchdir(here)
        os.close(here)

    things: dict[str, Maker] = {
        "pipe": lambda to, _: os.mkfifo(to),
        "socket": lambda to, _: socket_at(to.parent, to.name),
        "link": lambda to, outside: to.symlink_to(outside / ("secret" + to.suffix)),
        "link-to-nothing": lambda to, _: to.symlink_to("nowhere"),
        "link-to-itself": lambda to, _: to.symlink_to(to.name),
        "link-to-a-device": lambda to, _: to.symlink_to("/dev/zero"),
        "link-to-a-folder": lambda to, outside: to.symlink_to(outside / "pictures"),
    }
    if os.geteuid() == 0:
        things |= {
            "device-of-noughts": lambda to, _: os.mknod(to, 0o20666, os.makedev(1, 5)),
            "device-of-blocks": lambda to, _: os.mknod(to, 0o60666, os.makedev(7, 99)),
        }
    for key, make in things.items():
        for part, name, file, data, says in (
            ("picture", "chart.png", b"chart.yaml", order(), WITHOUT),
            ("order", "chart.yaml", b"chart.png", good_picture(key), ALONE),
            ("defaults", "folder.yaml", b"chart.png", good_picture(f"{key} of a folder"), ALONE),
        ):
            at = lambda folder, outside, make=make, name=name: make(folder / name, outside)  # noqa: E731
            yield Case(f"{key}-as-{part}", REFUSED, {file: data}, says, stays=frozenset({os.fsencode(name)}), make=at)
    for key, link in {"link-out-of-the-studio": "../../../outside/pictures", "link-up": "../.."}.items():
        yield Case(key, LEFT, stays=frozenset({b"link"}), make=lambda folder, _, link=link: (folder / "link").symlink_to(link))
    yield Case("hard-link", DONE, {b"chart.yaml": order()}, make=lambda folder, outside: os.link(outside / "shared.png", folder / "chart.png"))


def names() -> list[Case]:
    """All of them."""
    return [*odd(), *twins(), *folders(), *unfinished(), *special()]
