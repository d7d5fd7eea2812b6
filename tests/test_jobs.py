"""Jobs as their record tells them: folding, undo, comparing, tying, swaps, and killing whoever writes."""

from __future__ import annotations

import dataclasses
import json
import math
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checked import checked
from conftest import Run
from probewright.errors import BadInput
from probewright.jobs import adding, bench, standing
from probewright.jobs.case_view import BenchView, CaseView, typed
from probewright.jobs.cases import Case, Intake, fold
from probewright.jobs.comparing import compare, mirrored
from probewright.jobs.keeping import keep_reading, keep_setup, kept_reading, kept_setup
from probewright.jobs.swaps import believed_swaps, unreversed
from probewright.jobs.tying import match
from probewright.jobs.view import plain
from probewright.jobs.weighing import on_machine
from probewright.machine import read as read_machine
from probewright.readings import Question, Reading, Setup
from probewright.record import Book, open_book
from probewright.report import bench as words

NOW = "2026-11-25T10:00:00+00:00"
LATER = "2026-11-25T10:05:00+00:00"
SILENT_LEFT = Intake("amplifier", ticks={"sound left": "bad", "sound right": "good"}, words="left is silent", key="k")
BOARD = """\
machine: small stage
parts:
  SUP: source 12V 5% series 0R5  +12V > GND
  R31: resistor 10k  +12V > BASE
  R32: resistor 2k2  BASE > GND
  Q7: npn small-signal  c=COL b=BASE e=EMI
  R33: resistor 1k  +12V > COL
  R34: resistor 220R  EMI > GND
"""


def opened(book: Book, intake: Intake = SILENT_LEFT) -> Case:
    return bench.open_job(book, intake, NOW)


def entered(book: Book, case: Case, *lines: str) -> Case:
    for line in lines:
        case = bench.enter_line(book, case, line, LATER)
        assert case.lines[-1].status != "asked", case.lines[-1]
    return case


# Keeping ---------------------------------------------------------------------------------------

SETUPS = st.builds(
    Setup,
    power=st.sampled_from(["on", "off"]),
    stimulus=st.sampled_from(["", "1k tone"]),
    lifted=st.sampled_from([(), ("R31.2",), ("R1.1", "R31 left leg")]),
    linked=st.sampled_from([(), (("A", "B"),)]),
    replaced=st.sampled_from([(), ("C5",)]),
)
READINGS = st.builds(
    Reading,
    st.builds(Question, st.sampled_from(["dc", "ohms", "look"]), st.text(min_size=1), st.text(min_size=1), SETUPS),
    st.one_of(st.floats(allow_nan=False), st.text()),
    st.text(),
    st.sampled_from(["yes", "no", "can't tell"]),
    st.integers(0, 9),
    st.booleans(),
    st.one_of(st.none(), st.just((-math.inf, 3.0)), st.just((2.0, math.inf))),
    st.text(),
)


@given(READINGS)
def test_a_reading_comes_back_from_the_record_as_it_went_in(reading: Reading):
    back = kept_reading(json.loads(json.dumps(keep_reading(reading), allow_nan=False)))
    assert (back, back.text) == (reading, reading.text)


@given(SETUPS)
def test_a_set_up_comes_back_from_the_record_as_it_went_in(setup: Setup):
    assert kept_setup(json.loads(json.dumps(keep_setup(setup)))) == setup


# Folding ---------------------------------------------------------------------------------------


def test_the_record_alone_tells_the_job(book: Book):
    case = entered(book, opened(book), "Q7 c 11.8 b .9 e 0", "10k || 22k")
    again = fold(book.events(case.number))
    assert again == case
    assert [reading.question.red for reading in case.readings] == ["Q7.c", "Q7.b", "Q7.e"]
    assert [line.status for line in case.lines] == ["counts", "note"]
    assert "6.88 kΩ" in case.lines[-1].says[0]  # 10 x 22 / 32 = 6.875


def test_undo_restores_what_was_believed_exactly(book: Book):
    case = entered(book, opened(book), "swapped the audio lead, same")
    before = standing.work_out(case)
    after = entered(book, case, "settings swapped: cured")
    assert standing.work_out(after) != before
    undone = bench.undo(book, after, LATER)
    restored = standing.work_out(undone)
    assert restored.search == before.search
    assert restored.card == before.card
    assert undone.bench == case.bench
    assert undone.lines[-1].status == "undone", "a line taken back stays in the record"


