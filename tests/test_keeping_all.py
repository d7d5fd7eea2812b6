"""The book as a whole: copied while it is written, put back, read by other programs, an owner forgotten."""

from __future__ import annotations

import csv
import hashlib
import json
import re
import sqlite3
import threading
import zipfile
from dataclasses import asdict, fields, replace
from io import BytesIO, StringIO
from pathlib import Path

import pytest

from dividers import DIVIDERS
from probewright.errors import BadInput
from probewright.hypotheses.usual import Usual
from probewright.jobs import (
    adding,
    bench,
    billing,
    checking_safety,
    deciding,
    fitting_lists,
    handing_over,
    papers_said,
    parts_used,
    picturing,
    placed_circuits,
    proving,
    putting_together,
    stripping,
)
from probewright.jobs.capturing import folder_of, keep_whole
from probewright.jobs.cases import STEPS, Intake, Tried
from probewright.jobs.copies import CONTENTS, copy_bench, restore
from probewright.jobs.erasing import erase_owner
from probewright.jobs.exporting import export, exported
from probewright.jobs.finding import find_jobs
from probewright.jobs.found import FOUND, USUAL, Found, keep_found, keep_usual
from probewright.jobs.standing import stand, stand_on
from probewright.jobs.teaching import learn
from probewright.record import open_book
from probewright.web.guarding import secret_beside

NOW = "2026-11-26T13:00:00+00:00"
OWNER = "Anna Möller"
FILES = ("bench.json", "jobs.csv", "lines.csv", "readings.csv", "parts.csv", "safety.csv")


def filled(book, owner: str = OWNER):
    """A job with lines, a picture and a waveform beside the book."""
    from PIL import Image

    case = bench.open_job(
        book, Intake("amplifier", owner=owner, words="anna möller says the left is dead", key="k"), NOW
    )
    for line in (
        "Q7 c 11.8 V",
        "Q7 b 0.6 V, Anna Möllers was here, Anna Möller too",
        "gibberish Anna Möller",
        "Anna rang",
    ):
        case = bench.enter_line(book, case, line, NOW)
    drawn = BytesIO()
    Image.new("RGB", (30, 20), "white").save(drawn, "PNG")
    case = picturing.add_photo(book, case, drawn.getvalue(), "label of Anna Möller", NOW)
    keep_whole(folder_of(book), b"0,1\n1,2\n")
    return case


def everything(path: Path) -> dict[str, object]:
    """All that a book and what stands beside it says."""
    with open_book(path) as book:
        events = {job: book.events(job) for job in book.jobs()}
        own = book.own_events()
    beside = {
        f"{folder}/{one.name}": hashlib.sha256(one.read_bytes()).hexdigest()
        for folder in ("photos", "captures")
        for one in path.with_name(f"{path.name}.{folder}").glob("*.*")
    }
    return {"events": events, "own": own, "beside": beside}


# Copies -------------------------------------------------------------------------------------


def test_a_copy_put_back_is_the_bench_as_it_was(book, tmp_path):
    filled(book)
    book.append_own("kit", {"has": ["meter"]}, NOW, "1")
    view = copy_bench(book, tmp_path / "copy.zip", NOW)
    assert (view.jobs, view.pictures, view.waveforms) == (1, 1, 1)
    book.close()
    before = everything(book.path)
    there = restore(tmp_path / "copy.zip", tmp_path / "other" / "bench.db", NOW)
    assert (there.jobs, there.aside) == (1, "")
    assert everything(tmp_path / "other" / "bench.db") == before
    assert sorted(one.name for one in (tmp_path / "other").iterdir()) == [
        "bench.db", "bench.db.captures", "bench.db.photos"]  # fmt: skip


