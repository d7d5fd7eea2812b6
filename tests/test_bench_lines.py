"""Lines as people type them at the bench: understood, or asked about, and never silently misread."""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dividers import DIVIDERS
from probewright import machine
from probewright.machine.chains import read_chain
from probewright.readings import Question, Reading, Setup, echo
from probewright.readings.bench import Bench
from probewright.readings.hearing import Context, Heard, hear
from probewright.readings.tokens import named, table

CORPUS = Path(__file__).parent / "corpus"
# Share of lines with readings that is understood without asking. The goal is 0.85 on every hand. The
# fourth hand was first read when the parser stood (0.927 then); the other two, terser and sloppier, were
# looked at while mending it (0.62 and 0.63 at first sight) and still fall short of the goal.
UNDERSTOOD = {
    "bench-lines.tsv": 0.97,
    "other-hand.tsv": 0.75,
    "third-hand.tsv": 0.75,
    "fourth-hand.tsv": 0.92,
    "fifth-hand.tsv": 0.92,
}

BOARD = machine.read("""\
machine: Lamp dimmer with a buzzer
parts:
  SUP:  source 12V series 0.3R  SUP > GND
  GEN:  source 0V series 600R off 600R  IN > GND
  RV1:  potentiometer 10k  top=SUP wiper=FADE bottom=GND
  R1:   resistor 4k7  FADE > LAMP
  R2:   resistor 1k  SUP > COL
  C5:   capacitor 10u electrolytic  IN > LAMP
  Q7:   npn small-signal  c=COL b=LAMP e=OUT
  R9:   resistor 1k  OUT > GND
extras:
  lead: lead  OUT > SOCK
  bulb: load 10k  SOCK > GND
points:
  TP4: {at: R1.2, ease: easy}
stimuli:
  dark: {RV1: 0%}
  tone: {do: turn the buzzer on, GEN: sine 0.2V rms 1kHz}
works:
  left output: SOCK pp at tone; below 0.2V = silent; below 0.4V = much too quiet
""")
CHAIN = machine.read(
    read_chain(
        "left, right: head > preamp (x11) > equaliser > 4u7 > volume > driver > phones\n"
        "volume > line amp > line out\n"
        "preamp, equaliser on 12V\n"
    )
)
OFF = Setup(power="off")
ASKED = {"ohms": Question("ohms", "ASKED", setup=OFF), "beep": Question("beep", "ASKED", setup=OFF)}


# Contexts and expectations, as the corpus writes them ---------------------------------------------


def said(text: str) -> Reading:
    place, _, figure = text.rpartition(":")
    return Reading(Question("dc", place), float(figure), "h1")


def context(words: str) -> Context:
    """What the bench knows, from the second column."""
    here = Context()
    for word in words.split():
        key, _, value = word.partition("=")
        here = CONTEXTS[key](here, value)
    return here


CONTEXTS = {
    "free": lambda here, _: here,
    "off": lambda here, _: replace(here, bench=Bench(setup=OFF, power_said=True)),
    "on": lambda here, _: replace(here, bench=Bench(power_said=True)),
    "asked": lambda here, value: replace(here, asked=ASKED.get(value, Question(value, "ASKED"))),
    "supply": lambda here, value: replace(here, supplies=(float(value),)),
    "chain": lambda here, _: replace(here, machine=CHAIN),
    "board": lambda here, _: replace(here, machine=BOARD),
    "said": lambda here, value: replace(here, said=(said(value),)),
    "saidleft": lambda here, _: replace(here, said=(said("left preamp out:4.5"),)),
}


@dataclass(frozen=True)
class Expected:
    """One reading of the third column. black: "" when left out."""

    instrument: str
    red: str
    black: str
    answer: float | str
    bound: tuple[float, float] | None
    about: bool
    off: bool
    stimulus: str


def expected(text: str) -> tuple[list[Expected], list[str], str]:
    """Readings, remarks and the code of the question."""
    remarks = re.findall(r'"([^"]*)"', text)
    text = re.sub(r'"[^"]*"', "", text).strip()
    if text.startswith("?"):
        return [], remarks, text.split()[0].removeprefix("?")
    return [one_expected(part.strip()) for part in text.split("|") if part.strip()], remarks, ""


def one_expected(text: str) -> Expected:
    found = re.fullmatch(r"(\w+)\[(.+?)(?:\s*>\s*(.+?))?\]\s*=\s*(.+)", text)
    assert found, f"the corpus says {text!r}"
    rest, _, stimulus = found[4].partition("stim=")
    rest = f" {rest.strip()} "
    flags = {flag for flag in ("about", "off", "<", ">") if re.search(rf"\s{flag}(?=\s)|^\s*{flag}", rest)}
    for flag in flags:
        rest = re.sub(rf"(?<=\s){flag}(?=\s)|^\s*{flag}", " ", rest)
    answer, bound = figure(rest.strip(), flags)
    return Expected(
        found[1], found[2], found[3] or "", answer, bound, "about" in flags, "off" in flags, stimulus.strip()
    )