def test_undo_with_nothing_left_says_so(book: Book):
    with pytest.raises(BadInput, match="nothing is left"):
        bench.undo(book, opened(book), LATER)


def test_what_is_not_understood_is_kept_and_does_not_count(book: Book):
    case = bench.enter_line(book, opened(book), "IC2 is dead", LATER)
    assert case.lines[-1].status == "asked"
    assert case.lines[-1].text == "IC2 is dead"
    assert case.readings == ()


def test_deleting_what_is_kept_beside_the_book_changes_nothing(own_book: Path):
    with open_book(own_book) as book:
        case = entered(book, opened(book), "swapped the audio lead, same")
        first = standing.stand(book, case, LATER)
    beside = [path for path in own_book.parent.iterdir() if "cache" in path.name]
    assert beside
    for path in beside:
        path.unlink()
    with open_book(own_book) as book:
        assert standing.stand(book, bench.find_case(book), LATER) == first


def test_a_view_comes_back_from_plain_values(book: Book):
    view = standing.work_out(entered(book, opened(book), "swapped the audio lead, same"))
    assert typed(BenchView, json.loads(json.dumps(plain(view)))) == view


def test_an_event_of_a_later_version_changes_nothing(book: Book):
    case = opened(book)
    book.append(case.number, "weighed on the moon", {"kilograms": 3}, LATER, "9.9")
    assert dataclasses.replace(fold(book.events(case.number)), touched=case.touched) == case


@pytest.mark.parametrize(("kind", "bad"), [("radio", "sound"), ("games machine", "powers up")])
def test_another_adaptor_that_cures_and_is_reversed_counts_whatever_was_complained_of(book: Book, kind: str, bad: str):
    case = opened(book, Intake(kind, ticks={bad: "bad"}, key="k"))
    lines = ("adaptor 3.1 V", "adaptor swapped: cured", "old adaptor back: fault came back")
    view = standing.work_out(entered(book, case, *lines))
    assert (view.search.finding, view.search.suspects[0].id) == ("outside", "adaptor")
    assert len(view.left_out) == 1  # the volts


def test_a_kind_is_kept_as_it_is_called_whatever_the_capitals(book: Book):
    assert bench.open_job(book, Intake("Portable  GAMES machine", key="c"), NOW).intake.kind == "portable games machine"


def test_an_old_job_opens_without_what_computes(book: Book, own_book: Path):
    entered(book, opened(book), "Q7 c 11.8")
    book.close()
    script = (
        "import sys; from pathlib import Path; from probewright.jobs import bench; from probewright.report import bench as w;"
        "from probewright.record import open_book\n"
        f"with open_book(Path({str(own_book)!r})) as book: print(w.case(bench.view_case(bench.find_case(book))))\n"
        "assert 'numpy' not in sys.modules, 'numpy was loaded'"
    )
    told = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60)
    assert told.returncode == 0, told.stderr
    assert "Q7 c 11.8" in told.stdout


def test_on_a_closed_job_nothing_is_proposed(book: Book):
    case = bench.close(book, opened(book), "outside", "", LATER)
    view = standing.stand(book, case, LATER)
    said = words.card(view)
    assert view.card is None and said.startswith("Job 1 is closed as outside") and "job reopen 1" in said
    assert "job reopen" not in words.card(standing.stand(book, bench.reopen(book, case, LATER), LATER))


def test_a_job_is_found_by_number_or_as_the_last_one_touched(book: Book):
    first, second = opened(book), opened(book)
    assert bench.find_case(book).number == second.number
    entered(book, first, "Q7 c 11.8")
    assert bench.find_case(book).number == first.number
    bench.close(book, checked(book, bench.find_case(book, first.number)), "repaired", "new Q7", LATER)
    assert bench.find_case(book).number == second.number
    with pytest.raises(BadInput, match="no job 7"):
        bench.find_case(book, 7)


def test_an_answer_worked_out_for_one_job_does_not_hide_the_job_opened_since(book: Book):
    """The page goes on working out an answer after the line it belongs to, and only looking at a job is no work on it."""
    first = entered(book, opened(book), "audio lead swapped: same")
    second = bench.open_job(book, Intake("amplifier", key="k"), LATER)
    standing.stand(book, first, "2026-11-26T12:00:00+00:00")
    assert book.events(first.number)[-1].kind == "shown"
    assert bench.find_case(book).number == second.number
    assert bench.find_case(book, first.number).touched == first.touched