def test_what_a_copy_replaces_is_moved_aside_whole(book, tmp_path):
    filled(book)
    copy_bench(book, tmp_path / "copy.zip", NOW)
    bench.open_job(book, Intake("mixer", key="later"), NOW)
    book.close()
    for times in (1, 2):
        later = everything(book.path)
        view = restore(tmp_path / "copy.zip", book.path, NOW)
        assert everything(Path(view.aside)) == later, times
        assert len(everything(book.path)["events"]) == 1
    assert len(list(tmp_path.glob("bench.db.before-20261126130000*"))) == 2 * 3  # each with pictures and waveforms


def test_a_copy_taken_while_others_write_is_one_moment_of_the_book(book, tmp_path):
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    done = threading.Event()

    def write() -> None:
        with open_book(book.path) as other:
            number = 0
            while not done.is_set():
                number += 1
                other.append(case.number, "note", {"text": f"{number}" * 50, "says": []}, NOW, "1")

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for nth in range(5):
            copy_bench(book, tmp_path / f"{nth}.zip", NOW)
    finally:
        done.set()
        writer.join()
    now, grew = len(book.events(case.number)), []
    for nth in range(5):
        restore(tmp_path / f"{nth}.zip", tmp_path / f"{nth}" / "bench.db", NOW)
        with open_book(tmp_path / f"{nth}" / "bench.db") as copied:
            copied.check()
            grew.append(len(copied.events(case.number)))
            assert copied.events(case.number) == book.events(case.number)[: grew[-1]]
    assert grew == sorted(grew) and grew[-1] > grew[0] and now >= grew[-1]


def test_a_copy_replaces_no_file_and_leaves_no_half_of_one(book, tmp_path, monkeypatch):
    filled(book)
    (tmp_path / "there.zip").write_bytes(b"dear")
    with pytest.raises(BadInput, match="already"):
        copy_bench(book, tmp_path / "there.zip", NOW)
    assert (tmp_path / "there.zip").read_bytes() == b"dear"
    with pytest.raises(BadInput, match="name another folder"):
        copy_bench(book, tmp_path / "nowhere" / "copy.zip", NOW)

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(zipfile.ZipFile, "writestr", full)
    with pytest.raises(BadInput, match="No space left"):
        copy_bench(book, tmp_path / "copy.zip", NOW)
    assert not (tmp_path / "copy.zip").exists() and not list(tmp_path.glob(".*.part"))


