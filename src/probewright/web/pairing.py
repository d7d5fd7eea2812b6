"""Who on the bench network may open the page: a link that is good once, and the devices that used one."""

from __future__ import annotations

import hmac
import json
import math
import os
import secrets
import socket
import struct
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from ipaddress import ip_address
from pathlib import Path

from itsdangerous import BadSignature, URLSafeSerializer

COOKIE = "paired"
RANDOM = 24  # bytes, chosen: 192 bits cannot be guessed
GOOD_FOR = 600.0  # s, chosen: time to find the phone and unlock it
WINDOW = 60.0  # s, chosen: attempts are counted over a minute
ONE_MAY, ALL_MAY = 5, 20  # chosen: wrong links in that time from one device, and from all; a person tries two or three
LASTS = 180 * 24 * 3600  # s, chosen: half a year, then a browser drops its cookie and is paired anew
SORTS = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")  # words of a browser that a person knows


@dataclass(frozen=True)
class Device:
    """A browser that was paired: its mark, the address it came from, what it says it is, since when (UTC, ISO)."""

    mark: str
    address: str
    sort: str
    since: str


class TooOften(Exception):
    """Too many wrong links. seconds: until the next try is looked at."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"wait {seconds} s")
        self.seconds = seconds


class Pairing:
    """The link that pairs, and the paired devices, which outlive a restart.

    secret: what cookies are signed with; kept: the file of the devices; addresses: of this computer,
    the likeliest first; names: other names it answers to; clock: seconds that only go forward.
    """

    def __init__(
        self, secret: str, kept: Path, addresses: Sequence[str], names: Sequence[str], port: int,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self.hosts = frozenset((*addresses, *names))
        self.pages = tuple(f"http://{address}:{port}/" for address in addresses)
        self._signer = URLSafeSerializer(secret, salt="paired")
        self._kept, self._clock = kept, clock
        self._lock = threading.Lock()
        self._wrong: list[tuple[float, str]] = []  # when, from where; never longer than ALL_MAY
        self._devices = _read(kept)
        self.fresh()

    def fresh(self) -> None:
        """A new link; the one before is good no more."""
        self._link: str | None = secrets.token_urlsafe(RANDOM)
        self._until = self._clock() + GOOD_FOR

    @property
    def links(self) -> tuple[str, ...]:
        """The link on each address of this computer; () once it was used or is too old."""
        link = self._link
        return tuple(f"{page}join/{link}" for page in self.pages) if link and self.seconds > 0 else ()

    @property
    def seconds(self) -> float:
        """How long the link is still good."""
        return self._until - self._clock()

    @property
    def devices(self) -> tuple[Device, ...]:
        """Who is paired, the latest first."""
        return tuple(reversed(self._devices))

    def is_good(self, said: str, peer: str) -> bool:
        """Whether this is the secret of the link; a wrong one counts. TooOften after too many of them."""
        with self._lock:
            return self._is_good(said, peer)

    def join(self, said: str, peer: str, browser: str, now: str) -> str | None:
        """Use the link up: the cookie of a device that is paired from now on; None when the link is not good.

        browser: what it calls itself; now: UTC, ISO. TooOften after too many wrong ones.
        """
        with self._lock:
            if not self._is_good(said, peer):
                return None
            sort = next((one for one in SORTS if one in browser), "a browser")
            device = Device(secrets.token_urlsafe(RANDOM), peer, sort, now)
            self._keep([*self._devices, device])
            self._link = None
            return str(self._signer.dumps(device.mark))

    def knows(self, cookie: str) -> bool:
        """Whether this cookie is of a paired device; marks are random, so a forgotten one never comes back."""
        try:
            mark = str(self._signer.loads(cookie))
        except BadSignature:
            return False
        return any(mark == device.mark for device in self._devices)

    def forget(self) -> None:
        """No device is paired any more."""
        with self._lock:
            self._keep([])

    def _is_good(self, said: str, peer: str) -> bool:
        now = self._clock()
        self._wrong = [one for one in self._wrong if now - one[0] < WINDOW]
        own = [when for when, where in self._wrong if where == peer]
        for times, most in ((own, ONE_MAY), ([when for when, _ in self._wrong], ALL_MAY)):
            if len(times) >= most:
                raise TooOften(max(1, math.ceil(times[0] + WINDOW - now)))
        link = self._link
        if link is not None and now < self._until and hmac.compare_digest(said.encode(), link.encode()):
            return True
        self._wrong.append((now, peer))
        return False

    def _keep(self, devices: list[Device]) -> None:
        half = self._kept.with_name(f"{self._kept.name}.half")
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as file:
            json.dump([asdict(one) for one in devices], file)
        half.replace(self._kept)
        self._devices = devices


def devices_beside(book: Path) -> Path:
    """Where the paired devices of this bench are kept."""
    return book.with_name(f"{book.name}.paired")


def _read(kept: Path) -> list[Device]:
    """The devices in this file; none when it is not there or cannot be read: then each pairs anew."""
    try:
        return [Device(**one) for one in json.loads(kept.read_text("utf-8"))]
    except (OSError, ValueError, TypeError):
        return []


def is_here(peer: str) -> bool:
    """Whether the other end of a connection is this very computer."""
    try:
        address = ip_address(peer)
    except ValueError:
        return False
    return (getattr(address, "ipv4_mapped", None) or address).is_loopback


def own_addresses() -> tuple[str, ...]:
    """IPv4 addresses of this computer on its networks, the one of the way out first; () without a network."""
    found = (one for one in (*_way_out(), *_by_name(), *_by_card()) if not ip_address(one).is_loopback)
    return tuple(dict.fromkeys(found))


def own_names() -> tuple[str, ...]:
    """What this computer is called, and what it is called by phones that ask the network for it."""
    name = socket.gethostname().lower()
    return (name, f"{name.partition('.')[0]}.local")


def _way_out() -> Iterator[str]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked, suppress(OSError):
        asked.connect(("192.0.2.1", 9))  # an address of no one (RFC 5737): picks the way, sends nothing
        yield asked.getsockname()[0]


def _by_name() -> Iterator[str]:
    with suppress(OSError):
        yield from (str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET))


def _by_card() -> Iterator[str]:
    """Each network card's address; on Linux, where the name seldom leads to it."""
    if sys.platform != "linux":
        return
    import fcntl

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, card in socket.if_nameindex():
            with suppress(OSError):  # a card without an address
                told = fcntl.ioctl(asked, 0x8915, struct.pack("256s", card.encode()))  # SIOCGIFADDR
                yield socket.inet_ntoa(told[20:24])
