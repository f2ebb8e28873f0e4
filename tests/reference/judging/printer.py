"""A real IPP printer on loopback, CUPS' `ippeveprinter`, and a line to it that breaks where it is told to."""

from __future__ import annotations

import os
import re
import shutil
import socket
import struct
import subprocess
import tempfile
import threading
import time
from pathlib import Path

CAN = """
ATTR boolean color-supported true
ATTR rangeOfInteger copies-supported 1-99
ATTR integer copies-default 1
ATTR mimeMediaType document-format-supported application/pdf,application/octet-stream
ATTR mimeMediaType document-format-default application/pdf
ATTR keyword media-supported na_letter_8.5x11in,na_legal_8.5x14in,iso_a4_210x297mm
ATTR keyword media-default iso_a4_210x297mm
ATTR keyword media-ready na_letter_8.5x11in
ATTR keyword media-col-supported media-size,media-type,media-source,media-top-margin,media-bottom-margin,media-left-margin,media-right-margin
ATTR keyword media-type-supported stationery,photographic-matte
ATTR keyword media-source-supported main,rear
{database}
ATTR keyword print-color-mode-supported color,monochrome,auto
ATTR keyword print-color-mode-default monochrome
ATTR enum print-quality-supported 3,4,5
ATTR enum print-quality-default 4
{scaling}
ATTR keyword sides-supported one-sided,two-sided-long-edge
ATTR keyword sides-default two-sided-long-edge
ATTR text printer-make-and-model "Loopback Test Printer"
"""
SCALING = "ATTR keyword print-scaling-supported auto,auto-fit,fill,fit,none\nATTR keyword print-scaling-default auto"
SHEETS = ((21590, 27940), (21590, 35560), (21000, 29700))
"""Its papers in hundredths of a millimetre, each with margins and without."""

OPERATIONS = {2: "print", 5: "open", 6: "fill", 8: "cancel", 9: "job", 10: "jobs", 11: "able"}
BUSY = 0x0507
REFUSED = 0x040B


def database() -> str:
    """`media-col-database`: every paper with margins, and borderless."""
    entry = (
        "{{ MEMBER collection media-size {{ MEMBER integer x-dimension {x} MEMBER integer y-dimension {y} }} MEMBER integer media-top-margin {t} "
        "MEMBER integer media-bottom-margin {b} MEMBER integer media-left-margin {s} MEMBER integer media-right-margin {s} }}"
    )
    all_of = [entry.format(x=x, y=y, t=t, b=b, s=s) for x, y in SHEETS for t, b, s in ((0, 0, 0), (300, 500, 340))]
    sizes = ",".join(f"{{ MEMBER integer x-dimension {x} MEMBER integer y-dimension {y} }}" for x, y in SHEETS)
    return f"ATTR collection media-size-supported {sizes}\nATTR collection media-col-default {all_of[1]}\nATTR collection media-col-database {','.join(all_of)}"


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return sock.getsockname()[1]


class Bus:
    """The private message bus that the printer will not start without."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="bus-"))
        self.address = f"unix:path={self.folder}/bus"
        command = ["dbus-daemon", "--session", "--nofork", "--nosyslog", f"--address={self.address}"]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        while not (self.folder / "bus").exists():
            time.sleep(0.02)

    def close(self) -> None:
        self.process.kill()
        self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


class Printer:
    """One that keeps what it receives."""

    def __init__(self, folder: Path, bus: Bus, scaling: str = SCALING, work: str = "", port: int | None = None) -> None:
        self.folder, self.bus = folder, bus
        self.spool = folder / "spool"
        self.spool.mkdir(parents=True, exist_ok=True)
        self.port = port or free_port()
        (folder / "can.conf").write_text(CAN.format(database=database(), scaling=scaling), encoding="utf-8")
        worker = folder / "work"
        # As printers do: what has no end is no PDF, and what is printed is counted.
        end = 'tail -c 8 "$1" | grep -q EOF || exit 1\necho "ATTR: job-impressions-completed=1" >&2'
        worker.write_text(f"#!/bin/sh\n{work}\n{end}\n", encoding="utf-8")
        worker.chmod(0o755)
        self.uri = f"ipp://localhost:{self.port}/ipp/print"
        self.process: subprocess.Popen | None = None
        self.start()

    def start(self) -> None:
        folder = self.folder
        command = ["ippeveprinter", "-vvv", "-n", "localhost", "-p", str(self.port), "-r", "off", "-d", self.spool, "-k", "-a", folder / "can.conf", "-c", folder / "work", "test"]
        env = {**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": self.bus.address}
        log = open(folder / "printer.log", "ab")
        self.process = subprocess.Popen(command, stdout=log, stderr=log, env=env)
        log.close()
        until(lambda: reachable(self.port), "the printer listens")

    def stop(self) -> None:
        if self.process:
            self.process.kill()
            self.process.wait()
            self.process = None

    def received(self) -> list[Path]:
        """Every document that came in, whole or not."""
        return [path for path in self.spool.iterdir() if path.suffix == ".pdf"]

    def tell(self, test: str, uri: str | None = None, **values: object) -> str:
        """What ipptool says of one request."""
        path = self.folder / "ask.test"
        path.write_text(test, encoding="utf-8")
        given = [word for key, value in values.items() for word in ("-d", f"{key}={value}")]
        return subprocess.run(["ipptool", "-tv", *given, uri or self.uri, path], capture_output=True, text=True, check=False).stdout

    def job(self, number: int) -> dict[str, str]:
        """The attributes of a job."""
        said = self.tell(ASK_JOB, number=number)
        answer = said.split("RECEIVED", 1)[-1]
        return {name: value.strip() for name, value in re.findall(r"^\s+([a-z0-9-]+) \([^)]*\) = (.*)$", answer, re.M)}


ASK_JOB = """{ OPERATION Get-Job-Attributes
GROUP operation-attributes-tag ATTR charset attributes-charset utf-8 ATTR naturalLanguage attributes-natural-language en
ATTR uri printer-uri $uri ATTR integer job-id $number ATTR name requesting-user-name judge
}
"""


def reachable(port: int) -> bool:
    try:
        socket.create_connection(("localhost", port), timeout=1).close()
    except OSError:
        return False
    return True


def until(what, words: str, seconds: float = 60, every: float = 0.02):
    """Waits for something to be so."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := what():
            return found
        time.sleep(every)
    raise SystemExit(f"waited {seconds} s in vain: {words}")


