"""Jobs that go and come as files: what is in them comes back, the owner is not in them, and no file does harm."""

from __future__ import annotations

import copy
import json
import re
import threading
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from starlette.testclient import TestClient

from checked import checked
from conftest import Run
from dividers import DIVIDERS
from hidden import NOW, opened
from probewright.errors import BadInput
from probewright.jobs import bench, billing, handing_over, picturing, taken_jobs
from probewright.jobs.cases import NOTE, Case, Intake, Known, Line
from probewright.jobs.culprits import usual_of
from probewright.jobs.exporting import exported
from probewright.jobs.finding import find
from probewright.jobs.remembering import learnt
from probewright.jobs.shared_jobs import _line, share, write_shared
from probewright.jobs.shared_shape import digest_of, misfit
from probewright.jobs.standing import stand
from probewright.jobs.taken_jobs import _payload, take
from probewright.jobs.taught import healthy_readings
from probewright.jobs.teaching import learn
from probewright.record import Book, open_book
from probewright.web.share_pages import SharePages
from probewright.web.uploads import Upload

OWNER = "Anna Möller"
LATER = "2027-03-01T10:00:00+00:00"
INTAKE = {"owner": OWNER, "serial": "SN-7741", "left": "mains lead", "ticks": {"sound left": "bad"},
          "words": "left is quiet, says anna möller"}  # fmt: skip


def closed(book: Book, **told: object) -> Case:
    """A repaired machine with lines of every sort."""
    job = opened(book, DIVIDERS, "R3 open", model="Model 7")
    job.case = bench.amend(book, job.case, {**INTAKE, **told}, NOW)
    job.type("OUT 0 V", "MID 6 V", "leak at R4", "replaced R3", "output ok", "OUT 3.81 V")
    for line in ("10k || 22k", "what is this", 'owner says yes to a new R3: "go ahead"', "R4 1 V"):
        job.case = bench.enter_line(book, job.case, line, NOW)
    job.case = bench.undo(book, job.case, NOW)
    job.now()
    return bench.close(book, checked(book, bench.find_case(book, job.case.number)), "repaired", "new R3", NOW)


@pytest.fixture
def elsewhere(tmp_path: Path):
    with open_book(tmp_path / "elsewhere" / "bench.db") as other:
        yield other