def figure(text: str, flags: set[str]) -> tuple[float | str, tuple[float, float] | None]:
    if ends := re.fullmatch(r"([-+\d.e]+?)\.\.([-+\d.e]+)", text):
        low, high = float(ends[1]), float(ends[2])
        return (low + high) / 2.0, (low, high)
    if text.upper() == "OL":
        return math.inf, None
    try:
        value = float(text)
    except ValueError:
        return text.casefold(), None
    if "<" in flags:
        return value, (-math.inf, value)
    return value, (value, math.inf) if ">" in flags else None


# Comparing, tolerant of how a place is written and never of what was read ----------------------------

DROPPED = ("the", "a", "an", "of", "at", "on", "pin", "pins", "leg", "channel", "across", "and")
FILLERS = ("is", "was", "looks", "looking", "very", "a", "the", "bit", "slightly", "of")


def place(text: str) -> tuple[str, ...]:
    """The words of a place in order of the alphabet; pins by their letters."""
    text = text.casefold().strip()
    text = re.sub(r"(\d)\s+v\b", r"\1v", text)
    text = re.sub(r"\+(?=\d)", "", text)
    text = re.sub(r"\+(?=\s|$)", " plus ", text)
    text = re.sub(r"(?<=[a-z\d])-(?=[a-z])", " ", text)
    pins = named("pin")
    words = [pins.get(word, word) for word in re.split(r"[\s./_]+", text) if word]
    return tuple(sorted(word for word in words if word not in DROPPED)) or (text,)


def both_ends(red: str, black: str) -> tuple[str, ...] | None:
    """The thing read across, when red and black are its two ends."""
    part, dot, _ = red.rpartition(".")
    ends = (red[-1:], black[-1:])
    if dot and black.rpartition(".")[0] == part and ends in (("1", "2"), ("2", "1"), ("a", "k"), ("k", "a")):
        return place(part if ends[0] in "1a" else f"{part} turned")  # the anode is pin 1
    return place(red) if black == f"{red} other end" else None


def same_places(want: Expected, got: Question) -> bool:
    black = want.black or "GND"
    across = both_ends(got.red, got.black)
    wanted = both_ends(want.red, want.black)
    if across is not None:
        return across == wanted or (not want.black and across == place(want.red))
    ground = ("gnd", "ground", "earth", "chassis")
    blacks = place(black) == place(got.black) or {black.casefold(), got.black.casefold()} <= set(ground)
    reds = place(want.red) == place(got.red) or {want.red.casefold(), got.red.casefold()} <= set(ground)
    return blacks and reds


def same_answer(want: Expected, got: Reading) -> bool:
    if isinstance(want.answer, str) and isinstance(got.answer, str):
        return want.answer == got.answer.casefold()
    if isinstance(want.answer, str) or isinstance(got.answer, str):
        return False
    same = want.answer == got.answer or math.isclose(want.answer, got.answer, rel_tol=1e-5, abs_tol=1e-15)
    bounds = (want.bound is None) == (got.bound is None)
    return (
        same
        and bounds
        and (
            want.bound is None
            or all(math.isclose(a, b) or a == b for a, b in zip(want.bound, got.bound or (), strict=True))
        )
    )


def same_look(want: Expected, got: Reading) -> bool:
    """Place and words of something seen, as one: where the place ends and the words begin is a matter of taste."""
    mine, theirs = (
        {word for word in (*place(red), *answer.casefold().split()) if word not in FILLERS}
        for red, answer in ((got.question.red, str(got.answer)), (want.red, str(want.answer)))
    )
    return mine <= theirs or theirs <= mine


def same_reading(want: Expected, got: Reading, heard: Heard, words: str) -> bool:
    ask = got.question
    if want.instrument == ask.instrument == "look":
        return same_look(want, got)
    stimulus = " ".join([ask.setup.stimulus, *heard.remarks]).casefold().replace(" ", "")
    power = (
        ask.setup.power == "off"
        if want.off
        else (ask.setup.power == "on" or "off" in words or ask.instrument not in ("dc", "pp", "rms", "share"))
    )
    return (
        want.instrument == ask.instrument
        and same_places(want, ask)
        and same_answer(want, got)
        and want.about == got.about
        and power
        and all(word.replace(" ", "") in stimulus for word in want.stimulus.casefold().split())
    )