def remade(source: Path, target: Path, **changed: bytes) -> Path:
    """The same archive with other bytes under some names; name of the keyword: the member's, dots and slashes as _."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            new.writestr(name, changed.get(re.sub(r"\W", "_", name), old.read(name)))
    return target


def test_what_is_no_whole_copy_is_refused_and_nothing_moves(book, tmp_path):
    filled(book)
    good = tmp_path / "copy.zip"
    copy_bench(book, good, NOW)
    book.close()
    before = everything(book.path)
    torn = tmp_path / "torn.zip"
    torn.write_bytes(good.read_bytes()[:-900])
    text = tmp_path / "text.zip"
    text.write_text("hello")
    told = json.loads(zipfile.ZipFile(good).read(CONTENTS))
    outside = {**told, "sha256": {**told["sha256"], "../../evil.png": "0" * 64}}
    other_book = b"SQLite format 3\0" + b"\0" * 4000
    forged = {**told, "sha256": {**told["sha256"], "book.db": hashlib.sha256(other_book).hexdigest()}}
    wrong = {
        torn: "no copy of a bench", text: "no copy of a bench", tmp_path / "none.zip": "cannot be read",
        remade(good, tmp_path / "bytes.zip", book_db=b"other"): "damaged",
        remade(good, tmp_path / "empty.zip", contents_json=b"[]"): "no copy of a bench",
        remade(good, tmp_path / "outside.zip", contents_json=json.dumps(outside).encode()): "no copy of a bench",
        remade(good, tmp_path / "forged.zip", contents_json=json.dumps(forged).encode(), book_db=other_book):
            "not a book|damaged",
    }  # fmt: skip
    for path, said in wrong.items():
        with pytest.raises(BadInput, match=said):
            restore(path, book.path, NOW)
    assert everything(book.path) == before
    assert not list(tmp_path.glob("*.before-*")) and not list(tmp_path.glob("*.coming"))
    assert not (tmp_path.parent / "evil.png").exists()


def test_a_log_left_by_a_crash_is_not_read_into_the_copy(book, tmp_path):
    """The damaged book was moved away by hand, its write-ahead log was not."""
    case = filled(book)
    copy_bench(book, tmp_path / "copy.zip", NOW)
    then = len(book.events(case.number))
    for number in range(30):
        book.append(case.number, "note", {"text": f"later {number}", "says": []}, NOW, "1")
    log = book.path.with_name("bench.db-wal").read_bytes()
    book.close()
    for there in (False, True):  # gone, or still there and torn
        book.path.unlink()
        if there:
            book.path.write_bytes(b"torn" * 3000)
        else:
            book.path.with_name("bench.db-wal").write_bytes(log)
        restore(tmp_path / "copy.zip", book.path, NOW)
        with open_book(book.path) as back:
            assert len(back.events(case.number)) == then
    assert any(one.read_bytes() == b"torn" * 3000 for one in tmp_path.glob("bench.db.before-*") if one.is_file())


def test_a_book_in_use_is_not_replaced(book, tmp_path):
    filled(book)
    copy_bench(book, tmp_path / "copy.zip", NOW)
    with pytest.raises(BadInput, match="another program has this book open"):
        restore(tmp_path / "copy.zip", book.path, NOW)
    book.close()
    assert restore(tmp_path / "copy.zip", book.path, NOW).aside


# For other programs --------------------------------------------------------------------------


def test_an_export_holds_every_event_and_every_reading(book, tmp_path):
    case = filled(book)
    bench.open_job(book, Intake("mixer", model="=1+1", words="-12 V is gone; @home", key="m"), NOW)
    view = export(book, tmp_path / "out", NOW)
    assert view.files == FILES
    whole = json.loads((tmp_path / "out" / "bench.json").read_text("utf-8"))
    for job in whole["jobs"]:
        assert [one["payload"] for one in job["events"]] == [one.payload for one in book.events(job["job"])]
    jobs, lines, readings = (
        list(csv.DictReader(StringIO((tmp_path / "out" / name).read_text("utf-8-sig"), newline="")))
        for name in view.files[1:4]
    )
    assert [one["kind"] for one in jobs] == ["amplifier", "mixer"] and jobs[0]["owner"] == OWNER
    assert [one["text"] for one in lines] == [line.text for line in case.lines]
    assert [(one["red at"], float(one["answer"]), one["unit"]) for one in readings] == [
        (r.question.red, r.answer, "V") for r in case.readings
    ]
    assert len(readings) == 2
    # a spreadsheet would take these for formulas (CWE-1236, improper neutralisation of formula elements)
    assert jobs[1]["model"] == "'=1+1" and jobs[1]["complaint"] == "'-12 V is gone; @home"
    with pytest.raises(BadInput, match="not empty"):
        export(book, tmp_path / "out", NOW)


def test_parts_used_and_safety_checks_are_tables_too(book):
    """Invented: one part that was fitted and told of, one check that failed, one nobody has done."""
    case = bench.enter_line(book, filled(book), "fitted a new C4", NOW)
    case = parts_used.tell_part(book, case, "C4", {"origin": "pulled", "source": "=A shop", "was": "thrown away"}, NOW)
    case = checking_safety.tell_class(book, case, NOW, "I", tube=False)
    checking_safety.check(book, case, "earth", "0.9 ohm", NOW, by="B. Volta")
    written = dict(exported(book, NOW))
    rows = {name: list(csv.DictReader(StringIO(written[name].lstrip("\ufeff")))) for name in FILES[-2:]}
    (part,), (check,) = rows["parts.csv"], rows["safety.csv"]
    assert (part["part"], part["origin"], part["source"], part["old part"]) == (
        "C4",
        "pulled",
        "'=A shop",
        "thrown away",
    )
    assert (check["check"], check["limit"], check["state"], check["done by"]) == (
        "earth",
        "at most 0.3 Ω",
        "failed",
        "B. Volta",
    )
    assert "0.9" in check["result"] and check["at UTC"] == NOW and check["stands"] == "yes"


def test_results_of_safety_checks_are_exported_also_where_they_stand_no_more(book):
    """Invented: a check that a later repair made due again, one that was taken back, one that stands, one by others."""
    case = checking_safety.tell_class(book, filled(book), NOW, "I", tube=False)
    case = checking_safety.check(book, case, "earth", "0.1 ohm", NOW)
    case = bench.enter_line(book, case, "fitted a new C4", NOW)
    case = checking_safety.check(book, case, "earth", "0.9 ohm", NOW)
    case = checking_safety.take_back(book, case, case.safety_told.checked[-1].event, "wrong lead", NOW)
    case = checking_safety.check(book, case, "earth", "0.2 ohm", NOW)
    checking_safety.checked_by(book, case, "A. Galvani", "with a tester", NOW)
    table = csv.DictReader(StringIO(dict(exported(book, NOW))["safety.csv"].lstrip("\ufeff")))
    told = [
        (one["check"], one["state"], one["result"].partition(",")[0], one["done by"], one["stands"]) for one in table
    ]
    assert told == [
        ("earth", "passed", "0.1 Ω", "", "no"),
        ("earth", "failed", "0.9 Ω", "", "no, taken back: wrong lead"),
        ("earth", "passed", "0.2 Ω", "", "yes"),
        ("", "passed", "with a tester", "A. Galvani", "yes"),
    ]


def test_a_byte_that_was_no_text_is_exported_too(book):
    job = book.open_job({"kind": "amplifier"}, NOW, "1").job
    book.append(job, "note", {"text": b"12 rail 11\xff8".decode("utf-8", "surrogateescape"), "says": []}, NOW, "1")
    for name, text in exported(book, NOW):
        text.encode("utf-8")
        assert "11" in text or name in ("jobs.csv", "readings.csv", "parts.csv", "safety.csv")


# An owner forgotten --------------------------------------------------------------------------


def in_bytes(folder: Path, pattern: str) -> list[str]:
    """Files in which the owner's second name still is."""
    files = [one for one in folder.glob(pattern) if one.is_file()]
    return [one.name for one in files if "möller" in one.read_bytes().decode("utf-8", "replace").casefold()]