def test_a_job_ends_in_a_known_way_and_can_be_taken_up_again(book: Book):
    case = opened(book)
    with pytest.raises(BadInput, match="'Mended' is not .* outside"):
        bench.close(book, case, "Mended", "", LATER)
    assert (
        bench.view_case(bench.close(book, opened(book), " Nothing  wrong", "", LATER)).closed.ending == "nothing wrong"
    )
    case = bench.close(book, case, "Outside", "the lead", LATER)
    view: CaseView = bench.view_case(case)
    assert view.closed is not None and view.closed.ending == "outside"
    assert bench.reopen(book, case, LATER).closed is None


def test_a_function_that_is_not_on_the_list_names_the_nearest(book: Book):
    with pytest.raises(BadInput, match="sound left"):
        opened(book, Intake("amplifier", ticks={"sound lefft": "bad"}))


# Comparing -------------------------------------------------------------------------------------


def read(place: str, answer: float, instrument: str = "pp") -> Reading:
    return Reading(Question(instrument, place, setup=Setup(stimulus="1k tone")), answer, "h1")


@pytest.mark.parametrize(
    ("place", "other"),
    [
        ("left top of vol pot", "right top of vol pot"),
        ("preamp out right", "preamp out left"),
        ("Q7.c", None),
        ("bright lamp", None),
    ],
)
def test_the_equal_place_is_named_by_its_channel_word(place: str, other: str | None):
    assert mirrored(place, None) == (() if other is None else (other,))


def test_a_reading_is_compared_with_the_equal_channel_at_once(book: Book):
    case = entered(book, opened(book), "left top of vol pot 0.52 Vpp", "right top of vol pot 1.04 Vpp")
    assert any("2" in said and "left top of vol pot" in said for said in case.lines[-1].says)


def test_comparing_says_the_ratio_and_nothing_of_other_questions():
    left = read("left out", 0.5)
    assert "0.5 of left out" in compare(dataclasses.replace(read("right out", 0.25)), [left], None)
    assert compare(read("right out", 0.52), [left], None).startswith("as left out")
    assert compare(read("right out", 0.25, "dc"), [left], None) == ""


# Tying -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "place", "others"),
    [
        ("Q7 collector", "Q7.c", ()),
        ("12 rail", "+12V", ()),
        ("R31 left leg", "", ("R31.1", "R31.2")),
        ("somewhere else", "", ()),
    ],
)
def test_a_free_name_is_matched_or_asked(name: str, place: str, others: tuple[str, ...]):
    found = match(name, read_machine(BOARD, "board"))
    assert (found.place, found.others) == (place, others)


@pytest.mark.parametrize("name", ["U2 left leg", "r2 upper end", "C2 one side"])
def test_a_leg_of_a_part_that_the_file_does_not_have_is_no_test_point(name: str):
    found = match(name, read_machine(BOARD.replace("BASE", "TP2"), "board"))
    assert (found.place, found.others) == ("", ())


def test_readings_are_tied_without_retyping(book: Book):
    case = entered(book, opened(book), "Q7 c 11.8 b .9 e 0", "R31 left leg 12.1", "R31 burnt")
    text = adding.propose_tie(case, BOARD, "board.yaml", {"R31 left leg": "R31.1"})
    assert text.matches[0].place == "R31.1"
    tied = adding.tie(book, case, BOARD, text, LATER)
    machine = bench.machine_of(tied)
    assert machine is not None
    weighed = on_machine(tied, machine)
    placed = {r.question.red: r.answer for r in weighed.readings if r.question.instrument == "dc"}
    assert placed == {"Q7.c": 11.8, "Q7.b": 0.9, "Q7.e": 0.0, "R31.1": 12.1}


