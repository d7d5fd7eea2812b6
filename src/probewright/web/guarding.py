"""Who may see and change something: this computer and paired devices, each change with its session's token."""

from __future__ import annotations

import hashlib
import hmac
import os
import re
import secrets
from base64 import b64encode
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from tempfile import SpooledTemporaryFile
from typing import IO
from urllib.parse import urlsplit

from anyio import sleep
from itsdangerous import BadSignature, URLSafeSerializer
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from probewright.drawing import STYLE
from probewright.drawing.traces import STYLE as TRACES
from probewright.errors import complaint
from probewright.report.paper_html import STYLE as PAPER
from probewright.units import sentence
from probewright.web import pairing
from probewright.web.pairing import Pairing, is_here

HOSTS = ("127.0.0.1", "localhost", "[::1]")
NAME_AND_PORT = re.compile(r"^(\[[0-9a-f:]+\]|[^:]+):\d+$")
GO_BETWEEN = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")  # asked for somebody else
COOKIE = "bench"
LONGEST = 64 * 1024  # bytes, chosen: a form holds a few lines
LONGEST_TEXT = 1024 * 1024  # bytes, chosen: a machine file of ten thousand lines
LONGEST_FILES = 100 * 1024 * 1024  # bytes, chosen: four of the largest pictures at once, or three million points
IN_MEMORY = 1024 * 1024  # bytes, chosen: what is longer waits on the disk
CHUNK = 64 * 1024  # bytes, chosen: read back in pieces, others are served between them
MOST_FILES = 40  # chosen: files in one form
STYLES = " ".join(
    f"'sha256-{b64encode(hashlib.sha256(one.encode()).digest()).decode()}'" for one in (STYLE, TRACES, PAPER)
)
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; "
    f"style-src 'self' {STYLES}; img-src 'self'; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
STRANGER = "this device is not paired: open /pair on the computer that runs probewright, and scan the code there"