def test_the_name_goes_from_every_byte_and_the_findings_stay(book, tmp_path):
    case = bench.enter_line(book, filled(book), f"note: {'word of Anna Möller ' * 700}", NOW)  # on pages of its own
    stand(book, case, NOW)  # something is kept beside the book
    assert in_bytes(tmp_path, "bench.db.cache")
    case = bench.find_case(book, case.number)
    before = (case.readings, [line.status for line in case.lines], case.opened, case.mark)
    view = erase_owner(book, case, ["dead"], NOW)
    assert view.places >= 4 and view.elsewhere == ()
    assert not in_bytes(tmp_path, "bench.db.cache*")
    after = bench.find_case(book, case.number)
    assert [line.status for line in after.lines] == before[1] and after.mark == before[3]
    assert [replace(r, text="") for r in after.readings] == [replace(r, text="") for r in before[0]]
    assert (after.intake.owner, after.erased) == ("", NOW)
    assert after.intake.words == "the owner says the left is the owner"
    assert after.lines[1].text == "Q7 b 0.6 V, the owner was here, the owner too"
    assert find_jobs(book, OWNER) == ()
    assert any("--also Anna" in one for one in view.left) and any("photographs" in one for one in view.left)
    assert stand(book, after, NOW).case.erased == NOW
    book.close()
    assert not in_bytes(tmp_path, "bench.db*")


