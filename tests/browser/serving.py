"""The bench page served for a test: as the command a person starts, which may be killed, or by a thread."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import uvicorn

from probewright.jobs import bench
from probewright.jobs.cases import Case
from probewright.record import open_book
from probewright.web.app import make_app
from probewright.web.guarding import secret_beside
from probewright.web.pairing import Pairing, devices_beside

COMMAND = Path(sys.executable).with_name("probewright")
PATIENCE = 30.0  # s, chosen: a start takes 2 s on a quiet machine


class Served:
    """The command `probewright serve` on a book of its own."""

    def __init__(self, book: Path) -> None:
        self.book, self.port = book, 0
        self.start()

    @property
    def address(self) -> str:
        """Where the pages are."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start, on the port it had before."""
        self.process = subprocess.Popen(
            [str(COMMAND), "serve", "--port", str(self.port)], env=os.environ | {"PROBEWRIGHT_BOOK": str(self.book)},
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        self.port = int(said.split("127.0.0.1:")[1].split("/")[0])
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            with socket.socket() as door:
                if door.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.02)
        raise TimeoutError(said)

    def halt(self) -> None:
        """Let it hang: what is sent now lies in its door, unread."""
        self.process.send_signal(signal.SIGSTOP)

    def kill(self) -> None:
        """End it as a power cut would."""
        self.process.kill()
        self.process.wait()
        if self.process.stdout:
            self.process.stdout.close()

    def case(self, job: int = 1) -> Case:
        """The job as its book tells it."""
        with open_book(self.book) as book:
            return bench.find_case(book, job)

    def lines(self, job: int = 1) -> list[tuple[str, str]]:
        """The lines of the job and what became of each."""
        return [(line.text, line.status) for line in self.case(job).lines]


class ServedHere:
    """The pages by a thread of this process: quicker to start, and nothing may be written."""

    def __init__(self, book: Path, lan: bool = False) -> None:
        self.door = socket.socket()
        self.door.bind(("127.0.0.1", 0))
        secret = secret_beside(book)
        self.shared = Pairing(secret, devices_beside(book), ["192.168.0.5"], ["bench"], 8620) if lan else None
        app = make_app(open_book(book), secret, self.shared)
        self.server = uvicorn.Server(uvicorn.Config(app, log_level="error", proxy_headers=False))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.door]})
        self.thread.start()
        end = time.monotonic() + PATIENCE
        while not self.server.started and time.monotonic() < end:
            time.sleep(0.01)

    @property
    def address(self) -> str:
        """Where the pages are."""
        return f"http://127.0.0.1:{self.door.getsockname()[1]}"

    def stop(self) -> None:
        """End it and wait for its end."""
        self.server.should_exit = True
        self.thread.join(PATIENCE)
        self.door.close()
