#!/usr/bin/env python3
"""Lets the built program work a night off and judges the report page: in a browser, over the wire, and with a long history."""

from __future__ import annotations

import argparse
import http.client
import json
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

from judging.findings import Findings
from PIL import Image

HERE = Path(__file__).resolve().parent
NASTY = """</p><script>ran = 1</script><img src=x onerror="ran = 2"> & 'quoted' "words" """.strip()
"""A note as nobody should write it."""
HISTORY = 5000
"""Jobs in a long history, and how long an answer from it may take, the start of the program included."""
ANSWER = 0.1

CONFIG = """
quiet: 0s
wait: 0s
stages: [{resize: {ppi: 100}}, profile, mirror, overlap, tile, marks, press]
rates: {currency: EUR, papers: {letter: 0.35, legal: 0.45}, blanks: {table-mat-36x24: 12.50}, press_hour: 18}
"""
SUBSTRATES = {"polyester-mat": None, "hot": "heat: 205C\ndwell: 60s\n", "mild": "heat: 180C\ndwell: 40s\n"}


def picture(seed: int, size: tuple[int, int] = (900, 600)) -> Image.Image:
    """Something with colours and detail in every part."""
    chance = random.Random(seed)
    small = Image.new("RGB", (12, 8))
    small.putdata([tuple(chance.randrange(256) for _ in range(3)) for _ in range(96)])
    return small.resize(size, Image.Resampling.BICUBIC)


class Studio:
    """A studio in a scratch folder."""

    def __init__(self, root: Path, binary: Path) -> None:
        self.root, self.binary = root, binary
        self.incoming, self.outgoing = root / "incoming", root / "outgoing"
        self.incoming.mkdir(parents=True)
        (root / "seamwright.yaml").write_text(CONFIG, encoding="utf-8")
        (root / "substrates").mkdir()
        for name, text in SUBSTRATES.items():
            if text:
                (root / "substrates" / f"{name}.yaml").write_text(text, encoding="utf-8")

    def save(self, name: str, seed: int, blank: str, **more: object) -> None:
        """An order and its artwork; a blank of a substrate of ours, or one of the catalogue."""
        if blank in SUBSTRATES:
            blank = {"width": "18in", "height": "12in", "substrate": blank, "ppi_refuse": 20, "ppi_floor": 60}
        (self.incoming / f"{name}.yaml").write_text(json.dumps({"blank": blank, **more}), encoding="utf-8")
        picture(seed).save(self.incoming / f"{name}.png")

    def call(self, *words: str, ok: tuple[int, ...] = (0,)) -> str:
        done = subprocess.run([self.binary, *words, "--config", self.root / "seamwright.yaml"], capture_output=True, text=True, check=False)
        if done.returncode not in ok:
            raise SystemExit(f"{words}: exit code {done.returncode}\n{done.stdout}{done.stderr}")
        return done.stdout

    def job(self, stem: str) -> str:
        return next(path.name for path in sorted(self.outgoing.iterdir()) if path.name.startswith(f"{stem}-"))

    @contextmanager
    def served(self):
        """The daemon with its live page; gives the address."""
        command = [self.binary, "watch", "--page", "0", "--config", self.root / "seamwright.yaml"]
        daemon = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        try:
            line = daemon.stdout.readline()
            yield line.split("http://")[1].strip().rstrip("/")
        finally:
            daemon.terminate()
            daemon.wait(timeout=60)


def night(studio: Studio) -> dict:
    """Works a night off; gives what the page must have."""
    studio.save("tide", 1, "hot", note="for the jetty")
    studio.save("chart", 2, "table-mat-36x24", allow_low_ppi=True)
    studio.save("moon", 3, "mild", copies=3, note=NASTY)
    studio.save("gulls", 4, "mild", paper="legal")
    studio.save("visitors<b>&amp;\"names\"", 5, "polyester-mat")
    studio.save("lamp", 6, "no-such-blank")
    # Its one line is longer than a phone is wide, and is shown with what is meant underlined.
    studio.save("lens", 8, "no-such-lens", note=NASTY)
    studio.save("pressed", 7, "mild")
    studio.call("once", ok=(1,))
    studio.call("result", studio.job("pressed"), "--good", "crisp & <i>clean</i>")
    names = {stem: studio.job(stem) for stem in ("tide", "chart", "moon", "gulls", "visitors")}
    order = [names[stem] for stem in ("gulls", "moon", "visitors", "chart", "tide")]
    says = [NASTY, "no-such-blank", "no-such-lens", "^^^^", "Refused", "crisp & <i>clean</i>", "3 copies", "for the jetty", "EUR", "Take care", "of legal to load"]
    return {"jobs": order, "says": says, "late": "late"}


