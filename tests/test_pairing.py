"""Sharing on the bench network: who is let in, how a link is used up, and what may not fill the memory."""

from __future__ import annotations

import asyncio
import re
import signal
import socket
import subprocess
import sys
import time
import tracemalloc
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from probewright.record import open_book
from probewright.web import guarding, pairing
from probewright.web.app import make_app
from probewright.web.pairing import Pairing, devices_beside, own_addresses

HERE, LAN = "http://127.0.0.1:8620", "http://192.168.0.5:8620"
PHONE = ("192.168.0.7", 5000)


class Clock:
    """Seconds that go forward when a test says so."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


class Bench:
    """A shared bench: this computer's browser, any number of phones, and a clock."""

    def __init__(self, folder: Path) -> None:
        self.clock, self.kept = Clock(), devices_beside(folder / "bench.db")
        self.start(folder)

    def start(self, folder: Path) -> None:
        self.shared = Pairing("secret", self.kept, ["192.168.0.5"], ["bench", "bench.local"], 8620, self.clock)
        self.app = make_app(open_book(folder / "bench.db"), "secret", self.shared)
        self.here = TestClient(self.app, base_url=HERE, client=("127.0.0.1", 5000))

    def phone(self, peer: tuple[str, int] = PHONE) -> TestClient:
        return TestClient(
            self.app, base_url=LAN, client=peer, headers={"user-agent": "Mozilla/5.0 (Linux; Android 15)"}
        )

    def path(self) -> str:
        return "/" + self.shared.links[0].split("/", 3)[3]

    def paired(self, peer: tuple[str, int] = PHONE) -> TestClient:
        phone = self.phone(peer)
        assert join(phone, self.path()).status_code == 303
        return phone


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path)
    with bench.here:
        yield bench


def token(text: str) -> str:
    return re.findall(r'name="token" value="(\w+)"', text)[-1]


def join(phone: TestClient, path: str):
    shown = phone.get(path)
    if shown.status_code != 200:
        return shown
    return phone.post(path, data={"token": token(shown.text)}, follow_redirects=False)


def press(client: TestClient, path: str):
    return client.post(path, data={"token": token(client.get("/pair").text)}, follow_redirects=False)


# Who is let in ------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/", "/jobs", "/jobs/1", "/help", "/pair", "/nowhere", "/jobs/new?kind=amplifier"])
def test_a_stranger_is_told_how_to_pair_and_nothing_else(bench, path):
    answer = bench.phone().get(path, follow_redirects=False)
    assert (answer.status_code, answer.text) == (403, f"{guarding.STRANGER[0].upper()}{guarding.STRANGER[1:]}.\n")
    assert "set-cookie" not in answer.headers


def test_a_strangers_change_is_refused(bench):
    own = token(bench.here.get("/pair").text)
    phone = bench.phone()
    phone.cookies.update(bench.here.cookies)
    answer = phone.post("/jobs", data={"token": own, "kind": "amplifier"})
    assert answer.status_code == 403 and "No device" in bench.here.get("/pair").text


def test_this_computer_needs_no_pairing(bench):
    assert bench.here.get("/jobs").status_code == 200


@pytest.mark.parametrize(
    ("peer", "host", "code"),
    [
        ("127.0.0.1", "localhost:8620", 200),
        ("::1", "[::1]:8620", 200),
        ("::ffff:127.0.0.1", "127.0.0.1:8620", 200),
        ("192.168.0.7", "127.0.0.1:8620", 403),  # says that it is here, and is not
        ("127.0.0.1", "192.168.0.5:8620", 403),  # a tunnel that ends here
        ("192.168.0.7", "192.168.0.5", 403),
        ("192.168.0.7", "BENCH.local:8620", 403),
        ("192.168.0.7", "192.168.0.6:8620", 400),
        ("127.0.0.1", "elsewhere.example", 400),
        ("127.0.0.1", "localhost.example:8620", 400),
        ("127.0.0.1", "127.0.0.1:8620@elsewhere.example", 400),
        ("127.0.0.1", "", 400),
        ("not an address", "localhost", 403),
    ],
)
def test_who_is_here_is_judged_by_the_connection_and_the_name(bench, peer, host, code):
    client = TestClient(bench.app, base_url=HERE, client=(peer, 5000))
    assert client.get("/jobs", headers={"host": host}).status_code == code


