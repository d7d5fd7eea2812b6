"""Sharing the page on the bench network: the code to scan, the paired devices, and what a device sees that scans it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.record import stamp
from probewright.web.guarding import Refused
from probewright.web.pairing import COOKIE, LASTS, Pairing, TooOften
from probewright.web.sheets import Sheets, posted, to

STALE = "this link was used already or is too old; press Fresh link on the computer that runs probewright"


class PairingPages:
    """`/pair` on this computer, `/join` on the device that scans."""

    def __init__(self, sheets: Sheets) -> None:
        self.page = sheets.page

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [
            Route("/pair", self.pair),
            Route("/pair/fresh", posted(self.fresh), methods=["POST"]),
            Route("/pair/forget", posted(self.forget), methods=["POST"]),
            Route("/join/{secret}", self.asked),
            Route("/join/{secret}", posted(self.join), methods=["POST"]),
        ]

    def pair(self, request: Request) -> Response:
        """The code and the link, and who is paired."""
        shared = _at_home(request)
        links = shared.links
        return self.page(
            request, "pair.html", links=links, picture=drawn(links[0]) if links else "", pages=shared.pages,
            minutes=math.ceil(shared.seconds / 60.0), devices=shared.devices,
        )  # fmt: skip

    def fresh(self, request: Request, said: dict[str, str]) -> Response:
        """A new link in place of the old one."""
        _at_home(request).fresh()
        return to("/pair")

    def forget(self, request: Request, said: dict[str, str]) -> Response:
        """No device is paired any more."""
        _at_home(request).forget()
        return to("/pair")

    def asked(self, request: Request) -> Response:
        """One button: a program that only looks where the link leads uses nothing up."""
        shared = _shared(request)
        if request.state.home or request.state.paired:
            return to("/jobs")
        with _counted():
            if not shared.is_good(request.path_params["secret"], _peer(request)):
                raise Refused(STALE, 403)
        return self.page(request, "pair_join.html")

    def join(self, request: Request, said: dict[str, str]) -> Response:
        """Pair the device that asks."""
        browser = request.headers.get("user-agent", "")
        with _counted():
            cookie = _shared(request).join(request.path_params["secret"], _peer(request), browser, stamp())
        if cookie is None:
            raise Refused(STALE, 403)
        answer = to("/jobs")
        answer.set_cookie(COOKIE, cookie, max_age=LASTS, httponly=True, samesite="strict")
        return answer


def _shared(request: Request) -> Pairing:
    shared: Pairing | None = request.app.state.shared
    if shared is None:
        raise Refused("this page is not shared; start it with: probewright serve --lan", 403)
    return shared


def _at_home(request: Request) -> Pairing:
    if not request.state.home:
        raise Refused("pairing is done on the computer that runs probewright", 403)
    return _shared(request)


def _peer(request: Request) -> str:
    return request.client.host if request.client else ""


@contextmanager
def _counted() -> Iterator[None]:
    try:
        yield
    except TooOften as often:
        wait = {"Retry-After": str(often.seconds)}
        raise Refused(f"too many links that are not good; try again in {often.seconds} s", 429, wait) from None


def drawn(link: str) -> str:
    """The link as a QR code in SVG, dark on light in any colour scheme, so that every phone reads it."""
    import segno  # only here: few pages show a code

    return segno.make(link, micro=False).svg_inline(dark="#000", light="#fff", omitsize=True)