def verdict(line: str, words: str, wanted: str) -> tuple[str, Heard]:
    """ "understood", "asked", "misread", or "lost" when a remark is gone; for a question "asked" is right."""
    heard = hear(line, context(words))
    readings, remarks, code = expected(wanted)
    if code or heard.doubts:
        return ("misread" if heard.readings else "asked"), heard
    left = list(heard.readings)
    for want in readings:
        match = next((one for one in left if same_reading(want, one, heard, words)), None)
        if match is None:
            return "misread", heard
        left.remove(match)
    if left:
        return "misread", heard
    return ("lost" if remarks and not heard.remarks else "understood"), heard


def lines(file: Path) -> list[tuple[str, str, str]]:
    rows = csv.reader(file.read_text("utf-8").splitlines(), delimiter="\t", quoting=csv.QUOTE_NONE)
    return [
        (row[0], row[1] or "free", row[2] if len(row) > 2 else "") for row in rows if row and not row[0].startswith("#")
    ]


def weighed(file: Path) -> tuple[Counter[str], list[str]]:
    """How many lines of a file came out how, and those that came out wrong."""
    count: Counter[str] = Counter()
    wrong = []
    for line, words, wanted in lines(file):
        came, heard = verdict(line, words, wanted)
        kind = "question" if wanted.startswith("?") else "readings"
        count[f"{kind} {came}"] += 1
        if came in ("misread", "lost") or (kind == "readings" and came == "asked"):
            told = [echo.say(one, context(words).machine) for one in heard.readings] or [
                f"?{one.code} {one.text}" for one in heard.doubts
            ]
            wrong.append(f"{came}: {line!r} ({words}) should be {wanted}, and is {told}")
    return count, wrong


OWN = lines(CORPUS / "bench-lines.tsv")


@pytest.mark.parametrize(("file", "least"), UNDERSTOOD.items())
def test_no_line_is_silently_misread_and_most_are_understood(file, least):
    count, wrong = weighed(CORPUS / file)
    with_readings = sum(number for kind, number in count.items() if kind.startswith("readings"))
    share = count["readings understood"] / with_readings
    misread = count["readings misread"] + count["question misread"]
    print(
        f"\n{file}: {sum(count.values())} lines, {misread} silently misread, {share:.1%} of {with_readings} understood"
    )
    print(*wrong, sep="\n")
    assert misread == 0, "\n".join(one for one in wrong if one.startswith("misread"))
    assert share >= least


def test_the_corpus_is_large_enough():
    assert len(OWN) >= 260 and len({line for line, words, _ in OWN if words == "free"}) >= 200


@pytest.mark.parametrize(("line", "words", "wanted"), OWN, ids=[f"{row[0]} ({row[1]})" for row in OWN])
def test_each_line_of_the_corpus(line, words, wanted):
    came, heard = verdict(line, words, wanted)
    _, _, code = expected(wanted)
    if code:
        assert not heard.readings and [one.code for one in heard.doubts] == [code]
        return
    assert came in ("understood", "asked"), [*map(str, heard.readings), *map(str, heard.doubts)]


# Doubts and echoes --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "words"), [row[:2] for row in OWN if row[2].startswith("?")], ids=lambda row: str(row)
)
def test_every_doubt_says_what_to_write_and_where(line, words):
    for doubt in hear(line, context(words)).doubts:
        assert doubt.text and doubt.mend and 1 <= doubt.column <= len(line) + 1


@pytest.mark.parametrize(
    ("line", "words"),
    [row[:2] for row in OWN if row[2][:1] not in ("", "?") and "asked" not in row[1]],
    ids=lambda row: str(row),
)
def test_a_reading_said_back_is_heard_the_same(line, words):
    here = context(words)
    for one in hear(line, here).readings:
        again = hear(echo.say(one, here.machine), replace(here, asked=None, said=()))
        assert [(each.question, each.answer, each.about, each.bound) for each in again.readings] == [
            (one.question, one.answer, one.about, one.bound)
        ], again


def test_what_is_taken_for_granted_is_said():
    assert "taken for granted: volts dc, no unit was said" in hear("Q7 c 11.8", Context()).echo
    assert any("power off" in one for one in hear("R5 4k7", Context()).echo)
    assert not any("granted" in one for one in hear("power off: Q7 c 0.1 V", Context()).echo)