@pytest.mark.parametrize(
    "said",
    [
        {"x-forwarded-for": "127.0.0.1"},
        {"forwarded": "for=127.0.0.1;host=localhost"},
        {"x-real-ip": "::1"},
        {"via": "1.1 a"},
    ],
)
def test_a_go_between_makes_nobody_this_computer(bench, said):
    assert bench.phone().get("/jobs", headers=said).status_code == 403
    assert bench.here.get("/jobs", headers=said).status_code == 403  # a go-between that runs here
    assert bench.paired().get("/jobs", headers=said).status_code == 200


def test_without_sharing_only_this_computers_names_are_answered(tmp_path):
    with TestClient(make_app(open_book(tmp_path / "b.db"), "secret"), base_url=HERE) as alone:
        assert alone.get("/jobs", headers={"host": "192.168.0.5:8620"}).status_code == 400
        assert "serve --lan" in alone.get("/pair").text and "serve --lan" in alone.get("/join/x").text


# The link -----------------------------------------------------------------------------------------


def test_the_link_pairs_once(bench):
    path = bench.path()
    first = join(bench.phone(), path)
    cookie = first.headers["set-cookie"].lower()
    assert (first.status_code, first.headers["location"]) == (303, "/jobs")
    assert cookie.startswith("paired=") and "httponly" in cookie and "samesite=strict" in cookie
    assert join(bench.phone(), path).status_code == 403
    assert len(bench.shared.devices) == 1


def test_a_paired_device_works_as_this_computer_does(bench):
    phone = bench.paired()
    page = phone.get("/jobs/new?kind=amplifier").text
    told = {"token": token(page), "once": "a", "kind": "amplifier"}
    assert (
        phone.post("/jobs", data=told, headers={"origin": LAN}, follow_redirects=False).headers["location"] == "/jobs/1"
    )
    assert phone.post("/jobs", data=told, headers={"origin": HERE}).status_code == 403
    assert phone.post("/jobs", data={**told, "token": "0" * 64}).status_code == 403


def test_looking_where_the_link_leads_uses_nothing_up(bench):
    path = bench.path()
    for _ in range(30):
        shown = bench.phone().get(path)
        assert shown.status_code == 200 and shown.text.count("<button") == 1
    bench.phone().head(path)
    assert join(bench.phone(), path).status_code == 303


def test_pairing_needs_the_token_of_the_page_with_the_button(bench):
    phone, path = bench.phone(), bench.path()
    phone.get(path)
    assert phone.post(path, data={"token": "0" * 64}).status_code == 403
    assert phone.post(path, headers={"origin": "http://elsewhere.example"}, data={}).status_code == 403
    assert bench.shared.devices == ()


def test_the_link_is_good_for_ten_minutes(bench):
    path = bench.path()
    bench.clock.now += pairing.GOOD_FOR - 1
    assert bench.phone().get(path).status_code == 200
    bench.clock.now += 1
    answer = bench.phone().get(path)
    assert answer.status_code == 403 and "too old" in answer.text and bench.shared.links == ()
    assert "Fresh link" in bench.here.get("/pair").text


def test_a_fresh_link_ends_the_old_one(bench):
    old = bench.path()
    assert press(bench.here, "/pair/fresh").status_code == 303
    assert bench.phone().get(old).status_code == 403
    assert bench.phone().get(bench.path()).status_code == 200


def test_the_secret_of_a_link_is_new_each_time_and_long(bench):
    seen = set()
    for _ in range(50):
        bench.shared.fresh()
        seen.add(bench.path().rpartition("/")[2])
    assert len(seen) == 50 and pairing.RANDOM * 8 >= 128 and min(map(len, seen)) >= 22


def test_the_secret_is_compared_in_constant_time(bench, monkeypatch):
    compared = []
    real = pairing.hmac.compare_digest
    monkeypatch.setattr(pairing.hmac, "compare_digest", lambda a, b: compared.append((a, b)) or real(a, b))
    bench.shared.is_good("wrong é", "192.168.0.7")
    assert compared == [("wrong é".encode(), bench.path().rpartition("/")[2].encode())]


# How often it may be tried ------------------------------------------------------------------------


def test_one_device_has_five_wrong_links_a_minute(bench):
    phone = bench.phone()
    codes = [phone.get(f"/join/wrong{n}").status_code for n in range(7)]
    assert codes == [403] * 5 + [429] * 2
    bench.clock.now += 10
    answer = phone.get(bench.path())  # while it waits, the right one is not looked at either
    assert answer.status_code == 429 and answer.headers["retry-after"] == "50" and "50 s" in answer.text
    assert bench.phone(("192.168.0.8", 5000)).get(bench.path()).status_code == 200
    bench.clock.now += 50
    assert phone.get(bench.path()).status_code == 200