def test_other_jobs_of_the_owner_are_named_and_left_alone(book):
    first, second = filled(book), filled(book, "anna möller")
    view = erase_owner(book, first, [], NOW)
    assert view.elsewhere == (second.number,)
    assert bench.find_case(book, second.number).intake == second.intake


def test_an_owner_named_otherwise_before_goes_too(book):
    case = filled(book)
    case = bench.amend(book, case, {"owner": "Berta Klug"}, NOW)
    erase_owner(book, bench.close(book, case, "returned", "Berta Klug has it", NOW), [], NOW)
    told = str([event.payload for event in book.events(case.number)])
    assert "Berta" not in told and "Anna Möller'" not in told
    assert bench.find_case(book, case.number).closed["words"] == "the owner has it"


@pytest.mark.parametrize(
    "owner, also, said", [("", [], "names no owner"), ("Jo", [], "too short"), ("", ["R1"], "short")]
)
def test_what_could_be_a_place_is_not_erased(book, owner, also, said):
    case = filled(book, owner)
    with pytest.raises(BadInput, match=said):
        erase_owner(book, case, also, NOW)
    assert not bench.find_case(book, case.number).erased


def test_half_an_erasure_never_stands(book, monkeypatch):
    case = filled(book)
    before = book.events(case.number)
    monkeypatch.setattr("probewright.record.store._put", lambda *_: (_ for _ in ()).throw(RuntimeError("power cut")))
    with pytest.raises(RuntimeError):
        erase_owner(book, case, [], NOW)
    assert book.events(case.number) == before


def proved_and_decided(book, case):
    """What is said of tries, money and consent; every field a person fills names the owner."""
    case = proving.tried(book, case, Tried(0, NOW, "starts", 3.0, 1, f"in {OWNER} cellar", False, OWNER), NOW)
    case = proving.take_back(book, case, case.tried[-1].event, NOW)
    later = NOW.replace("13", "14")
    case = proving.end_run(book, proving.begin_run(book, case, OWNER, NOW), False, False, OWNER, later)
    case = proving.adjusted(book, case, f"RV1 of {OWNER}", OWNER, OWNER, NOW)
    case = deciding.agree(book, case, {"ceiling": 50.0}, NOW)
    case = deciding.add_option(book, case, deciding.option_said("new", f"U3 of {OWNER}", {}), NOW)
    case = deciding.consent(book, case, f"U3 of {OWNER}", OWNER, None, NOW)
    return deciding.drop_option(book, case, f"U3 of {OWNER}", NOW)


def taken_apart_and_fitted(book, case, other):
    """What is said of layers and of parts that come out."""
    case = stripping.take_off(book, case, f"lid of {OWNER}: 4 screws M3x6, earth wire of {OWNER}", NOW)
    case = putting_together.put_back(book, case, "1", NOW, words=OWNER)
    for one in putting_together.refit(case).layers[0].items:
        case = putting_together.looked_at(book, case, one.number, "ok", OWNER, NOW) if one.check else case
    case = stripping.tie_photo(book, case, 1, case.photos[0].name, NOW)
    case = stripping.follow(book, case, other, NOW)
    case = stripping.take_off_planned(book, case, NOW)
    case = putting_together.explain(book, case, f"{OWNER} has one", NOW)
    case = stripping.take_back(book, case, case.strip.explained[-1].event, NOW)
    case = fitting_lists.say_fit(book, case, "R3", NOW, package="axial")
    case = fitting_lists.tick_fit(book, case, "R3", 1, "ok", OWNER, NOW)
    case = fitting_lists.heat_fit(book, case, "R3", 1, f"by {OWNER}", NOW)
    case = fitting_lists.take_back_fit(book, case, case.fits.heated[-1].event, NOW)
    return fitting_lists.begin_fit(book, case, "R3", NOW)