def test_an_in_place_reading_below_the_mark_says_little_and_above_it_much():
    assert "says little" in hear("R22 320 ohm", Context(marked={"R22": (470.0, "ohm")})).echo[-1]
    assert "nothing beside it" in hear("R22 900 ohm", Context(marked={"R22": (470.0, "ohm")})).echo[-1]
    lifted = hear("R22 one leg lifted 320 ohm", Context(marked={"R22": (470.0, "ohm")}))
    assert not any("says little" in one for one in lifted.echo)
    assert "says little" in hear("R1 3k9", Context(machine=BOARD)).echo[-1]


def test_a_mark_is_remembered():
    first = hear("R5 (4k7) 4.65k", Context())
    assert first.marked == {"R5": (4700.0, "ohm")}
    assert "says little" in hear("R5 3k9", Context(marked=first.marked)).echo[-1]


def test_what_can_be_insisted_on_is_taken_when_the_person_is_sure():
    for line, here in (("TP1 40 V", Context(supplies=(12.0,))), ("2.5 V on the clock line", Context()),
                       ("TP1 650 V", Context(said=(said("TP1:0.65"),)))):  # fmt: skip
        (doubt,) = hear(line, here).doubts
        assert doubt.can_insist and not hear(line, here).readings
        assert len(hear(line, replace(here, sure=True)).readings) == 1
    assert hear("IC2 is dead", Context(sure=True)).doubts


def test_a_line_with_a_doubt_counts_for_nothing():
    heard = hear("U2 pin 8 5 V, pin 9 60 V", Context(supplies=(12.0,)))
    assert not heard.readings and heard.bench == Bench()
    assert "U2.8 to ground: 5 V DC" in heard.echo[0]


def test_power_and_set_up_move_the_bench():
    off = hear("power off", Context()).bench
    assert off.setup == OFF and off.power_said
    assert hear("R5 4700", Context(bench=off)).readings[0].question.setup == OFF
    on = hear("set-up: power on", Context()).bench
    assert hear("R5 4k7", Context(bench=on)).doubts[0].code == "ohms-live"
    assert hear("set-up: off, lift R31.2, link A to B", Context()).bench.setup == Setup(
        "off", "", ("R31.2",), (), (("A", "B"),)
    )


@pytest.mark.parametrize(
    ("typed", "red", "black", "value"),
    [
        ("D1 diode 0.52 V", "D1.1", "D1.2", 0.52),
        ("D1 diode: .52", "D1.1", "D1.2", 0.52),
        ("D1 diode OL", "D1.1", "D1.2", math.inf),
        ("D1.a to D1.k diode 0.61 V", "D1.a", "D1.k", 0.61),
        ("Q3 b-e diode 0.65", "Q3.b", "Q3.e", 0.65),
        ("VRAM diode 0.48 V", "VRAM", "GND", 0.48),
        ("VCC diode 0.48 V", "vcc", "GND", 0.48),
        ("vdd diode: .41", "vdd", "GND", 0.41),
        ("B+ diode OL", "b+", "GND", math.inf),
        ("R1 diode 0.7 V", "R1.1", "R1.2", 0.7),
    ],
)
def test_diode_behind_a_place_is_the_range_and_is_read_with_the_power_off(typed: str, red: str, black: str, value):
    heard = hear(typed, Context())
    (one,) = heard.readings
    assert (one.question, one.answer) == (Question("diode", red, black, OFF), value)
    assert any("power off, for that is how the diode range is read" in each for each in heard.echo)
    off = hear(typed, Context(bench=Bench(setup=OFF, power_said=True)))
    assert off.readings[0].question == one.question and not any("taken for granted" in each for each in off.echo)
    (doubt,) = hear(typed, Context(bench=Bench(power_said=True))).doubts
    assert doubt.code == "ohms-live" and doubt.text.startswith("figures of the diode range with power on")


@pytest.mark.parametrize(
    ("line", "asks"),
    [
        ("red on D1 a, black on D1 k: 0.6 V diode", ("diode", "D1.a", "D1.k", 0.6)),
        ("black on D1 cathode, red on D1 anode 0.58 V diode", ("diode", "D1.a", "D1.k", 0.58)),
        ("Black probe on Q1.e, red on Q1.b: 0.61 V diode", ("diode", "Q1.b", "Q1.e", 0.61)),
        ("black on Q1 e, red on Q1 b: OL on the diode range", ("diode", "Q1.b", "Q1.e", math.inf)),
        ("black on GND, red on OUT2 5.2 V", ("dc", "OUT2", "GND", 5.2)),
        ("black on R4.1 and red on R4.2: 3k3", ("ohms", "R4.2", "R4.1", 3300.0)),
        ("black lead on GND, red lead on R4.1: beeps", ("beep", "R4.1", "GND", "beeps")),
        ("red on Q1 collector 5.1 V", ("dc", "Q1.c", "GND", 5.1)),
    ],
)
def test_leads_are_told_by_their_colour_in_either_order(line: str, asks: tuple[object, ...]) -> None:
    """As the card names them: black first."""
    (one,) = hear(line, Context()).readings
    assert (one.question.instrument, one.question.red, one.question.black, one.answer) == asks