@pytest.fixture(scope="module")
def given_away(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """A job as it lies in its file."""
    with open_book(tmp_path_factory.mktemp("giver") / "bench.db") as book:
        told: dict[str, Any] = json.loads(share(book, closed(book))[0])
    return told


def sealed(told: dict[str, Any]) -> bytes:
    """A file with a digest that fits, as somebody who means harm would make it."""
    return json.dumps({**told, "sha256": digest_of(told["job"])}).encode()


# There and back ------------------------------------------------------------------------------------


def test_what_was_read_and_found_comes_back_and_the_owner_does_not(book: Book, elsewhere: Book) -> None:
    case = closed(book)
    text, view = share(book, case)
    for word in ("Anna", "anna", "Möller", "SN-7741", "mains lead", "2026"):
        assert word not in text, word
    assert view.lines == sum(one.status in ("counts", "note") and one.owner is None for one in case.live)
    taken = take(elsewhere, text.encode(), "job.json", False, LATER)
    other = bench.find_case(elsewhere, taken.job)
    assert other.readings == case.readings and other.bench.fitted == case.bench.fitted
    assert [one.text for one in other.live] == [
        one.text for one in case.live if one.owner is None and one.status != "asked"
    ]
    assert other.zones == case.zones and other.known == case.known and other.marked == case.marked
    assert other.closed is not None and (other.closed["ending"], other.closed["words"]) == ("repaired", "new R3")
    assert other.intake.words == "left is quiet, says the owner" and other.intake.elsewhere
    assert other.found is not None and case.found is not None
    assert [(c.item, c.mode, c.kind) for c in other.found.culprits] == [
        (c.item, c.mode, c.kind) for c in case.found.culprits
    ]
    assert other.found.expected == pytest.approx(dict(case.found.expected)) and other.found.text == case.found.text
    assert bench.view_case(other).elsewhere and healthy_readings(other) == healthy_readings(case)
    again, _ = share(elsewhere, other)
    assert json.loads(again)["sha256"] == json.loads(text)["sha256"], "given on, it is the same file"


@pytest.mark.parametrize("file", ["/home/anna/files/fernside.yaml", r"C:\anna\files\fernside.yaml"])
def test_a_shared_line_names_no_folder_of_either_bench(book: Book, file: str) -> None:
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    line = Line(3, NOW, f"tied {file}", NOTE, (f"tied {file}",), known=Known(DIVIDERS, file, "file"))
    told = _line(case, line)
    assert told["text"] == "tied fernside.yaml" and "anna" not in json.dumps(told)
    taken = _payload({**told, "file": file, "text": line.text, "says": list(line.says)})  # as written before
    assert taken["text"] == "tied fernside.yaml" and "anna" not in json.dumps(taken)


def test_times_are_durations_from_the_beginning(given_away: dict[str, Any], elsewhere: Book) -> None:
    job = copy.deepcopy(given_away)
    job["job"]["lines"][0]["after"], job["job"]["after"] = 12.5, 90.0
    for line in job["job"]["lines"][1:]:
        line["after"] = 60.0
    case = bench.find_case(elsewhere, take(elsewhere, sealed(job), "f", False, LATER).job)
    assert case.opened == "2027-03-01T08:30:00+00:00" and case.lines[0].at == "2027-03-01T08:42:30+00:00"
    assert case.closed is not None and case.closed["at"] == LATER


def test_from_elsewhere_it_is_found_and_teaches_and_counts_only_if_said(
    given_away: dict[str, Any], book: Book, elsewhere: Book
) -> None:
    for shelf, counts in ((book, False), (elsewhere, True)):
        taken = take(shelf, sealed(given_away), "f", counts, NOW)
        assert taken.counts is counts and taken.culprits[0] == "R3 open" and taken.teaches >= 1
        assert [one.job for one in find(shelf, "quiet R3").jobs] == [1] and find(shelf, "quiet").jobs[0].elsewhere
        assert usual_of(shelf, "Model 7").jobs == usual_of(shelf, "Model 7").alike == int(counts)
        view = learnt(shelf, NOW)
        assert view.jobs == int(counts) and view.cures.repaired == 0, "a stranger's repair is no cure of ours"
        job = opened(shelf, DIVIDERS, "R3 open", model="Model 7")
        assert job.case.earlier is None
        assert learn(shelf, job.case, 1, "", False, NOW).lessons
        with pytest.raises(BadInput, match="from elsewhere"):
            bench.reopen(shelf, bench.find_case(shelf, 1), NOW)
        with pytest.raises(BadInput, match="job 1 already"):
            take(shelf, sealed(given_away), "f", counts, NOW)
        dict(exported(shelf, NOW))


def test_pictures_go_along_only_if_said(book: Book, elsewhere: Book) -> None:
    case = closed(book)
    drawn = BytesIO()
    Image.new("RGB", (30, 20), "white").save(drawn, "PNG")
    case = bench.reopen(book, case, NOW)
    case = picturing.add_photo(book, case, drawn.getvalue(), "label of Anna Möller", NOW)
    case = picturing.mark_spot(book, case, case.photos[0].name, "R3", 0.25, 0.5, NOW)
    case = bench.close(book, checked(book, case), "repaired", "", NOW)
    without, view = share(book, case)
    assert not json.loads(without)["job"]["pictures"] and any("1 picture" in one for one in view.left_out)
    text, view = share(book, case, pictures=True)
    assert any("pictures show" in one for one in view.look_at)
    other = bench.find_case(elsewhere, take(elsewhere, text.encode(), "f", False, NOW).job)
    assert [(p.width, p.height, p.says, p.spots) for p in other.photos] == [
        (30, 20, "label of the owner", case.photos[0].spots)
    ]
    assert picturing.shelf_of(elsewhere).path(other.photos[0].name).exists()
    broken = json.loads(text)
    broken["job"]["pictures"][0]["data"] = "bm8gcGljdHVyZQ=="
    broken["job"]["words"] = "another"
    with pytest.raises(BadInput, match="no picture"):
        take(elsewhere, sealed(broken), "f", False, NOW)
    assert elsewhere.jobs() == (1,)


@pytest.mark.parametrize(
    ("told", "said", "mend"),
    [
        ({"words": "Anna rang"}, "'Anna' may be the owner", {"also": ["Anna"]}),
        ({"owner": "Jo", "words": "jo says so"}, "'Jo' is too short", {"keep": ["Jo"]}),
        ({"words": "write to x.y@post.example"}, "looks like an address", {"also": ["x.y@post.example"]}),
        ({"model": "SV 9 of 0171 555 0199"}, "looks like a telephone number", {"keep": ["0171 555 0199"]}),
        ({"when": "call 0171 555 0199"}, "looks like a telephone number", {"keep": ["0171 555 0199"]}),
    ],
)
def test_what_looks_like_the_owner_stops_the_writing(
    book: Book, told: dict[str, str], said: str, mend: dict[str, list[str]]
) -> None:
    case = closed(book, **told)
    with pytest.raises(BadInput, match=said):
        share(book, case)
    text, _ = share(book, case, **mend)
    assert mend.get("keep") or not any(word in text for word in mend["also"])


@pytest.mark.parametrize(
    "tell",
    [
        lambda book, case, word: bench.know(book, case, "file", "f", f"# {word}\n{DIVIDERS}", "", NOW),
        lambda book, case, word: bench.know(book, case, "file", f"from {word}", DIVIDERS, "", NOW),
        lambda book, case, word: picturing.add_photo(book, case, drawn(), f"label: {word}", NOW),
    ],
    ids=["a comment of a machine file", "a line", "a caption"],
)
@pytest.mark.parametrize("word", ["x.y@post.example", "+49 171 555 0199"])
def test_addresses_and_numbers_are_looked_for_wherever_somebody_types(
    book: Book, tell: Callable[[Book, Case, str], Case], word: str
) -> None:
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    case = bench.close(book, tell(book, case, word), "returned", "", NOW)
    with pytest.raises(BadInput, match=f"{re.escape(word)}' looks like"):
        share(book, case, pictures=True)
    assert share(book, case, keep=[word], pictures=True)


def test_figures_are_no_telephone_numbers(book: Book) -> None:
    case = bench.open_job(book, Intake("amplifier", words="rows 1  0 1 1 1 and 70  0 0 0 0", key="k"), NOW)
    case = bench.enter_line(book, case, "Q7 c 11.8 V, Q7 b 0.60000000 V", NOW)
    assert share(book, bench.close(book, case, "returned", "1V@1.5kHz", NOW))


def drawn() -> bytes:
    """A picture."""
    into = BytesIO()
    Image.new("RGB", (30, 20), "white").save(into, "PNG")
    return into.getvalue()


def test_no_file_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "there.json").write_text("mine")
    for path, said in ((tmp_path / "there.json", "name another one"), (tmp_path / "no" / "x.json", "another folder")):
        with pytest.raises(BadInput, match=said):
            write_shared(path, "theirs")
    assert (tmp_path / "there.json").read_text() == "mine"


