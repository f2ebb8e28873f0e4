"""Hostile sidecars beside good pictures."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from .hostile_case import DONE, EITHER, REFUSED, Case, order, order_case

LONGEST = 16 * 1024
"""Bytes of the longest sidecar."""
LETTERS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-"
GOOD = order().decode()
ONE = GOOD[1:-1]
"""The keys of a good order, to be written between brackets."""


def more(**keys: object) -> str:
    """A good order with other keys besides."""
    return json.dumps(json.loads(GOOD) | keys, ensure_ascii=False)


def blank(**keys: object) -> str:
    """An order whose blank says something else."""
    said = json.loads(GOOD)
    return json.dumps(said | {"blank": said["blank"] | keys})


def bombs() -> Iterator[Case]:
    """Small texts that want to be large, deep or slow."""
    grown = "".join(f"{b}: &{b} [{','.join([f'*{a}'] * 9)}]\n" for a, b in pairwise("abcdefghi"))
    lists, texts = f"a: &a [x]\n{grown}", f"a: &a '{'x' * 2000}'\n{grown}"
    yield order_case("order-anchor", REFUSED, "blank: &a x\nnote: *a\n", "anchors")
    yield order_case("order-alias-of-nothing", REFUSED, f"{{{ONE}, note: *nobody}}", "anchors")
    yield order_case("order-merge-key", REFUSED, "base: &b {copies: 2}\n<<: *b\nblank: x\n", "anchors")
    yield order_case("order-bomb-of-lists", REFUSED, lists, "anchors")
    yield order_case("order-bomb-of-texts", REFUSED, texts, "anchors")
    yield order_case("order-anchor-in-itself", REFUSED, "blank: &a [*a]\n", "anchors")
    for depth in (200, 8000):
        yield order_case(f"order-lists-{depth}-deep", REFUSED, "blank: " + "[" * depth + "]" * depth, "deep")
        yield order_case(f"order-maps-{depth}-deep", REFUSED, ("{a: " * depth)[:LONGEST], "deep")
    yield order_case("order-blocks-170-deep", REFUSED, "".join(" " * i + "a:\n" for i in range(170)), "deep")
    yield order_case("order-of-17-kib", REFUSED, GOOD + "\n#" + "x" * 17 * 1024, "longer than 16 KiB")
    yield order_case("order-of-16-kib", DONE, GOOD + "\n#" + "x" * (LONGEST - len(GOOD) - 2))
    yield order_case("order-of-20-mib", REFUSED, b"#" * (20 << 20), "longer than 16 KiB")
    yield order_case("order-of-a-thousand-keys", REFUSED, GOOD[:-1] + "".join(f', "k{i}": 1' for i in range(1000)) + "}")
    yield order_case("order-of-4000-keys", REFUSED, "".join(f"{a}{b}:\n" for a in LETTERS for b in LETTERS)[: LONGEST // 4 * 4])
    yield order_case("order-of-one-long-key", REFUSED, f"{'k' * 15_000}: 1\n")
    yield order_case("order-of-250-zones", EITHER, more(keep_clear=[{"x": "1mm", "y": "1mm", "width": "1mm", "height": "1mm"}] * 250))


def letters() -> Iterator[Case]:
    """Bytes that are no plain text, and plain text in rarer forms."""
    yield order_case("order-with-nought", REFUSED, f"{GOOD}\n# \0", "U+0000")
    yield order_case("order-with-escape", REFUSED, f"{GOOD}\n# \x1b[2J", "U+001B")
    yield order_case("order-with-escaped-nought", REFUSED, f'{{{ONE}, "note": "a\\0b"}}', "control character")
    yield order_case("order-with-escaped-escape", REFUSED, f'{{{ONE}, "note": "\\e[2J"}}', "control character")
    yield order_case("order-with-escaped-turn", REFUSED, f'{{{ONE}, "note": "\\u202egnp"}}', "control character")
    yield order_case("order-with-escape-in-a-key", REFUSED, f'{{{ONE}, "no\\ete": "x"}}', "control character")
    for coding in ("utf-16", "utf-16-be", "utf-32"):
        yield order_case(f"order-in-{coding}", REFUSED, GOOD.encode(coding))
    yield order_case("order-in-latin-1", REFUSED, f"{{{ONE}, note: für die Küche}}".encode("latin-1"), "UTF-8")
    yield order_case("order-half-a-letter", REFUSED, GOOD.encode() + b"\n# \xe2\x82", "UTF-8")
    yield order_case("order-with-surrogate", REFUSED, GOOD.encode() + b"\n# \xed\xa0\x80", "UTF-8")
    yield order_case("order-with-mark", DONE, b"\xef\xbb\xbf" + GOOD.encode())
    said = json.dumps(json.loads(GOOD)["blank"])
    yield order_case("order-with-lines-of-two-ends", DONE, f"allow_low_ppi: yes\r\ncopies: 2\r\nblank: {said}\r\n")
    yield order_case("order-with-returns-alone", EITHER, f"copies: 2\rallow_low_ppi: yes\rblank: {said}\r")
    yield order_case("order-with-tab-behind-colon", DONE, f"copies:\t2\nallow_low_ppi: yes\nblank: {said}")
    yield order_case("order-with-tab-in-front", REFUSED, "blank:\n\twidth: 2in\n", "tab")
    yield order_case("order-of-noise", REFUSED, bytes(range(256)))


def grammar() -> Iterator[Case]:
    """Texts that are no order, or two."""
    yield order_case("order-empty", REFUSED, "", "blank")
    yield order_case("order-of-remarks", REFUSED, "# nothing\n", "blank")
    yield order_case("order-nothing", REFUSED, "~\n")
    yield order_case("order-a-word", REFUSED, "table-mat-36x24\n")
    yield order_case("order-a-list", REFUSED, "- blank: x\n")
    yield order_case("order-a-number", REFUSED, "42\n")
    yield order_case("order-twice-the-key", REFUSED, f'{{{ONE}, "copies": 1, "copies": 2}}', "twice")
    yield order_case("order-twice-the-key-inside", REFUSED, blank()[:-2] + ', "width": "9in"}}', "")
    yield order_case("order-two-documents", REFUSED, f"{GOOD}\n---\n{GOOD}\n", "second document")
    yield order_case("order-with-a-tag", REFUSED, f"!!python/object/apply:os.system {GOOD}", "tags")
    yield order_case("order-with-a-tag-inside", REFUSED, f"{{{ONE}, note: !!binary aGVsbG8=}}", "tags")
    yield order_case("order-with-directives", REFUSED, f"%YAML 1.2\n---\n{GOOD}")
    yield order_case("order-with-a-key-of-keys", REFUSED, f"? {{a: b}}\n: c\n{GOOD}")
    yield order_case("order-bracket-open", REFUSED, GOOD[:-1])
    yield order_case("order-quote-open", REFUSED, f'{{{ONE}, note: "x}}')
    yield order_case("order-colon-too-many", REFUSED, "blank: a: b\n")
    yield order_case("order-a-page", REFUSED, "<!doctype html><title>404</title>\n")
    yield order_case("order-a-picture", REFUSED, b"\x89PNG\r\n\x1a\n" + bytes(99))
    yield order_case("order-of-unknown-key", REFUSED, more(papr="letter"), "`paper`")
    yield order_case("order-of-a-hundred-unknown-keys", REFUSED, more(**{f"x{i}": i for i in range(100)}))


def lengths() -> Iterator[Case]:
    """Numbers nobody can print."""
    for what, length in {
        "negative": "-2in", "nought": "0in", "astronomical": "99999999999999999999in", "beyond-floats": "1e400in", "tiny": "0.0000001mm",
        "endless": ".inf", "no-number": ".nan", "endless-inches": "inf in", "no-inches": "nan in", "without-unit": "24", "by-nought": "1/0 in",
        "of-unknown-unit": "3 parsec", "of-thousands": "1_000in", "empty": "", "of-digits": "1" * 9000 + "in",
    }.items():  # fmt: skip
        yield order_case(f"order-length-{what}", REFUSED, more(size={"width": length, "height": "1in"}), "size.width")
    numbers = {"endless": ".inf", "negative-endless": "-.inf", "no-number": ".nan", "hex": "0xffffffffffffffffff", "large": "1e308"}
    for what, text in numbers.items():
        yield order_case(f"order-number-{what}", REFUSED, f"{{{ONE}, copies: {text}}}", "copies")
        yield order_case(f"order-blank-{what}", REFUSED, GOOD.replace('"ppi_floor": 1', f'"ppi_floor": {text}'), "ppi_floor")
    wrong = {"minus-1": "-1", "0": "0", "1000": "1000", "half": "1.5", "many": "9" * 20, "two": "two", "list": "[1]", "text": "'3'", "yes": "true"}
    for what, copies in wrong.items():
        yield order_case(f"order-copies-{what}", REFUSED, f"{{{ONE}, copies: {copies}}}", "copies")
    yield order_case("order-extra-sheets-many", REFUSED, more(extra_sheets=4_000_000_000), "extra_sheets")
    yield order_case("order-blank-of-99-metres", REFUSED, blank(width="99m", height="99m"))
    for what, x in {"beyond": "9m", "negative": "-1in"}.items():
        yield order_case(f"order-zone-{what}", REFUSED, more(keep_clear=[{"x": x, "y": "0in", "width": "1in", "height": "1in"}]), "keep_clear")


def types() -> Iterator[Case]:
    """Values of a kind that the key does not have."""
    for key, value in {
        "blank": ["a"], "size": "24in", "fit": 3, "paper": {"a": 1}, "orientation": True, "printer": 7, "press": [], "intent": "loud",
        "note": ["a"], "keep_clear": "all", "extra_sheets": "some", "allow_low_ppi": "perhaps", "artwork": 5,
    }.items():  # fmt: skip
        yield order_case(f"order-kind-of-{key.replace('_', '-')}", REFUSED, more(**{key: value}), key)
    yield order_case("order-kind-of-colour", REFUSED, blank(colour={"L": float("nan"), "a": 0, "b": 0}).replace("NaN", ".nan"), "colour")
    yield order_case("order-shape-unknown", REFUSED, blank(shape="mobius"), "shape")
    yield order_case("order-radius-endless", REFUSED, blank(shape="rounded", radius="9m"), "")


def ways() -> Iterator[Case]:
    """Names that lead out of the folder, wherever a name may stand."""

    def beside(folder: Path, outside: Path) -> None:
        (folder / "link.png").symlink_to(outside / "secret.png")

    places = {
        "up": "../outside/secret.png", "far-up": "../" * 40 + "etc/passwd", "root": "/etc/passwd", "backslashes": "..\\secret.png",
        "drive": "C:secret.png", "share": "\\\\host\\secret.png", "address": "file:///etc/passwd", "dot": ".", "dots": "..",
        "hidden": ".claim.json", "empty": "", "nested": "a/b.png", "standard-input": "/dev/stdin", "itself": "chart.yaml",
        "the-reason": "why.txt",
    }  # fmt: skip
    for what, place in places.items():
        yield order_case(f"order-artwork-{what}", REFUSED, more(artwork=place))
        if what in {"up", "root", "far-up", "address"}:
            for key in ("blank", "printer", "press", "paper"):
                yield order_case(f"order-{key}-{what}", REFUSED, more(**{key: place}), key)
            yield order_case(f"order-substrate-{what}", REFUSED, blank(substrate=place), "substrate")
    yield order_case("order-artwork-through-a-link", REFUSED, more(artwork="link.png"), stays=frozenset({b"link.png"}), make=beside)


def notes() -> Iterator[Case]:
    """What the maker writes for himself is printed, and nothing else happens with it."""
    for what, note in {
        "shell": "$(touch outside); `id`; rm -rf ~ | tee 'x' && \"y\"", "formats": "%s%n%x{0}{}{{}}", "a-page": "<script>alert(1)</script>",
        "pdf": "(BT /F1 12 Tf) Tj ET endstream endobj <<>>",
        "many-scripts": "für 日本 العربية עברית ไทย 🧵 \u200b\ufeff", "marks-piled-up": "Z" + "\u0301" * 400,
        "longest": "x" * 500, "one-word": "W" * 400,
    }.items():  # fmt: skip
        yield order_case(f"order-note-{what}", DONE, more(note=note))
    yield order_case("order-note-too-long", REFUSED, more(note="x" * 501), "501")


def orders() -> list[Case]:
    """All of them."""
    parts = (bombs, letters, grammar, lengths, types, ways, notes)
    return [case for part in parts for case in part()]