def test_two_leads_of_one_colour_are_no_pair() -> None:
    assert not hear("red on Q1 b, red on Q1 e 0.6 V", Context()).readings


WITH_IDLE = machine.read(DIVIDERS)
WITH_WAVE = machine.read(DIVIDERS.replace("{do: switch it on}", "{do: put a tone on, SUPPLY: sine 1V rms 1kHz}"))


@pytest.mark.parametrize("behind", [" with idle", ", idle", " with the idle on", " during idle", " at idle", ", Idle"])
@pytest.mark.parametrize("line", ["MID 5.6 V", "MID 5.6 V, OUT 3.8 V", "R1.2 5.6 V, OUT 3.8 V"])
def test_a_stimulus_of_the_file_behind_readings_was_on_for_them_alone(line: str, behind: str) -> None:
    bare, heard = hear(line, Context(machine=WITH_IDLE)), hear(line + behind, Context(machine=WITH_IDLE))
    assert {one.question.setup.stimulus for one in heard.readings} == {"idle"} and not heard.remarks
    assert [(one.question.red, one.answer) for one in heard.readings] == [
        (one.question.red, one.answer) for one in bare.readings
    ]
    assert heard.bench.setup == Setup() and {one.text for one in heard.readings} == {line + behind}


def test_power_and_a_stimulus_of_the_file_are_a_set_up() -> None:
    stood = Bench(Setup(power="off", lifted=("R3.1",)))
    heard = hear("power on, idle", Context(machine=WITH_IDLE, bench=stood))
    assert heard.bench.setup == Setup(stimulus="idle", lifted=("R3.1",)) and not heard.doubts
    assert hear("power on, lift R4.1", Context(machine=WITH_IDLE)).doubts  # iron is asked for in so many words
    (doubt,) = hear("idle", Context(machine=WITH_IDLE)).doubts
    assert "set-up: power on, idle" in doubt.mend


@pytest.mark.parametrize(
    "line", ["output still low", "the output is still low", "Output still bad", "speech still bad"]
)
def test_what_is_still_so_is_so(line: str) -> None:
    (one,) = hear(line, Context(machine=WITH_IDLE, functions=("speech",))).readings
    assert one.question.instrument == "works" and one.answer in ("low", "bad")


@pytest.mark.parametrize("line", ["still dead", "it's still silent", "Still humming."])
def test_what_is_still_wrong_is_asked_for_by_name(line: str) -> None:
    (doubt,) = hear(line, Context(functions=("sound",))).doubts
    assert doubt.text == "what is still bad?" and "`sound bad`" in doubt.mend


@pytest.mark.parametrize(
    "line",
    ["MID rail 5.6 V", "the MID rail is 5.6", "MID line 5.6 V", "net MID 5.6", "the node MID: 5.6 V", "MID bus 5.6"],
)
def test_a_net_of_the_file_may_be_called_what_it_is(line: str) -> None:
    (one,) = hear(line, Context(machine=WITH_IDLE)).readings
    assert (one.question, one.answer) == (Question("dc", "MID"), 5.6)
    assert hear("rail 5 V", Context(machine=WITH_IDLE)).doubts[0].code == "place"


@pytest.mark.parametrize(
    "line",
    [
        "hum on MID 50mV", "noise on the MID 5 mV", "MID ripple 50 mV", "ripple of 50 mV on MID", "50 mV of hum on MID",
        "signal at MID 5mV", "MID signal 5 mV", "MID 5.6 V, 0.2 V of ripple",
    ],
)  # fmt: skip
def test_volts_of_what_swings_are_no_direct_ones(line: str) -> None:
    for file in (WITH_IDLE, None):
        (doubt,) = hear(line, Context(machine=file)).doubts
        assert doubt.code == "unit" and "rms or peak to peak" in doubt.text, line


def test_what_says_its_kind_or_only_sounds_so_is_read() -> None:
    for line, kind in (("hum on MID 50 mV rms", "rms"), ("MID ripple 0.2 Vpp", "pp"), ("MID signal is 5 mV dc", "dc")):
        assert hear(line, Context()).readings[0].question.instrument == kind, line
    named = machine.read(DIVIDERS.replace("MID", "SIGNAL"))
    assert hear("SIGNAL 5.6 V", Context(machine=named)).readings[0].question == Question("dc", "SIGNAL")