class Line:
    """Passes requests on to a printer, one a connection, and breaks at one point when it is told to.

    `cut` is (operation, point) with the points `asked` (the printer hears nothing of it), `half` (it hears a half), `heard`
    (it hears all and its answer is lost), `busy` and `refused` (it is answered so in its place). What is called at that
    moment is `then`, as for killing whoever asked.
    """

    def __init__(self, to: int) -> None:
        self.to, self.cut, self.then = to, None, lambda: None
        self.requests: list[tuple[str, bytes]] = []
        self.struck = threading.Event()
        self.only_print = False
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        self.uri = f"ipp://localhost:{self.port}/ipp/print"
        threading.Thread(target=self.listen, daemon=True).start()

    def arm(self, operation: str, point: str, then=lambda: None) -> None:
        self.struck.clear()
        self.then, self.cut = then, (operation, point)

    def close(self) -> None:
        self.server.close()

    def listen(self) -> None:
        while True:
            try:
                sock, _ = self.server.accept()
            except OSError:
                return
            threading.Thread(target=self.serve, args=(sock,), daemon=True).start()

    def serve(self, sock: socket.socket) -> None:
        try:
            with sock:
                self.one(sock)
        except OSError:
            pass

    def one(self, sock: socket.socket) -> None:
        head = b""
        while b"\r\n\r\n" not in head:
            head += (piece := sock.recv(65536))
            if not piece:
                return
        head, body = head.split(b"\r\n\r\n", 1)
        length = int(re.search(rb"content-length: (\d+)", head.lower()).group(1))
        while len(body) < min(length, 8):
            body += sock.recv(65536)
        operation = OPERATIONS.get(struct.unpack(">H", body[2:4])[0], "other")
        point = self.take(operation)
        if point == "asked":
            return self.strike()
        while len(body) < length:
            piece = sock.recv(1 << 20)
            if not piece:
                return
            body += piece
        if point in ("busy", "refused"):
            self.struck.set()
            status = BUSY if point == "busy" else REFUSED
            return sock.sendall(http(body[:2] + struct.pack(">H", status) + body[4:8] + CHARSET))
        self.requests.append((operation, body))
        answer = self.pass_on(head + b"\r\n\r\n", body[: length // 2] if point == "half" else body, bool(point))
        if point:
            return self.strike()
        if operation == "able" and self.only_print:
            answer = answer.replace(b"\x23\x00\x00\x00\x04\x00\x00\x00\x05", b"\x23\x00\x00\x00\x04\x00\x00\x00\x02")
        sock.sendall(answer)
        return None

    def take(self, operation: str) -> str | None:
        """The point to break at, once."""
        if self.cut and self.cut[0] == operation:
            point, self.cut = self.cut[1], None
            return point
        return None

    def strike(self) -> None:
        self.then()
        self.struck.set()

    def pass_on(self, head: bytes, body: bytes, broken: bool) -> bytes:
        with socket.create_connection(("localhost", self.to), timeout=60) as there:
            there.sendall(head + body)
            if broken and f"content-length: {len(body)}".encode() not in head.lower():
                return b""
            return whole(there)


CHARSET = b"\x01\x47\x00\x12attributes-charset\x00\x05utf-8\x48\x00\x1battributes-natural-language\x00\x02en\x03"


def http(answer: bytes) -> bytes:
    return b"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: %d\r\n\r\n%s" % (len(answer), answer)


def whole(there: socket.socket) -> bytes:
    """An answer from its first byte to its last; chunks are put together."""
    answer = b""
    while b"\r\n\r\n" not in answer:
        answer += (piece := there.recv(65536))
        if not piece:
            return answer
    head, body = answer.split(b"\r\n\r\n", 1)
    if head.split(b"\r\n")[0].split()[1] == b"100":
        raise OSError("the printer wants to be asked first")
    if length := re.search(rb"content-length: (\d+)", head.lower()):
        while len(body) < int(length.group(1)):
            body += there.recv(65536)
        return answer.split(b"\r\n\r\n", 1)[0] + b"\r\n\r\n" + body
    while not body.endswith(b"0\r\n\r\n"):
        body += (piece := there.recv(65536))
        if not piece:
            break
    parts, rest = b"", body
    while rest:
        size, rest = rest.split(b"\r\n", 1)
        if (count := int(size, 16)) == 0:
            break
        parts, rest = parts + rest[:count], rest[count + 2 :]
    return http(parts)