def test_ticks_that_fit_no_function_of_the_file_are_said_and_stay_on_the_record(book: Book):
    works = "  left output: COL dc at rest; below 1V = silent\n  right output: EMI dc at rest; below 0.1V = silent\n"
    file = f"{BOARD}stimuli:\n  rest: {{}}\nworks:\n{works}"
    ticks = {"sound left": "bad", "quiet controls": "bad", "lamp": "good"}
    case = opened(book, dataclasses.replace(SILENT_LEFT, ticks=ticks))
    agreed = adding.propose_tie(case, file, "board.yaml", {})
    tied = adding.tie(book, case, file, agreed, LATER)
    view = adding.tied(tied, agreed)
    assert dict(view.functions) == {"sound left": "left output"}
    assert [one.split(":")[0] for one in view.left_out] == ["quiet controls, bad", "lamp, good"]
    assert all(f"  {one}" in words.tie(view) and "say `left output: bad`" in one for one in view.left_out)
    assert fold(book.events(tied.number)).lines[-1].says == ("sound left is taken as left output", *view.left_out)
    again = adding.tied(tied, adding.propose_tie(tied, BOARD, "less.yaml", {}))
    less = adding.tie(book, tied, BOARD, again, LATER)
    assert adding.left_out(less) == less.lines[-1].says and len(less.lines[-1].says) == len(ticks)
    assert all("does not say what should work" in one for one in less.lines[-1].says)


def test_a_new_part_is_on_the_record_and_taken_back_by_undo(book: Book):
    case = entered(book, opened(book), "Q7 c 11.8")
    agreed = adding.propose_tie(case, BOARD, "board.yaml", {})
    case = adding.tie(book, case, BOARD, agreed, LATER)
    fitted = entered(book, case, "fitted a new R32", "Q7 b 2.1")
    kept = fold(book.events(fitted.number))
    assert kept.bench.fitted == ("R32",)
    before, after = on_machine(kept, read_machine(BOARD, "board")).readings[-2:]
    assert (before.question.setup.replaced, after.question.setup.replaced) == ((), ("R32",))
    undone = bench.undo(book, bench.undo(book, kept, LATER), LATER)
    assert undone.bench.setup.replaced == ()
    assert entered(book, undone, "Q7 b 2.0").readings[-1].question.setup.replaced == ()


def test_a_place_that_the_file_does_not_have_is_refused(book: Book):
    case = entered(book, opened(book), "R31 left leg 12.1")
    with pytest.raises(BadInput, match=r"R99\.1"):
        adding.propose_tie(case, BOARD, "board.yaml", {"R31 left leg": "R99.1"})


# Swaps -----------------------------------------------------------------------------------------


def swap(answer: str, extra: str = "lead", kind: str = "swap") -> Reading:
    return Reading(Question(kind, extra), answer, "h1")


def test_a_swap_that_cures_counts_once_it_was_reversed():
    cured = swap("cured")
    assert believed_swaps([cured]) == ()
    assert unreversed([cured]) == (cured,)
    assert believed_swaps([cured, swap("back", kind="swap back")]) == (cured, cured)
    assert believed_swaps([cured, swap("gone", kind="swap back")]) == ()
    assert believed_swaps([swap("same")]) == (swap("same"),)


def test_the_card_asks_for_the_reversal_and_the_job_ends_outside(book: Book):
    case = entered(book, opened(book), "swapped the audio lead, cured")
    view = standing.stand(book, case, LATER)
    assert view.card is not None and "old audio lead back" in view.card.do
    case = bench.find_case(book)
    case = bench.enter_line(book, case, "fault back", LATER, standing.asked(case))
    assert case.lines[-1].status == "counts", case.lines[-1]
    view = standing.work_out(case)
    assert view.search.finding == "outside"
    assert "lead" in view.search.suspects[0].id


def test_a_card_that_an_older_version_wrote_still_takes_a_bare_figure() -> None:
    asked = Question("dc", "R31.2", setup=Setup(lifted=("R33.1",)))
    older = plain(asked)
    for newer in ("mended", "loaded", "sister"):
        del older["setup"][newer]
    assert standing.answered(older) == asked


def test_a_view_kept_before_it_had_some_field_is_as_good_as_thrown_away(book: Book) -> None:
    case = opened(book)
    first = standing.stand(book, case, LATER)
    case = bench.find_case(book)
    kept = plain(first)
    del kept["search"]["finding"]
    book.keep(case.number, standing._key(case), json.dumps(kept).encode())
    assert standing.kept_view(book, case) is None
    assert standing.stand(book, case, LATER).search == first.search


# Killing ---------------------------------------------------------------------------------------

WRITER = """
import sys
from pathlib import Path
from probewright.jobs import bench
from probewright.record import open_book
with open_book(Path(sys.argv[1])) as book:
    case = bench.find_case(book)
    for n in range(1000):
        case = bench.enter_line(book, case, f"TP{n} {n % 12}.{n % 10} V", "2026-11-25T10:05:00+00:00")
        print(case.lines[-1].event, case.lines[-1].text, flush=True)
"""