def browse(studio: Studio, name: str, url: str, expected: dict, options: argparse.Namespace, found: Findings, live: bool) -> None:
    """Lets Chromium look at the page."""
    wanted = {
        "name": name, "url": url, "live": live, "jobs": expected["jobs"], "says": expected["says"],
        "modules": str(options.modules), "chromium": options.chromium, "shots": str(options.shots) if options.shots else None,
    }  # fmt: skip
    node = subprocess.Popen(["node", HERE / "page.mjs"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    node.stdin.write(json.dumps(wanted))
    node.stdin.close()
    checks = 0
    for line in node.stdout:
        item = json.loads(line)
        if item.get("ask") == "job":
            studio.save(expected["late"], 8, "mild")
            expected["jobs"] = None
            continue
        checks += 1
        found.add(item["check"], item["well"], item["detail"])
    found.add(f"{name}: the browser looked at all of it", node.wait() == 0 and checks > 40, f"{checks} checks")


def wire(address: str, studio: Studio, found: Findings) -> None:
    """What is served, and what is not, to whoever asks."""
    host, port = address.split(":")
    job = studio.job("tide")

    def ask(path: str, method: str = "GET", **headers: str) -> tuple[int, bytes, dict]:
        wire = http.client.HTTPConnection(host, int(port), timeout=10)
        wire.putrequest(method, path, skip_host="Host" in headers)
        for key, value in headers.items():
            wire.putheader(key.replace("_", "-"), value)
        wire.endheaders()
        answer = wire.getresponse()
        return answer.status, answer.read(), {key.lower(): value for key, value in answer.getheaders()}

    status, page, headers = ask("/")
    found.add("the page is served whole", status == 200 and page.endswith(b"</html>") and int(headers["content-length"]) == len(page))
    found.add("and is to be asked for anew", headers["cache-control"] == "no-store" and headers["x-content-type-options"] == "nosniff")
    status, sheets, headers = ask(f"/{job}/sheets.pdf")
    same = sheets == (studio.outgoing / job / "sheets.pdf").read_bytes()
    found.add("sheets are served to the byte", status == 200 and same and headers["content-type"] == "application/pdf")
    status, nothing, headers = ask(f"/{job}/sheets.pdf", "HEAD")
    found.add("a head has no body", status == 200 and nothing == b"" and int(headers["content-length"]) == len(sheets))
    # Browsers ask for it beside every text, on their own, and complain in the console where it is missing.
    status, icon, headers = ask("/favicon.ico")
    found.add("a browser is told that there is no icon", status == 204 and icon == b"" and "content-length" not in headers, str(headers))
    for method in ("POST", "PUT", "DELETE", "OPTIONS"):
        found.add(f"{method} is refused", ask("/", method)[0] == 405)
    (studio.outgoing / job / "leads-out.txt").symlink_to("/etc/hostname")
    (studio.outgoing / "linked").symlink_to(studio.root / "kept", target_is_directory=True)
    (studio.outgoing / ".hidden").mkdir()
    (studio.outgoing / ".hidden" / "x.txt").write_text("x")
    kept = next(path.name for path in (studio.root / "kept").iterdir() if path.name.startswith("tide-"))
    for path in (
        "/../seamwright.yaml", "/%2e%2e/kept/x.png", f"/{job}/../../seamwright.yaml", f"/{job}/..%2f..%2fseamwright.yaml",
        f"/{job}/leads-out.txt", f"/linked/{kept}/order.yaml", "/linked/x.png", "/.hidden/x.txt", f"/{job}/", f"/{job}", "/.staging/x.pdf",
        f"/{job}/sheets.pdf/", f"/{job}/%00.pdf", "//etc/passwd", "/" + "a" * 5000 + "/x.pdf",
    ):  # fmt: skip
        status = ask(path)[0]
        found.add(f"{path[:60]} is not served", status == 404, str(status))
    for name in ("studio.example", f"studio.example:{port}", f"localhost.example:{port}", ""):
        found.add(f"the host {name!r} is turned away", ask("/", Host=name)[0] == 403)
    found.add("localhost is this machine", ask("/", Host=f"localhost:{port}")[0] == 200)
    with socket.create_connection((host, int(port)), timeout=30) as slow:
        slow.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ")
        began = time.monotonic()
        slow.settimeout(30)
        rest = slow.recv(1 << 16)
        took = time.monotonic() - began
        found.add("a head that does not end is waited for no longer than ten seconds", 8 < took < 20 and b"200" not in rest[:16], f"{took:.1f} s")
    crowd = [socket.create_connection((host, int(port)), timeout=5) for _ in range(40)]
    time.sleep(0.5)
    turned = 0
    for one in crowd:
        one.settimeout(0.2)
        try:
            turned += one.recv(1) == b""
        except TimeoutError:
            pass
        except ConnectionResetError:
            turned += 1
        one.close()
    found.add("a crowd is turned away", turned >= 8, f"{turned} of 40")
    time.sleep(0.5)
    found.add("and then it answers as before", ask("/")[0] == 200)
    with socket.create_connection((host, int(port)), timeout=30) as large:
        large.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"a" * (1 << 17) + b"\r\n\r\n")
        try:
            said = large.recv(100)
        except ConnectionResetError:
            said = b""
        found.add("a head without measure is refused", b" 200 " not in said, str(said[:40]))


def long_history(studio: Studio, found: Findings) -> None:
    """Five thousand jobs: the page and every question within a tenth of a second."""
    log = studio.root / "kept" / ".history.jsonl"
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    done = next(line for line in lines if line["end"] == "done" and line["made"].get("warnings"))
    with log.open("a", encoding="utf-8") as out:
        for number in range(HISTORY):
            made = done["made"] | {"blank": f"blank-{number % 40}", "note": f"the {number}th of them"}
            at = f"20{20 + number // 1000:02d}-{number // 100 % 10 + 1:02d}-{number % 28 + 1:02d}T05:00:00Z"
            out.write(json.dumps(done | {"job": f"past-{number:06x}", "at": at, "made": made}) + "\n")
            if number % 10 == 0:
                out.write(json.dumps({"at": at, "job": f"past-{number:06x}", "end": "good", "blank": made["blank"]}) + "\n")
    size = log.stat().st_size / 1e6
    job = studio.job("tide")
    for words in (["history", "--last", "5000"], ["history", "4321th"], ["history", "--blank", "blank-7", "--since", "2024-01-01"],
                  ["status"], ["result", job, "--good"]):  # fmt: skip
        took = []
        for _ in range(5):
            began = time.perf_counter()
            said = studio.call(*words)
            took.append(time.perf_counter() - began)
        shown = " ".join(words)
        print(f"   {min(took) * 1e3:6.1f} ms  {shown}  ({HISTORY} jobs, {size:.1f} MB)", flush=True)
        found.add(f"{shown} answers from {HISTORY} jobs within {ANSWER * 1e3:.0f} ms", min(took) < ANSWER and said != "", f"{min(took) * 1e3:.1f} ms")
    said = studio.call("history", "4321th")
    found.add("and what it says is the one asked for", "past-0010e1" in said and "the 4321th of them" in said, said)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, required=True)
    parser.add_argument("--modules", type=Path, required=True, help="a folder with package.json and what it needs")
    parser.add_argument("--chromium", default=shutil.which("chromium"))
    parser.add_argument("--shots", type=Path, help="where pictures of the page go, to be looked at")
    options = parser.parse_args()
    options.binary = options.binary.resolve()
    found = Findings()
    with tempfile.TemporaryDirectory(prefix="seamwright-report-") as scratch:
        studio = Studio(Path(scratch) / "studio", options.binary)
        expected = night(studio)
        browse(studio, "file", (studio.outgoing / "index.html").as_uri(), expected, options, found, live=False)
        with studio.served() as address:
            wire(address, studio, found)
            browse(studio, "served", f"http://{address}/", expected, options, found, live=True)
        long_history(studio, found)
    for item in found.failed():
        print(f"FAIL  {item.check}: {item.detail}")
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