def test_an_open_job_and_a_practice_are_not_shared(book: Book) -> None:
    with pytest.raises(BadInput, match="still open"):
        share(book, opened(book, DIVIDERS, "R3 open").case)


# Files that mean no good ---------------------------------------------------------------------------


def ladder(parts: int) -> str:
    """A machine file with so many resistors, one behind the other, as OUT."""
    rows = [f"  X{n}: resistor 1k  OUT > GND" for n in range(parts)]
    return "\n".join([DIVIDERS.partition("stimuli:")[0].rstrip(), *rows, "stimuli:", DIVIDERS.partition("stimuli:")[2]])


HARM: dict[str, tuple[Callable[[dict[str, Any]], object], str]] = {
    "no kind": (lambda job: job.pop("kind"), "has no 'kind'"),
    "something more": (lambda job: job.update(path="/etc/passwd"), "has 'path', which nobody knows"),
    "another kind": (lambda job: job.update(kind="submarine"), "cannot be read here"),
    "a tick": (lambda job: job["ticks"].update({"sound left": "<b>"}), "is no tick"),
    "a number": (lambda job: job["lines"][0].update(text=7), r"job.lines\[0\].text should be a text"),
    "a set-up": (lambda job: job["lines"][1]["readings"][0]["setup"].update(power=["on"]), "setup.power should be a text"),
    "a strange set-up": (lambda job: job["lines"][1]["readings"][0]["setup"].update(exec="x"), "'exec', which nobody knows"),
    "an instrument": (lambda job: job["lines"][1]["readings"][0].update(instrument="gun"), "not what it seems"),
    "a figure": (lambda job: job["lines"][1]["readings"][0].update(answer="many", word=False), "not what it seems|cannot"),
    "no bench": (lambda job: job["lines"][1].update(bench=None), "nothing of the bench"),
    "a kind of line": (lambda job: job["lines"][0].update(kind="opened"), "no kind of line"),
    "an ending": (lambda job: job.update(ending="cured"), "no way to end"),
    "a time": (lambda job: job["lines"][0].update(after=-5.0), "times do not run"),
    "before it came": (lambda job: job.update(after=-5000.0, lines=[]), "times do not run"),
    "out of order": (lambda job: [job.update(after=9.0), job["lines"][0].update(after=2.0)], "times do not run"),
    "a huge number": (lambda job: job.update(after=10**400), "job.after should be a number"),
    "a huge answer": (lambda job: job["lines"][1]["readings"][0].update(answer=10**400), "should be a number or a text"),
    "a huge machine": (lambda job: next(one for one in job["lines"] if one["kind"] == "file").update(machine=ladder(401)),
                       "its machine has 40[0-9] parts"),
    "for ever": (lambda job: job.update(after=1e12), "times do not run"),
    "a long text": (lambda job: job.update(words="x" * 30_000), "more than 20000 letters"),
    "many lines": (lambda job: job.update(lines=job["lines"] * 3000), "list of at most 5000"),
    "a null": (lambda job: job.update(words="a\0b"), "is no text"),
    "a machine file": (lambda job: next(one for one in job["lines"] if one["kind"] == "file").update(machine="parts: ["),
                       "cannot be read here"),
    "another shape": (lambda job: job.update(lines={}), "should be a list"),
}  # fmt: skip