@pytest.mark.parametrize(
    "behind", [" ripple 0.2 Vpp", ", ripple 0.2 Vpp", " and ripple of 0.2Vpp", " dc, 0.2 Vpp", " with 200 mVpp of hum", " 0.2 V pp ripple"]
)  # fmt: skip
def test_what_swings_on_a_rail_is_read_at_the_same_place(behind: str) -> None:
    for line, file in ((f"TP4 5.6 V{behind}", None), (f"MID 5.6 V{behind}", WITH_WAVE)):
        two = hear(line, Context(machine=file)).readings
        assert [(one.question.instrument, one.question.red, one.answer) for one in two] == [
            ("dc", line[:3], 5.6), ("pp", line[:3], 0.2)
        ]  # fmt: skip
        assert {one.text for one in two} == {line}
    assert [one.question.red for one in hear("TP4 2.6 V, TP5 0.2 Vpp", Context()).readings] == ["TP4", "TP5"]


@pytest.mark.parametrize("line", ["VCC ok", "VCC is good", "the 12V rail is fine", "battery ok"])
def test_a_rail_that_is_good_is_asked_for_its_volts(line: str) -> None:
    (doubt,) = hear(line, Context()).doubts
    assert doubt.text.endswith("how many volts?")
    assert hear("line out ok", Context()).readings[0].question.instrument == "share"


@pytest.mark.parametrize(
    ("line", "asks"),
    [
        ("continuity between VCC and RAW", ("beep", "beeps", ())),
        ("there is continuity from J1.2 to Q1 c", ("beep", "beeps", ())),
        ("no continuity R1.2 to Q1 c", ("beep", "no beep", ())),
        ("desoldered R2: 101k", ("ohms", 101e3, ("R2.1",))),
        ("R2 lifted reads 101k", ("ohms", 101e3, ("R2.1",))),
        ("lifted R2, 101k", ("ohms", 101e3, ("R2.1",))),
    ],
)
def test_continuity_and_a_part_that_is_out_as_they_are_noted(line: str, asks: tuple[object, ...]) -> None:
    (one,) = hear(line, Context()).readings
    assert (one.question.instrument, one.answer, one.question.setup.lifted) == asks
    assert hear("lifted C1, VCC 9 V", Context()).doubts


def test_a_net_that_only_looks_like_a_part_is_a_net() -> None:
    looks = machine.read(DIVIDERS.replace("MID", "C1N").replace("OUT", "B1"))
    said = hear("C1N=5.6V B1=3.8V", Context(machine=looks)).readings
    assert [(one.question.red, one.answer) for one in said] == [("C1N", 5.6), ("B1", 3.8)]
    assert hear("got 5.6 at C1N", Context(machine=looks)).readings[0].question == Question("dc", "C1N")
    both = machine.read(DIVIDERS.replace("MID", "R1N"))
    assert hear("R1 5.6 V", Context(machine=both)).doubts[0].code == "place"  # the part, and which end?


@pytest.mark.parametrize("line", ["R14 16k8 F", "OUT 2.6 Ohm V", "TP4 2.6 V mV", "TP4 1 kHz V"])
def test_two_units_on_one_figure_are_asked_back(line: str) -> None:
    heard = hear(line, Context())
    assert not heard.readings and [one.code for one in heard.doubts] == ["unit"]
    assert heard.doubts[0].text.endswith("which unit?")


@pytest.mark.parametrize(("line", "value"), [("R5 4k7 ohm", 4700.0), ("C5 4.7u F", 4.7e-6), ("TP4 2.6 V V", 2.6)])
def test_a_unit_said_twice_is_one_unit(line: str, value: float) -> None:
    (one,) = hear(line, Context()).readings
    assert one.answer == pytest.approx(value)


def test_diode_that_is_no_range_stays_what_it_was():
    assert hear("D1 diode cathode 12 V", Context()).readings[0].question.instrument == "dc"
    assert hear("rectifier diode 0.55 V", Context()).readings[0].question.red == "rectifier diode"
    assert hear("D1 diode 12 V", Context()).doubts[0].text == "'12 V' on the diode range?"
    assert hear("D1 diode 0.52 V", Context(machine=BOARD)).doubts[0].code == "place"
    of_the_file = hear("R1 diode 0.55 V", Context(machine=BOARD)).readings[0].question
    assert of_the_file == Question("diode", "R1.1", "R1.2", OFF)


def test_hook_ups_and_sittings_are_counted():
    heard = hear("U2 pin 8 5 V, pin 9 4 V\nU2 pin 9 4.1 V; same hook-up; not showing\nR5 4k7", Context())
    assert [one.hookup for one in heard.readings] == ["h1", "h2", "h2", "h3"]
    assert [one.sitting for one in heard.readings] == [0, 0, 0, 1]
    assert [one.showing for one in heard.readings] == ["yes", "yes", "no", "yes"]