def repaired_and_handed_over(book, case):
    """What is said of parts, of safety, and for the papers."""
    told = {"state": f"as {OWNER} says", "source": f"{OWNER} shelf", "words": OWNER}
    for _ in range(2):
        case = parts_used.add_part(book, case, f"lead of {OWNER}", told, NOW)
    case = parts_used.drop_part(book, case, case.parts_told[-1].event, NOW)
    case = checking_safety.tell_class(book, case, NOW, "I")
    case = checking_safety.check(book, case, "earth", "900 ohm", NOW, by=OWNER, tool=f"tester of {OWNER}", words=OWNER)
    case = checking_safety.left_unsafe(book, case, f"{OWNER} wants it", OWNER, NOW)
    case = checking_safety.take_back(book, case, case.safety_told.checked[-1].event, OWNER, NOW)
    case = checking_safety.mended(book, case, f"lead of {OWNER}", NOW)
    case = checking_safety.checked_by(book, case, OWNER, OWNER, NOW)
    case = billing.tell_billed(book, case, {"hours": "2"}, {}, NOW)
    case = billing.charge(book, case, f"lead of {OWNER}", "8.50", NOW)
    case = billing.drop_charge(book, case, f"lead of {OWNER}", NOW)
    case = handing_over.tell_owner(book, case, {one.name: OWNER for one in fields(papers_said.Told)}, NOW)
    return bench.append(
        book, case, papers_said.HANDED, {"paper": "owner", "form": "", "digest": "0", "made": "pdf"}, NOW
    )


def known_and_shown(book, case, model):
    """Machine files, pictures and where it was before, and what other jobs and the tables leave to it."""
    case = adding.tell_chain(book, case, "head > preamp > driver", NOW)
    case = bench.know(book, case, "shelf", f"as {OWNER} says", DIVIDERS, "", NOW, says=[f"of {OWNER}"])
    case = bench.know(book, case, "file", f"from {OWNER}", DIVIDERS, f"{OWNER}.yaml", NOW)
    case = learn(book, bench.amend(book, case, {"model": "Model 7"}, NOW), model, f"meter of {OWNER}", False, NOW)
    case = bench.undo(book, case, NOW)
    name = case.photos[0].name
    case = picturing.mark_spot(
        book, picturing.caption(book, case, name, f"of {OWNER}", NOW), name, "OUT", 0.5, 0.5, NOW
    )
    case = picturing.drop_spot(book, case, name, "OUT", NOW)
    placing = asdict(placed_circuits.Placing("buffer", f"A of {OWNER}"))
    killer = {"part": f"C2 of {OWNER}", "killer": "U1 is short", "words": f"{OWNER} has looked"}
    for kind, payload in (
        ("circuit added", placing),
        ("circuit gone", {"name": placing["name"]}),
        ("killer checked", killer),
        (USUAL, keep_usual(Usual(3))),
        (FOUND, keep_found(Found(decisive=3, text=f"Q7 b 0.6 V, {OWNER} was here"))),
    ):
        case = bench.append(book, case, kind, payload, NOW)
    return bench.was_here(book, case, 0, None, NOW)


def test_the_name_goes_from_every_field_that_a_person_filled(book):
    """Of every kind of event; what an erased answer was worked out from does not come back."""
    other = closed_model(book)
    case = filled(book)
    view = stand(book, case, NOW)
    case = bench.enter_line(book, bench.find_case(book, 2), f'owner says yes to calling {OWNER} first: "{OWNER}"', NOW)
    case = proved_and_decided(book, bench.enter_line(book, case, "10k || 22k", NOW))
    case = known_and_shown(book, case, other)
    case = repaired_and_handed_over(book, taken_apart_and_fitted(book, case, other))
    case = bench.reopen(book, bench.close(book, case, "parked", f"for {OWNER}", NOW), NOW)
    case = picturing.drop_photo(book, case, case.photos[0].name, NOW)
    before = case = bench.find_case(book, case.number)
    erase_owner(book, bench.close(book, case, "parked", OWNER, NOW), [], NOW)
    events = book.events(case.number)
    assert set(STEPS) <= {event.kind for event in events}
    named = [(event.kind, event.payload) for event in events if "möller" in str(event.payload).casefold()]
    assert not named
    stand_on(book, before, view, NOW)  # the answer that was on its way
    assert not in_bytes(book.path.parent, "bench.db.cache*")