def test_a_wrong_button_counts_as_a_wrong_link(bench):
    phone = bench.phone()
    own = token(phone.get(bench.path()).text)
    codes = [phone.post(f"/join/wrong{n}", data={"token": own}).status_code for n in range(6)]
    assert codes == [403] * 5 + [429]


def test_all_devices_together_have_twenty_wrong_links_a_minute(bench):
    codes = [bench.phone((f"192.168.0.{n}", 5000)).get("/join/wrong").status_code for n in range(100, 125)]
    assert codes == [403] * 20 + [429] * 5
    bench.clock.now += pairing.WINDOW
    assert bench.phone().get(bench.path()).status_code == 200


# The devices --------------------------------------------------------------------------------------


def test_pairings_outlive_a_restart(bench, tmp_path):
    phone = bench.paired()
    bench.start(tmp_path)
    again = bench.phone()
    again.cookies.update(phone.cookies)
    assert again.get("/jobs").status_code == 200
    assert bench.kept.stat().st_mode & 0o077 == 0


def test_forgotten_devices_stay_out_also_after_a_restart(bench, tmp_path):
    phone = bench.paired()
    kept = bench.kept.read_text()
    assert "Android" in bench.here.get("/pair").text
    assert press(bench.here, "/pair/forget").status_code == 303
    assert phone.get("/jobs").status_code == 403 and "Android" not in bench.here.get("/pair").text
    bench.paired(("192.168.0.8", 5000)) if bench.shared.links else bench.shared.fresh()
    bench.start(tmp_path)
    again = bench.phone()
    again.cookies.update(phone.cookies)
    assert again.get("/jobs").status_code == 403 and kept != bench.kept.read_text()


@pytest.mark.parametrize("kept", ["", "nonsense", "[1]", '[{"mark": 1}]', "{}"])
def test_a_list_of_devices_that_cannot_be_read_lets_nobody_in(bench, tmp_path, kept):
    phone = bench.paired()
    bench.kept.write_text(kept)
    bench.start(tmp_path)
    again = bench.phone()
    again.cookies.update(phone.cookies)
    assert again.get("/jobs").status_code == 403


def test_a_cookie_signed_by_another_secret_or_for_another_purpose_is_of_no_use(bench, tmp_path):
    phone = bench.paired()
    mark = bench.shared.devices[0].mark
    other = pairing.URLSafeSerializer("other", salt="paired").dumps(mark)
    session = guarding.URLSafeSerializer("secret", salt="session").dumps(mark)
    for cookie in (other, session, mark, phone.cookies["paired"][:-1], ""):
        stranger = bench.phone()
        stranger.cookies.set("paired", cookie)
        assert stranger.get("/jobs").status_code == 403


def test_only_this_computer_sees_and_changes_who_is_paired(bench):
    phone = bench.paired()
    own = token(phone.get("/jobs/new?kind=amplifier").text)
    assert phone.get("/pair").status_code == 403
    for path in ("/pair/fresh", "/pair/forget"):
        assert phone.post(path, data={"token": own}).status_code == 403
    assert bench.shared.links == () and len(bench.shared.devices) == 1


def test_the_pairing_page_draws_its_code_without_style_or_script(bench):
    text = bench.here.get("/pair").text
    drawn = text[text.index("<svg") : text.index("</svg>")]
    assert "style" not in drawn and "<script" not in drawn and "<path" in drawn
    assert bench.shared.links[0] in text


# How much may come --------------------------------------------------------------------------------


def post(app, path: str, chunks, headers=(), host="127.0.0.1:8620"):
    """A request as a server hands it over, with any lie about its length: (code, bytes taken, sentence)."""
    taken, sent, rest = 0, [], iter(chunks)

    async def receive():
        nonlocal taken
        chunk = next(rest, None)
        taken += len(chunk or b"")
        return {"type": "http.request", "body": chunk or b"", "more_body": chunk is not None}

    async def send(message):
        sent.append(message)

    scope = {
        "type": "http", "method": "POST", "path": path, "raw_path": path.encode(), "query_string": b"", "scheme": "http",
        "http_version": "1.1", "root_path": "", "client": ("127.0.0.1", 5), "server": ("127.0.0.1", 8620),
        "headers": [(b"host", host.encode()), *((a.encode(), b.encode()) for a, b in headers)],
    }  # fmt: skip
    asyncio.run(app(scope, receive, send))
    return sent[0]["status"], taken, b"".join(one.get("body", b"") for one in sent).decode()