def test_tests_of_a_table_are_answered_by_their_words():
    here = Context(tests={"lead": ("same", "picture comes back")}, asked=Question("test", "lead"))
    assert hear("picture comes back", here).readings[0].answer == "picture comes back"
    assert hear("lead: same", replace(here, asked=None)).readings[0].question == Question("test", "lead")
    assert hear("lead: hoho", replace(here, asked=None)).doubts[0].code == "unclear"


def test_names_of_this_bench_are_found():
    here = Context(functions=("sound left", "picture"), extras=("mains lead", "video lead"))
    assert hear("left sound half", here).readings[0].question.red == "sound left"
    assert hear("swapped the mains lead, same", here).readings[0].question.red == "mains lead"
    assert hear("swapped the lead, same", here).doubts[0].code == "place"
    old = hear("old lead back: fault back", Context(extras=("lead",))).readings[0]
    assert (old.question.instrument, old.answer) == ("swap back", "back")


@pytest.mark.parametrize(
    "line",
    ["adaptor back: dead again", "old adaptor put back: fault back", "put the old adaptor back: no picture again",
     "adaptor plugged back in, fault came back"],
)  # fmt: skip
def test_the_old_one_put_back_is_understood_as_people_say_it(line: str):
    heard = hear(line, Context(extras=("adaptor", "mains lead")))
    assert [(one.question.instrument, one.question.red, one.answer) for one in heard.readings] == [
        ("swap back", "adaptor", "back")
    ]
    assert not heard.remarks  # no word is left over


def test_only_what_can_be_exchanged_is_put_back():
    assert not hear("U3 back: dead again", Context(extras=("adaptor",))).readings
    assert not hear("adaptor back: 12 V", Context(extras=("adaptor",))).readings


# Laws ---------------------------------------------------------------------------------------------

PIECES = [
    *(row[0] for row in OWN),
    ",",
    ";",
    "(",
    ")",
    "+",
    "-",
    "to",
    "and",
    "between",
    "of",
    "<",
    "about",
    "#",
    ":",
    "\n",
]


@given(st.lists(st.sampled_from(PIECES).flatmap(lambda one: st.sampled_from([one, *one.split()])), max_size=7),
       st.sampled_from([" ", "", ", "]), st.text(max_size=4), st.sampled_from(["free", "board", "chain", "off", "asked=dc"]))  # fmt: skip
def test_any_text_gives_readings_or_doubts_and_never_raises(pieces, between, noise, words):
    text = between.join([*pieces, noise])
    heard = hear(text, context(words))
    assert not (heard.readings and heard.doubts)
    assert heard.readings or heard.doubts or heard.echo or heard.remarks
    assert all(echo.say(one, context(words).machine) for one in heard.readings)


@given(st.text(max_size=60))
def test_no_text_at_all_raises(text):
    hear(text, Context())


@given(st.integers(-9999, 9999), st.sampled_from([("V", 1.0), ("mV", 1e-3), ("v", 1.0)]), st.sampled_from([".", ","]))
def test_a_figure_comes_back_as_it_was_typed(hundredths, unit, point):
    typed = f"{hundredths / 100:.2f}".replace(".", point)
    (one,) = hear(f"Q7 c {typed}{unit[0]}", Context()).readings
    assert one.answer == pytest.approx(hundredths / 100 * unit[1], rel=1e-12, abs=1e-15)


def test_each_phrase_stands_in_the_table_once():
    text = (Path(echo.__file__).parent / "data" / "bench-words.csv").read_text("utf-8")
    apart = ("unit", "signal", "two ends", "part kind", "position")
    phrases = [
        one for row in csv.DictReader(text.splitlines()) if row["use"] not in apart for one in row["words"].split("|")
    ]
    assert [one for one, times in Counter(phrases).items() if times > 1] == []
    assert len(table()) > 500


@pytest.mark.parametrize(
    ("line", "place", "answer"),
    [
        ("C14 minus 3.2 V", "C14.minus", 3.2),  # the pin
        ("IC8 pin 2 minus 0,4 V", "IC8.2", -0.4),  # the sign
    ],
)
def test_minus_is_a_pin_behind_a_part_and_a_sign_behind_a_numbered_pin(line, place, answer):
    (one,) = hear(line, Context()).readings
    assert (one.question.red, one.answer) == (place, answer)


def test_minus_behind_a_battery_is_never_taken_for_a_sign():
    assert not any(one.answer == -0.1 for one in hear("battery minus 0.1 V", Context()).readings)