def closed_model(book):
    """Number of a job of the model that was opened, and was sound."""
    case = bench.open_job(book, Intake("amplifier", model="Model 7", key="m"), NOW)
    case = bench.know(book, case, "file", "the file", DIVIDERS, "", NOW)
    case = bench.enter_line(book, case, "OUT 3.8 V", NOW)
    case = stripping.take_off(book, case, "lid: 2 clips", NOW)
    case = putting_together.put_back(book, case, "1", NOW)
    return bench.close(book, case, "nothing wrong", "", NOW).number


def test_what_was_looked_at_stays_so_once_its_layer_is_called_otherwise(book):
    """The tick of a check is not tied to words that go with the owner."""
    case = filled(book)
    for line in (
        "lid of {}: 4 screws M3x6, earth wire of {}",
        "board of {}: ribbon of {}, screen of {}, heatsink of Q9",
    ):
        line = line.replace("{}", OWNER)
        case = stripping.take_off(book, case, line, NOW)
    for layer in putting_together.refit(case).layers:
        case = putting_together.put_back(book, case, str(layer.number), NOW)
        for one in layer.items:
            case = putting_together.looked_at(book, case, one.number, "ok", "", NOW) if one.check else case
    before = putting_together.refit(case)
    assert before.standing == "together" and sum(one.check for layer in before.layers for one in layer.items) == 8
    erase_owner(book, case, [], NOW)
    after = putting_together.refit(bench.find_case(book, case.number))
    assert after.standing == "together" and "Möller" not in str([event.payload for event in book.events(case.number)])


def test_what_other_jobs_took_over_is_erased_with_it_and_their_owner_stays(book):
    """A list that is followed, and a layer of it that came off; a job that only says the word is named."""
    first = stripping.take_off(book, filled(book), f"lid of {OWNER}: 4 screws M3x6", NOW)
    second = bench.open_job(book, Intake("amplifier", owner="Berta Klug", key="b"), NOW)
    second = stripping.take_off_planned(book, stripping.follow(book, second, first.number, NOW), NOW)
    third = bench.open_job(book, Intake("amplifier", words=f"a friend of {OWNER}", key="c"), NOW)
    ahead = [one.done for one in stripping.strip_down(book, second).ahead]
    view = erase_owner(book, first, [], NOW)
    after = bench.find_case(book, second.number)
    assert "Möller" not in str([event.payload for event in book.events(second.number)])
    assert (after.intake.owner, after.erased, after.mark) == ("Berta Klug", "", second.mark)
    assert [one.done for one in stripping.strip_down(book, after).ahead] == ahead == [True]
    assert any(f"stand in job {third.number}:" in one for one in view.left)
    assert bench.find_case(book, third.number).intake == third.intake


def test_words_to_be_found_again_go_even_where_their_file_cannot(book, monkeypatch):
    """As where another program has it open: emptied; and where that fails too, nothing is erased and it is said."""
    case = filled(book)
    find_jobs(book, OWNER)
    index = book.path.with_name("bench.db.index")
    assert in_bytes(book.path.parent, index.name)
    whole = Path.unlink

    def held(path: Path, missing_ok: bool = False) -> None:
        if path.name.startswith(index.name):
            raise PermissionError(13, "in use")
        whole(path, missing_ok)

    monkeypatch.setattr(Path, "unlink", held)
    before = book.events(case.number)
    other = sqlite3.connect(index)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(BadInput, match="cannot be removed.*and remove it"):
        erase_owner(book, case, [], NOW)
    assert book.events(case.number) == before
    other.close()
    erase_owner(book, case, [], NOW)
    assert index.exists() and not in_bytes(book.path.parent, index.name)
    assert find_jobs(book, OWNER) == () and find_jobs(book, "gibberish") == (case.number,)