def session(bench: Bench) -> tuple[tuple[str, str], str]:
    own = token(bench.here.get("/pair").text)
    return ("cookie", f"bench={bench.here.cookies['bench']}"), own


FORM = ("content-type", "application/x-www-form-urlencoded")


@pytest.mark.parametrize("length", [None, "10", "-1", "ten", "1e3"])
@pytest.mark.parametrize(
    ("path", "most"),
    [
        ("/jobs/1/lines", 64 * 1024),
        ("/join/photos", 64 * 1024),
        ("/static/machine", 64 * 1024),
        ("/jobs/1/machine", 1024 * 1024),
        ("/jobs/1/machine/check", 1024 * 1024),
        ("/jobs/1/tie", 1024 * 1024),
        ("/jobs/1/photos", 100 * 1024 * 1024),
        ("/jobs", 100 * 1024 * 1024),
    ],
)
def test_a_length_that_is_missing_or_lies_does_not_fill_the_memory(bench, path, most, length):
    cookie, _ = session(bench)
    chunk = b"x" * 65536
    said = [("content-length", length)] if length else []
    tracemalloc.start()
    code, taken, sentence = post(bench.app, path, (chunk for _ in range(3000)), [FORM, cookie, *said])
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert code == 403 and sentence.endswith("nothing was changed.\n") and taken <= most + len(chunk)
    assert (taken > most) == (length in (None, "10"))  # what is no length is refused before anything is read
    assert peak < 4 * 1024 * 1024  # one in memory, the rest on the disk


@pytest.mark.parametrize(
    ("headers", "host"),
    [
        ([], "127.0.0.1:8620"),
        ([("cookie", "bench=forged")], "127.0.0.1:8620"),
        (["own"], "elsewhere.example"),
        (["own", ("origin", "http://elsewhere.example")], "127.0.0.1:8620"),
        (["own", ("content-length", "999999999")], "127.0.0.1:8620"),
        (["own"], "192.168.0.5:8620"),
    ],
)
def test_nothing_is_read_before_session_host_origin_and_said_length_are_right(bench, headers, host):
    cookie, _ = session(bench)
    told = [FORM, *(cookie if one == "own" else one for one in headers)]
    code, taken, _ = post(bench.app, "/jobs/1/photos", [b"x" * 1000], told, host)
    assert code in (400, 403) and taken == 0


def test_a_form_with_files_arrives_whole_with_its_token_inside(bench, monkeypatch):
    from starlette.responses import PlainTextResponse
    from starlette.routing import Route

    async def counted(request):
        async with request.form() as form:
            lengths = [len(await one.read()) for one in form.getlist("photo")]
        return PlainTextResponse(" ".join(map(str, lengths)))

    bench.app.router.routes.insert(0, Route("/jobs/try/photos", counted, methods=["POST"]))
    _, own = session(bench)
    files = [("photo", ("a.jpg", b"a" * 3_000_000)), ("photo", ("b.jpg", b"b" * 25 * 1024 * 1024))]
    answer = bench.here.post("/jobs/try/photos", data={"token": own}, files=files)
    assert answer.text == f"3000000 {25 * 1024 * 1024}"
    assert bench.here.post("/jobs/try/photos", data={"token": "0" * 64}, files=files[:1]).status_code == 403
    assert bench.here.post("/jobs/try/photos", files=files[:1]).status_code == 403


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data; boundary=x", b"nothing of a form"),
        ("multipart/form-data", b"--x"),
        ("multipart/form-data; boundary=x", b'--x\r\nContent-Disposition: form-data; name="token"\r\n\r\n' + b"a" * 50),
        ("application/json", b'{"token": 1}'),
        ("application/x-www-form-urlencoded", b"%ff%00=&&&=;" * 100),
        ("text/plain", b"token=1"),
        ("", b""),
    ],
)
def test_a_form_in_pieces_is_refused_in_one_sentence(bench, kind, body):
    cookie, _ = session(bench)
    code, _, sentence = post(bench.app, "/jobs", [body], [cookie, ("content-type", kind)])
    assert code in (400, 403) and sentence.endswith("nothing was changed.\n")


