"""Who may change something: this computer's own pages alone, each with its session's token."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from base64 import b64encode
from collections.abc import Awaitable, Callable
from pathlib import Path
from urllib.parse import urlsplit

from itsdangerous import BadSignature, URLSafeSerializer
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from probewright.drawing import STYLE

HOSTS = ("127.0.0.1", "localhost", "[::1]")
COOKIE = "bench"
LONGEST = 64 * 1024  # chosen, bytes: a form holds a few lines; photographs are not taken here
STYLES = b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; "
    f"style-src 'self' 'sha256-{STYLES}'; img-src 'self'; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
Next = Callable[[Request], Awaitable[Response]]


class Guard:
    """Signed sessions and their tokens; secret: kept beside the book, so that a page outlives a restart."""

    def __init__(self, secret: str) -> None:
        self._secret = secret
        self._signer = URLSafeSerializer(secret, salt="session")

    def session_of(self, request: Request) -> str | None:
        """The session that the cookie carries; None without one or with a forged one."""
        try:
            return str(self._signer.loads(request.cookies.get(COOKIE, "")))
        except BadSignature:
            return None

    def token(self, session: str) -> str:
        """What every form of this session carries."""
        return hmac.new(self._secret.encode(), session.encode(), hashlib.sha256).hexdigest()

    async def __call__(self, request: Request, go_on: Next) -> Response:
        """Let a request through, or say in one sentence why not."""
        host = request.headers.get("host", "")
        name = host if host.endswith("]") else host.rpartition(":")[0] or host
        if name not in HOSTS:
            return refused("this page answers to the names of this computer only", 400)
        session = self.session_of(request)
        if request.method not in ("GET", "HEAD"):
            if complaint := await self._changes(request, session, host):
                return refused(complaint, 403)
        known = session or secrets.token_urlsafe(24)
        request.state.token = self.token(known)
        answer = await go_on(request)
        for header, value in HEADERS.items():
            answer.headers.setdefault(header, value)
        if not request.url.path.startswith("/static/"):
            answer.headers.setdefault("Cache-Control", "no-store")
        if session is None:
            answer.set_cookie(COOKIE, str(self._signer.dumps(known)), httponly=True, samesite="strict")
        return answer

    async def _changes(self, request: Request, session: str | None, host: str) -> str:
        """Why a change is not allowed; "" when it is."""
        origin = request.headers.get("origin")
        if origin is not None and urlsplit(origin).netloc != host:
            return "another page asked for this change; nothing was changed"
        length = request.headers.get("content-length", "")
        if not length.isdecimal() or int(length) > LONGEST:
            return "this is too long for a line; nothing was changed"
        await request.body()  # kept, so that the page can read the form once more
        said = (await request.form()).get("token", "")
        if session is None or not hmac.compare_digest(str(said).encode(), self.token(session).encode()):
            return "this page is from another session; open it anew and say it again: nothing was changed"
        return ""


def refused(sentence: str, code: int) -> Response:
    """One sentence, and nothing else."""
    return PlainTextResponse(f"{sentence[:1].upper()}{sentence[1:]}.\n", code, headers=HEADERS)


def secret_beside(book: Path) -> str:
    """The secret of this bench, made once, readable by its owner alone."""
    path = book.with_name(f"{book.name}.secret")
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text("ascii")
    made = secrets.token_hex(32)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(made)
    return made