class Refused(Exception):
    """What may not be: one sentence, the code it is answered with, headers of its own."""

    def __init__(self, sentence: str, code: int, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.sentence, self.code, self.headers = sentence, code, headers or {}

    def answer(self) -> Response:
        """The sentence, and nothing else."""
        return PlainTextResponse(f"{sentence(self.sentence)}\n", self.code, headers={**HEADERS, **self.headers})


class Guard:
    """Around the pages. secret: kept beside the book, so that a page outlives a restart.

    shared: who else than this computer may come; None when the page is on this computer only. A page
    finds in `request.state`: `token`, what its forms must carry; `home`, whether it is asked by this
    computer; `paired`; `said`, the text fields of a form.
    """

    def __init__(self, app: ASGIApp, secret: str, shared: Pairing | None = None) -> None:
        self._app, self._secret, self._shared = app, secret, shared
        self._signer = URLSafeSerializer(secret, salt="session")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or say in one sentence why not."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope, receive)
        session = self._session_of(request)
        known = session or secrets.token_urlsafe(24)
        request.state.token = self._token(known)
        answer = self._headed(request, send, None if session else str(self._signer.dumps(known)))
        try:
            self._comes_from(request)
            if request.method in ("GET", "HEAD"):
                await self._app(scope, receive, answer)
                return
            self._may_change(request, session)
            with SpooledTemporaryFile(IN_MEMORY) as body:
                await _keep(request, body)
                await self._carries_token(request, body)
                await self._app(scope, _again(body, receive), answer)
        except Refused as no:
            await no.answer()(scope, receive, send)
        except ClientDisconnect:
            return  # nobody is left to answer to

    def _session_of(self, request: Request) -> str | None:
        """The session that the cookie carries; None without one or with a forged one."""
        try:
            return str(self._signer.loads(request.cookies.get(COOKIE, "")))
        except BadSignature:
            return None

    def _token(self, session: str) -> str:
        """What every form of this session carries."""
        return hmac.new(self._secret.encode(), session.encode(), hashlib.sha256).hexdigest()

    def _comes_from(self, request: Request) -> None:
        """Whether it is asked by a name of this computer, and by this computer or a paired device."""
        name = NAME_AND_PORT.sub(r"\1", request.headers.get("host", "").lower())
        if name not in HOSTS and (self._shared is None or name not in self._shared.hosts):
            raise Refused("this page answers to the names of this computer only", 400)
        peer = request.client.host if request.client else ""
        direct = not any(one in request.headers for one in GO_BETWEEN)
        request.state.home = self._shared is None or (name in HOSTS and is_here(peer) and direct)
        request.state.paired = bool(self._shared and self._shared.knows(request.cookies.get(pairing.COOKIE, "")))
        open_to_all = request.url.path.startswith(("/join/", "/static/"))
        if not (request.state.home or request.state.paired or open_to_all):
            raise Refused(STRANGER, 403)

    def _may_change(self, request: Request, session: str | None) -> None:
        """What can be known before the body is read."""
        origin = request.headers.get("origin")
        if origin is not None and urlsplit(origin).netloc != request.headers.get("host", ""):
            raise Refused("another page asked for this change; nothing was changed", 403)
        if session is None:
            raise Refused(ANEW, 403)
        length = request.headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > longest(request.url.path):
            raise _too_long(request)

    async def _carries_token(self, request: Request, body: IO[bytes]) -> None:
        body.seek(0)
        try:
            form = await Request(request.scope, _again(body, request.receive)).form(max_files=MOST_FILES)
        except HTTPException as problem:
            sentence = (
                f"this form came in pieces, or brought more than {MOST_FILES} files; send fewer: nothing was changed"
            )
            raise Refused(sentence, 400) from problem
        said = str(form.get("token", ""))
        request.state.said = {name: value for name, value in form.items() if isinstance(value, str)}
        await form.close()
        if not hmac.compare_digest(said.encode(), request.state.token.encode()):
            raise Refused(ANEW, 403)
        body.seek(0)

    def _headed(self, request: Request, send: Send, session: str | None) -> Send:
        """Sending with our headers; session: the cookie of a new one, which outlives a browser that the phone ends."""

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for header, value in HEADERS.items():
                    headers.setdefault(header, value)
                if not request.url.path.startswith("/static/"):
                    headers.setdefault("Cache-Control", "no-store")
                if session is not None:
                    baker = Response()
                    baker.set_cookie(COOKIE, session, max_age=pairing.LASTS, httponly=True, samesite="strict")
                    headers.append("set-cookie", baker.headers["set-cookie"])
            await send(message)

        return sending


ANEW = "this page is from another session; open it anew and say it again: nothing was changed"


def longest(path: str) -> int:
    """How many bytes a form sent to this page may have in all."""
    if path == "/jobs":
        return LONGEST_FILES
    if not path.startswith("/jobs/"):  # where a device that is not paired may knock, too
        return LONGEST
    if path.endswith(("/photos", "/waveform")):
        return LONGEST_FILES
    return LONGEST_TEXT if path.endswith(("/machine", "/machine/check", "/tie")) else LONGEST


def _too_long(request: Request) -> Refused:
    if request.url.path.endswith("/waveform"):
        return Refused("this file is more than 100 MB; save a shorter stretch: nothing was changed", 403)
    if longest(request.url.path) == LONGEST_FILES:
        return Refused("these are more than 100 MB in one go; send fewer pictures: nothing was changed", 403)
    return Refused("this is too long for a form; nothing was changed", 403)


async def _keep(request: Request, body: IO[bytes]) -> None:
    """The body, counted while it comes: what was said of its length may be missing or wrong."""
    left = longest(request.url.path)
    async for chunk in request.stream():
        left -= len(chunk)
        if left < 0:
            raise _too_long(request)
        body.write(chunk)


def _again(body: IO[bytes], then: Receive) -> Receive:
    """The kept body as it came in, then whatever comes."""
    more = True

    async def receive() -> Message:
        nonlocal more
        if not more:
            return await then()
        await sleep(0)
        chunk = body.read(CHUNK)
        more = bool(chunk)
        return {"type": "http.request", "body": chunk, "more_body": more}

    return receive


def secret_beside(book: Path) -> str:
    """The secret of this bench, made once, readable by its owner alone."""
    path = book.with_name(f"{book.name}.secret")
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        fresh = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
            file.write(secrets.token_hex(32))
            file.flush()
            os.fsync(file.fileno())
        with suppress(FileExistsError):
            os.link(fresh, path)  # whole or not at all, and the first of two starts wins
        fresh.unlink()
    found = path.read_text("utf-8", "replace")
    if not re.fullmatch(r"[0-9a-f]{64}", found):
        mend = "delete it; open pages then ask to be loaded anew, and paired devices must pair again"
        raise complaint("this is no secret of a bench", mend, path)
    return found