def test_readings_entered_while_the_process_is_killed_are_there(own_book: Path):
    kills = 5
    with open_book(own_book) as book:
        opened(book)
    dice, said = random.Random(3), []
    for _ in range(kills):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(own_book)], stdout=subprocess.PIPE, text=True, env=dict(os.environ)
        ) as writer:
            assert writer.stdout is not None
            said += [writer.stdout.readline() for _ in range(4)]
            time.sleep(dice.uniform(0.0, 0.05))
            writer.send_signal(signal.SIGKILL)
            said += writer.stdout.readlines()
    acknowledged = [line.rstrip("\n").split(" ", 1) for line in said if line.endswith("\n")]
    assert len(acknowledged) >= 20
    with open_book(own_book) as book:
        there = {str(line.event): line.text for line in bench.find_case(book).lines}
    assert all(there.get(event) == text for event, text in acknowledged)


# The command line ------------------------------------------------------------------------------


def test_intake_by_questions(probewright: Run):
    from probewright.hypotheses import symptoms

    number = symptoms.kinds().index("amplifier") + 1
    ticks = {"sound left": "b", "sound right": "g"}
    keys = "".join(f"{ticks.get(one, '')}\n" for one in symptoms.functions("amplifier"))
    told = probewright("job", "open", typed=f"{number}\n{keys}left is silent\nalways\nnobody\n\n")
    assert told.returncode == 0, told.stderr
    assert "Job 1: amplifier, left is silent" in told.stdout
    assert "First, before the lid comes off" in told.stdout
    assert "Next: " in told.stdout
    shown = json.loads(probewright("job", "show", "--json").stdout)
    assert shown["complaint"]["ticks"] == {"sound left": "bad", "sound right": "good"}


def test_nobody_there_to_answer_is_said(probewright: Run):
    told = probewright("job", "open")
    assert told.returncode == 2
    assert "options" in told.stderr
    assert "Traceback" not in told.stderr


def test_a_question_is_an_exit_code_and_the_line_is_kept(probewright: Run):
    probewright("job", "open", "--kind", "amplifier", "--bad", "sound left")
    told = probewright("reading", "add", "IC2 is dead")
    assert told.returncode == 2
    assert "seen" in told.stderr + told.stdout
    assert "? " in probewright("reading", "list").stdout


# Found by fresh eyes ---------------------------------------------------------------------------


def test_a_same_before_a_cure_stays_a_same_and_a_second_cure_waits_again():
    said = [swap("same"), swap("cured"), swap("back", kind="swap back"), swap("cured")]
    assert [one.answer for one in believed_swaps(said)] == ["same", "cured", "cured"]
    assert unreversed(said) == (said[3],)


def test_bytes_that_are_no_text_are_refused_and_harm_nothing(book: Book):
    case = opened(book)
    with pytest.raises(BadInput, match="not text"):
        bench.enter_line(book, case, "Q7 c \udcff 3 V", LATER)
    assert bench.find_case(book).lines == ()


def test_a_place_of_an_earlier_file_is_free_again_and_can_be_tied(book: Book):
    case = entered(book, opened(book), "left after preamp 0.52 Vpp")
    case = adding.tell_chain(book, case, "left, right: player > preamp > phones", LATER)
    assert "after-preampL" in case.known.names.values()
    assert [one.name for one in adding.propose_tie(case, BOARD, "board.yaml", {}).matches] == ["left after preamp"]
    with pytest.raises(BadInput, match="nothing was read"):
        adding.propose_tie(case, BOARD, "board.yaml", {"nonsense": "R31.1"})


def test_lines_on_standard_input(probewright: Run):
    probewright("job", "open", "--kind", "amplifier", "--bad", "sound left")
    assert probewright("reading", "add").returncode == 2, "no line at all"
    assert probewright("reading", "add", typed="IC2 is dead\nQ7 c 3 V\n").returncode == 2
    assert probewright("reading", "add", "-12 rail -11.8 V").returncode == 0


def test_a_closed_job_takes_nothing(book: Book):
    case = bench.close(book, opened(book), "outside", "", LATER)
    with pytest.raises(BadInput, match="reopen"):
        bench.enter_line(book, case, "Q7 c 3", LATER)