def test_a_page_left_open_can_be_sent_after_the_browser_was_ended_by_the_phone(bench):
    assert f"max-age={pairing.LASTS}" in bench.here.get("/jobs").headers["set-cookie"].lower()


# What goes wrong in the program -------------------------------------------------------------------


def test_a_failure_of_the_program_shows_what_was_typed_and_names_the_log(bench, monkeypatch, caplog):
    from probewright.web import job_pages

    def fails(*_):
        raise RuntimeError("planted")

    quiet = TestClient(bench.app, base_url=HERE, client=("127.0.0.1", 5000), raise_server_exceptions=False)
    own = token(quiet.get("/jobs/new?kind=amplifier").text)
    told = {
        "token": own,
        "once": "a",
        "kind": "amplifier",
        "words": '"dead" <left>\nsince May',
        "tick sound left": "bad",
    }
    with monkeypatch.context() as patch:
        patch.setattr(job_pages.bench, "open_job", fails)
        answer = quiet.post("/jobs", data=told)
    assert answer.status_code == 500 and "nothing you typed is lost" in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    number = re.search(r"failure (\w+)", answer.text)[1]
    assert number in caplog.text and "planted" in caplog.text and "Traceback" in caplog.text
    assert "planted" not in answer.text and "&lt;left&gt;\nsince May" in answer.text
    again = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', answer.text))
    assert again["once"] == "a" and again["tick sound left"] == "bad" and again["token"] == own


# A real server ------------------------------------------------------------------------------------


@contextmanager
def serving(*more: str) -> Iterator[str]:
    """`serve` on a free port; what it says, up to where it answers."""
    if not own_addresses():
        pytest.skip("this machine is on no network")
    run = [sys.executable, "-m", "probewright", "serve", "--port", "0", *more]
    with subprocess.Popen(run, stdout=subprocess.PIPE, text=True) as program:
        try:
            said = program.stdout.readline()
            while more and "a fresh one is at" not in said and program.poll() is None:
                said += program.stdout.readline()
            here = re.search(r"page is at (http://127\.0\.0\.1:\d+)/", said)[1]
            for _ in range(100):  # it says where it will be before it listens
                with suppress(urllib.error.URLError):
                    urllib.request.urlopen(f"{here}/static/icon.svg", timeout=5)
                    break
                time.sleep(0.1)
            yield said
        finally:
            program.send_signal(signal.SIGINT)


def test_a_real_server_lets_a_device_in_by_its_link_only():
    with serving("--lan") as said:
        here = re.search(r"page is at (\S+)/", said)[1]
        lan, link = re.search(r"devices open (\S+)/", said)[1], re.search(r"or open (\S+)", said)[1]
        assert urllib.request.urlopen(f"{here}/jobs").status == 200
        phone = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        for headers in ({}, {"X-Forwarded-For": "127.0.0.1", "Host": here.removeprefix("http://")}):
            with pytest.raises(urllib.error.HTTPError, match="403") as stranger:
                phone.open(urllib.request.Request(f"{lan}/jobs", headers=headers))
            with stranger.value as answer:
                assert b"not paired" in answer.read()
        own = token(phone.open(link).read().decode())
        assert phone.open(link, f"token={own}".encode()).url == f"{lan}/jobs"
        assert b"Jobs" in phone.open(f"{lan}/jobs").read()
        assert link not in urllib.request.urlopen(f"{here}/pair").read().decode()


def test_without_lan_no_other_address_listens():
    with serving() as said:
        port = int(re.search(r":(\d+)/", said)[1])
        with socket.create_connection(("127.0.0.1", port), 5):
            pass
        with pytest.raises(OSError):
            socket.create_connection((own_addresses()[0], port), 5)


def test_the_server_takes_the_other_end_of_the_connection_for_what_it_is(monkeypatch):
    import uvicorn

    from probewright.cli import serving

    made = []
    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: made.append(self.config) or sockets[0].close())
    serving.run(0, lan=False)
    assert [one.proxy_headers for one in made] == [False]


def test_sharing_without_a_network_says_so(monkeypatch, capsys):
    from typer import Exit

    from probewright.cli import serving

    monkeypatch.setattr(pairing, "own_addresses", lambda: ())
    with pytest.raises(Exit):
        serving.run(0, lan=True)
    assert "on no network" in capsys.readouterr().err