# At the two doors ----------------------------------------------------------------------------


def test_the_command_copies_exports_erases_and_puts_back(probewright, book, tmp_path):
    filled(book)
    book.close()
    copied = probewright("book", "copy", str(tmp_path / "c.zip"))
    assert copied.returncode == 0 and "1 job, 1 picture, 1 waveform" in copied.stdout
    assert probewright("book", "export", str(tmp_path / "x")).returncode == 0
    erased = probewright("book", "erase-owner", "1", "--yes", "--json")
    assert erased.returncode == 0 and json.loads(erased.stdout)["places"] >= 4
    assert OWNER not in probewright("job", "show", "1").stdout
    back = probewright("book", "restore", str(tmp_path / "c.zip"))
    assert back.returncode == 0 and "bench.db.before-" in back.stdout
    assert OWNER in probewright("job", "show", "1").stdout
    again = probewright("book", "copy", str(tmp_path / "c.zip"))
    assert again.returncode == 2 and "name another one" in again.stderr and "Traceback" not in again.stderr


def test_the_page_hands_out_a_copy_that_can_be_put_back(page, book, own_book, tmp_path):
    filled(book)
    answer = page.get("/book/copy")
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/zip"
    (tmp_path / "page.zip").write_bytes(answer.content)
    restore(tmp_path / "page.zip", tmp_path / "other" / "bench.db", NOW)
    assert everything(tmp_path / "other" / "bench.db")["events"] == {1: book.events(1)}
    with zipfile.ZipFile(BytesIO(page.get("/book/export").content)) as archive:
        assert archive.namelist() == list(FILES)
    assert OWNER in page.get("/book").text


def test_the_page_erases_only_what_is_meant(page, book):
    filled(book)
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/1/forget").text).group(1)
    unmeant = page.post("/jobs/1/forget", data={"token": token, "also": "dead"})
    assert unmeant.status_code == 422 and ">dead</textarea>" in unmeant.text
    assert bench.find_case(book, 1).intake.owner == OWNER
    done = page.post("/jobs/1/forget", data={"token": token, "also": "dead\n", "meant": "yes"})
    assert done.status_code == 200 and "written over" in done.text
    assert bench.find_case(book, 1).intake.owner == "" and OWNER not in page.get("/jobs/1").text


def test_a_stranger_gets_no_copy(own_book):
    """Without a session of this page the guard sends nothing; the secret beside the book is in no copy."""
    with open_book(own_book) as book:
        filled(book)
        secret = secret_beside(own_book)
        copy_bench(book, own_book.with_name("c.zip"), NOW)
    assert secret.encode() not in own_book.with_name("c.zip").read_bytes()
    with zipfile.ZipFile(own_book.with_name("c.zip")) as archive:
        assert all(re.match(r"book\.db|contents\.json|photos/|captures/", one) for one in archive.namelist())


def test_a_function_that_works_by_half_is_exported_too(book):
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    case = bench.know(book, case, "file", "dividers", DIVIDERS, "dividers.yaml", NOW)
    case = bench.enter_line(
        book, bench.enter_line(book, case, "set-up: power on, idle", NOW), "output 50 % of healthy", NOW
    )
    assert (case.readings[-1].question.instrument, case.readings[-1].answer) == ("works", 0.5)
    assert ",works,output,GND,0.5,," in dict(exported(book, NOW))["readings.csv"]


def test_a_reading_said_as_a_share_is_exported_too(book, tmp_path):
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    case = adding.tell_chain(book, case, "left, right: head > preamp > driver", NOW)
    case = bench.enter_line(book, case, "left preamp out: half", NOW)
    assert case.readings[-1].question.instrument == "share"
    view = export(book, tmp_path / "out", NOW)
    assert ",share,after-preampL,GND,0.5,," in (tmp_path / "out" / "readings.csv").read_text("utf-8") and len(
        view.files
    ) == len(FILES)