@pytest.mark.parametrize("harm", HARM, ids=str)
def test_a_job_that_is_not_as_it_should_be_is_refused_whole(
    given_away: dict[str, Any], elsewhere: Book, harm: str
) -> None:
    told, (change, said) = copy.deepcopy(given_away), HARM[harm]
    change(told["job"])
    with pytest.raises(BadInput, match=said) as caught:
        take(elsewhere, sealed(told), "evil.json", False, NOW)
    (complaint,) = caught.value.complaints
    assert complaint.file == "evil.json" and complaint.mend and len(str(complaint)) < 500
    assert elsewhere.jobs() == ()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no shared job"),
        (b"\xff\xfe\x00", "no shared job"),
        (b"[" * 200_000, "no shared job"),
        (b'{"format": "probewright job", "version": NaN}', "no shared job"),
        (b'{"format": "probewright job", "version": 2, "job": {}}', "of version 2"),
        (b'{"format": "probewright job", "version": 1}', "job should be a table"),
        (b"1" * 10_000, "no shared job"),
        (b'{"a": 1}', "no shared job"),
    ],
)
def test_what_is_no_shared_job_is_refused(elsewhere: Book, data: bytes, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        take(elsewhere, data, "f", False, NOW)
    assert elsewhere.jobs() == ()


def test_a_changed_file_and_one_too_large_are_refused(
    given_away: dict[str, Any], elsewhere: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = json.dumps(given_away)
    with pytest.raises(BadInput, match="changed or damaged"):
        take(elsewhere, text.replace("left is quiet", "left is louder").encode(), "f", False, NOW)
    monkeypatch.setattr("probewright.jobs.taken_jobs.MOST_BYTES", len(text) - 1)
    with pytest.raises(BadInput, match="larger than"):
        take(elsewhere, text.encode(), "f", False, NOW)


def paths(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Where each value of a file lies."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [at, *(path for name, one in inner for path in paths(one, (*at, name)))]


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_stands_in_a_file_it_is_taken_in_whole_or_refused_with_one_complaint(
    given_away: dict[str, Any], elsewhere: Book, data: st.DataObject
) -> None:
    told = copy.deepcopy(given_away)
    path = data.draw(st.sampled_from(paths(told["job"])[1:]))
    spoilt = data.draw(
        st.none() | st.booleans() | st.integers(-5, 5) | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(max_size=8) | st.sampled_from(["../../x", "R3~", "contacts of", "~", "on", []]) | st.just({})
    )  # fmt: skip
    inner = told["job"]
    for name in path[:-1]:
        inner = inner[name]
    inner[path[-1]] = spoilt
    before = elsewhere.jobs()
    try:
        taken = take(elsewhere, sealed(told), "f", True, NOW)
    except BadInput as bad:
        assert len(bad.complaints) == 1 and elsewhere.jobs() == before
        return
    case = bench.find_case(elsewhere, taken.job)
    stand(elsewhere, case, NOW)
    assert case.closed is not None and case.intake.elsewhere


def test_no_name_in_a_file_leads_anywhere(given_away: dict[str, Any], elsewhere: Book, tmp_path: Path) -> None:
    told = copy.deepcopy(given_away)
    line = next(one for one in told["job"]["lines"] if one["kind"] == "file")
    for name in ("../../../etc/passwd", "C:\\Users\\anna\\lm2.yaml"):
        line["file"] = name
        taken = take(elsewhere, sealed(told), "f", False, NOW)
        known = bench.find_case(elsewhere, taken.job).known
        assert known is not None and known.file == re.split(r"[/\\]", name)[-1]
    assert sorted(one.name for one in tmp_path.iterdir()) == ["elsewhere"]


def test_a_culprit_that_its_lines_do_not_bear_out_counts_nothing(given_away: dict[str, Any], elsewhere: Book) -> None:
    told = copy.deepcopy(given_away)
    told["job"]["culprits"] = [
        {"item": "R1", "mode": "open", "share": 1.0},
        {"item": "nobody", "mode": "x", "share": 9.0},
    ]
    assert take(elsewhere, sealed(told), "f", True, NOW).culprits == () and usual_of(elsewhere, "").jobs == 0


def test_a_culprit_that_is_named_over_and_over_counts_once(given_away: dict[str, Any], elsewhere: Book) -> None:
    told = copy.deepcopy(given_away)
    found = told["job"]["culprits"][0]
    told["job"]["culprits"] = [found, *[{**found, "share": 1.0}] * 1000]
    assert take(elsewhere, sealed(told), "f", True, NOW).culprits == (f"{found['item']} {found['mode']}",)
    usual = usual_of(elsewhere, "")
    assert sum(one.found for one in usual.kinds.values()) == pytest.approx(found["share"])
    assert found["share"] < 1.0


def test_shares_of_a_stranger_are_one_culprit_in_all(given_away: dict[str, Any], elsewhere: Book) -> None:
    """Every fault that the mended part could have had, each said to be all of it."""
    told = copy.deepcopy(given_away)
    told["job"]["culprits"] = [{**one, "share": 1.0} for one in told["job"]["culprits"]]
    taken = take(elsewhere, sealed(told), "f", True, NOW)
    assert len(taken.culprits) > 1
    assert sum(one.found for one in usual_of(elsewhere, "").kinds.values()) == pytest.approx(1.0)


def test_a_clock_that_was_set_back_stops_no_sharing(book: Book, elsewhere: Book) -> None:
    job = opened(book, DIVIDERS, "R3 open", model="Model 7")
    case = bench.enter_line(book, job.case, "OUT 0 V", LATER)
    case = bench.close(book, bench.enter_line(book, case, "MID 6 V", NOW), "returned", "", NOW)
    assert take(elsewhere, share(book, case)[0].encode(), "f", False, NOW).lines == len(case.lines)


def test_a_strangers_job_is_worked_out_before_the_bench_is_held(
    given_away: dict[str, Any], elsewhere: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, held = SimpleNamespace(book=elsewhere, writing=threading.Lock()), []
    worked_out = taken_jobs.work_out

    def watched(case: Case) -> object:
        held.append(desk.writing.locked())
        return worked_out(case)

    monkeypatch.setattr(taken_jobs, "work_out", watched)
    pages: Any = SharePages(cast("Any", SimpleNamespace(desk=desk, page=lambda *_, **shown: shown["done"], case=None)))
    done = pages.take(None, {}, (Upload("job.json", BytesIO(json.dumps(given_away).encode())),))
    assert (done.job, held) == (1, [False])


def test_nothing_is_written_on_a_job_from_elsewhere_nor_is_it_the_one_touched_last(
    given_away: dict[str, Any], elsewhere: Book
) -> None:
    own = bench.open_job(elsewhere, Intake("amplifier", key="k"), NOW)
    own = bench.close(elsewhere, own, "returned", "", NOW)
    taken = take(elsewhere, json.dumps(given_away).encode(), "f", False, LATER).job
    assert bench.find_case(elsewhere, ended=True).number == own.number
    case = bench.find_case(elsewhere, taken)
    before = elsewhere.events(taken)
    for write in (
        lambda: billing.charge(elsewhere, case, "U3", "8.50", NOW),
        lambda: billing.tell_billed(elsewhere, case, {"hours": "2"}, {}, NOW),
        lambda: handing_over.tell_owner(elsewhere, case, {"cause": "age"}, NOW),
        lambda: bench.was_here(elsewhere, case, 0, None, NOW),
        lambda: bench.enter_line(elsewhere, case, "OUT 3 V", NOW),
        lambda: bench.reopen(elsewhere, case, NOW),
    ):
        with pytest.raises(BadInput, match="from elsewhere"):
            write()
    paper = handing_over.hand_over(elsewhere, case, None, "record", NOW)  # looking at it is another matter
    with pytest.raises(BadInput, match="from elsewhere"):
        handing_over.hand(elsewhere, case, paper, "text", "page", NOW)
    assert elsewhere.events(taken) == before


def test_what_is_shared_looks_as_the_shape_says(given_away: dict[str, Any]) -> None:
    from probewright.jobs.shared_shape import JobShape

    assert misfit(JobShape, given_away["job"], "job") == ""
    assert given_away["format"] == "probewright job" and given_away["version"] == 1


# At the two doors ----------------------------------------------------------------------------------


def test_the_commands_share_and_take(probewright: Run, book: Book, tmp_path: Path) -> None:
    closed(book, words="Anna rang")
    book.close()
    file = tmp_path / "job.json"
    refused = probewright("book", "share-job", "1", str(file))
    assert refused.returncode == 2 and "--also 'Anna'" in refused.stderr and not file.exists()
    done = probewright("book", "share-job", "1", str(file), "--also", "Anna")
    assert done.returncode == 0 and "Left out: the owner's name" in done.stdout, done
    taken = probewright("book", "take-job", str(file), "--counts", "--json")
    assert taken.returncode == 0 and json.loads(taken.stdout)["job"] == 2, taken
    with open_book(book.path) as again:
        assert bench.find_case(again, 2).intake.words == "the owner rang"


def test_the_page_shares_and_takes(page: TestClient, book: Book) -> None:
    closed(book, words="Anna rang")
    form = page.get("/jobs/1/share").text
    token = re.search(r'name="token" value="([^"]*)"', form).group(1)
    refused = page.post("/jobs/1/share", data={"token": token})
    assert refused.status_code == 422 and "name it in the first box" in refused.text
    told = page.post("/jobs/1/share", data={"token": token, "also": "Anna"})
    assert told.headers["content-disposition"] == 'attachment; filename="job-1.json"' and "Anna" not in told.text
    sent = {"file": ("../../job.json", told.content, "application/json")}
    taken = page.post("/book/take", data={"token": token}, files=sent)
    assert taken.status_code == 200 and "Taken in as" in taken.text and "does not count here" in taken.text
    assert "from elsewhere" in page.get("/jobs/2").text and "Take it up again" not in page.get("/jobs/2").text
    assert "Papers for the owner" in page.get("/jobs/1").text and "Papers for the owner" not in page.get("/jobs/2").text
    again = page.post("/book/take", data={"token": token}, files=sent)
    assert again.status_code == 422 and "job 2 already" in again.text
    assert page.post("/book/take", data={"token": token}).status_code == 422