def test_fast_forward_is_no_forward_drop():
    (one,) = hear("side 2 fast forward bad", Context(functions=("side 2 fast forward",))).readings
    assert (one.question.instrument, one.question.red, one.answer) == ("works", "side 2 fast forward", "bad")


@pytest.mark.parametrize("line", ["Q21 c/b/e 8.1/1.3/0.66 and then it went bang", "x"])
def test_a_doubt_points_into_the_line_as_typed(line):
    for doubt in hear(line, Context()).doubts:
        assert 1 <= doubt.column <= len(line) + 1


@pytest.mark.parametrize(
    "text", ["output low", "output: low", "Output is low", "power on: output low", "the output is low"]
)
def test_a_word_that_the_file_has_for_a_function_needs_no_colon(text: str) -> None:
    heard = hear(text, Context(machine=machine.read(DIVIDERS)))
    assert [(one.question.instrument, one.question.red, one.answer) for one in heard.readings] == [
        ("works", "output", "low")
    ]


def test_a_whole_set_up_may_stand_before_a_colon() -> None:
    where = machine.read(DIVIDERS)
    heard = hear("power on, idle: MID 5.6 V; not showing", Context(machine=where, bench=Bench(Setup(power="off"))))
    (one,) = heard.readings
    setup = one.question.setup
    assert (one.question.red, one.answer, setup.power, setup.stimulus) == ("MID", 5.6, "on", "idle")
    assert one.showing == "no" and heard.bench.setup.power == "off"


@pytest.mark.parametrize("file", [machine.read(DIVIDERS), None])
@pytest.mark.parametrize("power", ["on", "off"])
def test_power_alone_before_a_colon_leaves_the_rest_as_it_stands(file: machine.Machine | None, power: str) -> None:
    """A leg that is lifted stays so, with a machine file as without one; the bench keeps its own power."""
    bench = Bench(Setup(power="on", lifted=("R3.2",)))
    heard = hear(f"power {power}: {'R1 10k' if power == 'off' else 'R1.1 5 V'}", Context(machine=file, bench=bench))
    (one,) = heard.readings
    assert (one.question.setup.power, one.question.setup.lifted) == (power, ("R3.2",))
    assert heard.bench.setup == bench.setup and heard.bench.power_said == (power == "on")


@pytest.mark.parametrize("machine", [None, BOARD])
@pytest.mark.parametrize(
    ("line", "kept"),
    [
        ("power off: resoldered R1.1", ((), ("R1.1",), (), ("R1.1",), ())),
        ("power off: fitted a new R1", (("R1",), (), ("R1",), (), ())),
        ("fitted a new R1, power off", (("R1",), (), ("R1",), (), ())),
        ("power off: heatsink of Q7 off", ((), (), (), (), (("Q7", 0.0),))),
    ],
)
def test_work_said_with_its_power_is_kept_and_the_power_stands_as_before(machine, line: str, kept: tuple) -> None:
    bench = hear(line, Context(machine=machine)).bench
    setup = bench.setup
    assert (bench.fitted, bench.mended, setup.replaced, setup.mended, setup.bare) == kept
    assert setup.power == "on" and bench.disturbed


@pytest.mark.parametrize(
    ("line", "fitted", "mended", "came"),
    [
        ("replaced C5, still dead", ("C5",), (), "still dead"),
        ("fitted a new C5: works now", ("C5",), (), "works now"),
        ("C5 new, ok now", ("C5",), (), "ok now"),
        ("replaced R1 and C5 - no difference", ("C5", "R1"), (), "no difference"),
        ("resoldered C5.1 no change", (), ("C5.1",), "no change"),
    ],
)
def test_what_came_of_a_repair_is_no_part_of_its_name_and_is_asked(line: str, fitted, mended, came: str) -> None:
    heard = hear(line, Context(machine=BOARD))
    assert (heard.bench.fitted, heard.bench.mended) == (fitted, mended) and not heard.doubts and not heard.readings
    assert f"`{came}`: say of each function how it is now, as `sound ok` or `sound bad`" in heard.echo


@pytest.mark.parametrize("line", ["replaced C5, still smokes", "replaced C5, still 4.2 V on SUP"])
def test_what_is_seen_or_read_behind_a_repair_is_asked_and_not_swallowed(line: str) -> None:
    heard = hear(line, Context(machine=BOARD))
    assert heard.doubts and not heard.bench.fitted


def test_an_old_part_put_back_with_its_power_said_is_in_again() -> None:
    fitted = hear("fitted a new R1", Context(machine=BOARD)).bench
    bench = hear("power off: put the old R1 back", Context(machine=BOARD, bench=fitted)).bench
    assert not bench.fitted and not bench.setup.replaced
