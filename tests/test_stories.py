"""Whole repairs, end to end: recorded readings in, the planted fault out, nobody hurt on the way."""

from __future__ import annotations

import json
from collections.abc import Callable
from math import log
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from probewright import jobs, machine
from probewright.jobs.telling import decide
from probewright.jobs.view import JobView, plain
from probewright.planning.danger import caution
from probewright.readings import Question, Setup
from probewright.readings.lines import read_readings
from probewright.simulation.meters import Shown

DEMOS = ("lm-2", "ds-3")
FINDINGS = ["located", "undecided", "unexplained", "outside", "not_shown", "healthy"]


def things(**keys: object) -> dict[str, object]:
    """Schema of an object with exactly these keys at least."""
    return {"type": "object", "required": list(keys), "properties": keys}


def many(item: object) -> dict[str, object]:
    return {"type": "array", "items": item}


WORD, FIGURE, WHOLE, YES_NO = {"type": "string"}, {"type": "number"}, {"type": "integer"}, {"type": "boolean"}
CHANCE = {"type": "number", "minimum": 0.0, "maximum": 1.0 + 1e-9}
MAYBE_WORD, MAYBE_FIGURE, MAYBE_WHOLE = ({"type": [one, "null"]} for one in ("string", "number", "integer"))
READS = {"type": ["number", "string"]}  # OL is a word
LOCATE = things(
    schema=WORD,
    finding={"enum": FINDINGS},
    rough=YES_NO,
    suspects=many(things(
        id=WORD, **{"class": WHOLE}, probability=CHANCE, prior=CHANCE,
        faults=many(things(item=WORD, mode=WORD, severity=MAYBE_FIGURE, since=MAYBE_WHOLE)),
        comes_and_goes=YES_NO, stranger=YES_NO,
        evidence=many(things(reading=WHOLE, nats=FIGURE, says=WORD)),
    )),
    classes=many(things(id=WHOLE, probability=CHANCE, members=many(WORD), split_by=MAYBE_WORD, beyond=MAYBE_WORD)),
    actions=many(things(
        kind={"enum": ["reading", "swap", "repair"]}, group=WHOLE, where=WORD, instrument=WORD, setup=WORD,
        minutes={"type": "number", "exclusiveMinimum": 0.0}, live=YES_NO,
        healthy={"anyOf": [things(low=READS, high=READS, unit=WORD), things(word=WORD)]},
        why=WORD, outcomes=many(things(**{"if": WORD}, chance=CHANCE, raises=many(WORD))), caution=MAYBE_WORD,
    )),
    surprises=many(things(reading=WHOLE, tail=CHANCE, advice=WORD)),
    quality=things(effective_draws=FIGURE, unjudged=CHANCE), left_alone=many(WORD),
)  # fmt: skip
CHECK = things(
    schema=WORD, sections=many(WORD), parts=many(WORD), nets=many(WORD), places=many(WORD), suspects=WHOLE, assumed=many(WORD),
    warnings=many(things(line=WHOLE, column=WHOLE, text=WORD, mend=WORD)),
)  # fmt: skip
EXPECT = things(schema=WORD, rows=many(things(place=WORD, kind=WORD, low=READS, mid=READS, high=READS, unit=WORD)))
ERRORS = things(errors={**many(things(file=WORD, line=WHOLE, column=WHOLE, text=WORD, mend=WORD)), "minItems": 1})

HIGH = """\
machine: Small set with a 100 V rail
extras:
  SUPPLY: source 100V 2% series 100R           HT > GND
  GEN: source 0V series 600R                   SIG > GND
known good: [GEN]
parts:
  R1: resistor 100k                            HT > MID
  R2: resistor 100k                            MID > GND
  R3: resistor 470k                            HT > LOW
  R4: resistor 10k                             LOW > GND
  R5: resistor 10k                             LOW > TAP
  R6: resistor 10k                             TAP > GND
  C1: capacitor 10u 20% film                   TAP > SIG
stimuli:
  tone: {do: feed the 1 kHz tone, GEN: sine 0.1V rms 1kHz}
works:
  level: TAP level at tone; below 70% of healthy = weak
never live: [NEVER]
"""


@pytest.fixture(scope="module")
def stories(demo_folder: Path) -> dict[str, tuple[jobs.Search, JobView]]:
    """Each demo with its recorded readings entered at once."""
    found = {}
    for name in DEMOS:
        loaded = machine.load(demo_folder / f"fernside-{name}.yaml")
        said = read_readings((demo_folder / f"fernside-{name}.readings").read_text("utf-8"), loaded)
        job = jobs.enter_readings(jobs.open_search(loaded), said)
        found[name] = job, jobs.look(job)
    return found


@pytest.fixture(scope="module")
def planted(demo_folder: Path) -> Any:
    return json.loads((demo_folder / "planted.json").read_text("utf-8"))


# Two repairs -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DEMOS)
def test_the_planted_part_is_located(stories: dict[str, tuple[jobs.Search, JobView]], planted: Any, name: str) -> None:
    _, view = stories[name]
    assert view.finding == "located"
    assert not view.rough
    leading = view.classes[0]
    assert leading.probability > 0.9
    first = view.suspects[0]
    assert first.id in leading.members
    assert {fault.item for fault in first.faults} == {planted[name]["faults"][0]["item"]}
    items = {fault.item.split(".")[0] for s in view.suspects if s.id in leading.members for fault in s.faults}
    assert items == {planted[name]["faults"][0]["item"]}


@pytest.mark.parametrize("name", DEMOS)
def test_the_cure_comes_first_once_it_is_located(
    stories: dict[str, tuple[jobs.Search, JobView]], planted: Any, name: str
) -> None:
    action = stories[name][1].actions[0]
    assert action.kind == "repair"
    assert action.where == planted[name]["faults"][0]["item"]
    assert action.minutes > 0.0


@pytest.mark.parametrize("name", DEMOS)
def test_what_is_shown_of_each_suspect_adds_up(stories: dict[str, tuple[jobs.Search, JobView]], name: str) -> None:
    job, view = stories[name]
    for suspect in view.suspects:
        assert len(suspect.evidence) == len(job.readings)
        if 1e-4 < suspect.probability < 1.0 - 1e-6:
            prior = log(suspect.prior / (1.0 - suspect.prior))
            posterior = log(suspect.probability / (1.0 - suspect.probability))
            assert prior + sum(one.nats for one in suspect.evidence) == pytest.approx(posterior, abs=1e-5)
    assert sum(one.probability for one in view.classes) == pytest.approx(1.0, abs=1e-6)


def test_the_figure_on_the_wrong_range_was_caught(stories: dict[str, tuple[jobs.Search, JobView]]) -> None:
    job, view = stories["lm-2"]
    assert len(view.surprises) == 1
    assert "DRVL" in job.readings[view.surprises[0].reading - 1].text
    assert "1.09 mVpp" in job.readings[view.surprises[0].reading - 1].text
    assert view.surprises[0].advice.startswith("Measured again")


# Nobody hurt -----------------------------------------------------------------------------------


def high(never: str) -> jobs.Search:
    return jobs.open_search(machine.read(HIGH.replace("[NEVER]", never), "high.yaml"))


@pytest.mark.parametrize("never", ["[TAP]", "[R6.1]"])
@pytest.mark.parametrize("lines", ["level: weak", "level: weak\nHT 99 V\nLOW 1.1 V"])
def test_a_place_that_is_never_live_is_never_proposed(never: str, lines: str) -> None:
    def proposed(job: jobs.Search) -> set[str]:
        entered = jobs.enter_readings(job, read_readings(lines, job.machine))
        _, _, _, choices = decide(entered.belief)
        asks = [c.action.ask for c in choices if c.action.ask is not None and c.action.kind == "reading"]
        live = [ask for ask in asks if ask.setup.power == "on"]
        return {entered.machine.net_of(place) for ask in live for place in (ask.red, ask.black)}

    assert "TAP" in proposed(high("[]"))
    assert "TAP" not in proposed(high(never))


@pytest.mark.parametrize("lines", ["level: weak", "level: weak\nTAP 0.6 V"])
def test_places_above_sixty_volts_carry_the_caution(lines: str) -> None:
    entered = high("[]")
    entered = jobs.enter_readings(entered, read_readings(lines, entered.machine))
    _, _, _, choices = decide(entered.belief)
    asks = [c.action.ask for c in choices if c.action.ask is not None and c.action.kind == "reading"]
    seen = set()
    for ask in asks:
        warned = caution(entered.belief, ask)
        if ask.setup.power == "off":
            assert warned is None
        elif ask.red == "HT":
            assert warned is not None and warned.volts > 60.0 and "Caution" in str(warned)
            seen.add("HT")
        elif ask.red == "SIG":
            seen.add("SIG")
    assert "HT" in seen
    view = jobs.look(entered)
    for action in view.actions:
        if action.live and action.where == "HT":
            assert action.caution is not None


def test_a_fault_that_can_put_the_rail_on_a_low_place_counts() -> None:
    """MID reads 50 V healthy, 100 V with R2 open: it carries the caution as long as R2 may be open."""
    job = high("[]")
    warned = caution(job.belief, Question("dc", "MID", setup=Setup()))
    assert warned is not None and warned.volts > 95.0


def test_harmless_machines_carry_no_caution(stories: dict[str, tuple[jobs.Search, JobView]]) -> None:
    assert all(action.caution is None for _, view in stories.values() for action in view.actions)


# The command -----------------------------------------------------------------------------------

Run = Callable[..., Any]


@pytest.mark.parametrize("name", DEMOS)
def test_locate_writes_json_and_leaves_with_nought(
    probewright: Run, demo_folder: Path, stories: dict[str, tuple[jobs.Search, JobView]], name: str
) -> None:
    done = probewright(
        "locate", demo_folder / f"fernside-{name}.yaml", demo_folder / f"fernside-{name}.readings", "--json"
    )
    assert (done.returncode, done.stderr) == (0, "")
    written = json.loads(done.stdout)
    jsonschema.validate(written, LOCATE)
    assert written == json.loads(json.dumps(plain(stories[name][1])))
    ids = [suspect["id"] for suspect in written["suspects"]]
    assert len(ids) == len(set(ids))


def test_an_undecided_job_leaves_with_three(probewright: Run, demo_folder: Path, tmp_path: Path) -> None:
    taken = tmp_path / "taken.readings"
    taken.write_text("set-up: power on, voice\nspeech: weak\n", "utf-8")
    done = probewright("locate", demo_folder / "fernside-ds-3.yaml", taken, "--json")
    assert done.returncode == 3
    written = json.loads(done.stdout)
    jsonschema.validate(written, LOCATE)
    assert written["finding"] == "undecided"
    assert {"nothing-wrong", "not-listed"} <= {suspect["id"] for suspect in written["suspects"]}
    assert written["actions"]


@pytest.mark.parametrize("name", DEMOS)
def test_check_writes_json(probewright: Run, demo_folder: Path, name: str) -> None:
    done = probewright("check", demo_folder / f"fernside-{name}.yaml", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    written = json.loads(done.stdout)
    jsonschema.validate(written, CHECK)
    assert written["warnings"] == []
    assert "VCC" in written["nets"] if name == "ds-3" else "V8" in written["nets"]


@pytest.mark.parametrize(("setup", "unit"), [("tone", "V"), ("off", "ohm")])
def test_expect_writes_json(probewright: Run, demo_folder: Path, setup: str, unit: str) -> None:
    done = probewright("expect", demo_folder / "fernside-lm-2.yaml", "--setup", setup, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    written = json.loads(done.stdout)
    jsonschema.validate(written, EXPECT)
    assert {row["unit"] for row in written["rows"]} == {unit}
    figures = [row for row in written["rows"] if not isinstance(row["high"], str) and not isinstance(row["low"], str)]
    assert figures and all(row["low"] <= row["mid"] <= row["high"] for row in figures)
    if setup == "tone":
        v8 = next(row for row in written["rows"] if row["place"] == "V8" and row["kind"] == "dc")
        assert v8["low"] < 8.0 < v8["high"]


@pytest.mark.parametrize(
    ("machine_text", "readings_text", "line"),
    [
        (None, "set-up: power on, voice\nVCCC 14 V\n", 2),
        (None, "VCC 14 V\nset-up: power on, singing\n", 2),
        (None, "VCC\n", 1),
        ("machine: Nothing here\nparts:\n  R1: resistor 4k7k  A > GND\n", "A 1 V\n", 3),
    ],
)
def test_bad_input_leaves_with_two_and_says_where_and_what_to_write(
    probewright: Run, demo_folder: Path, tmp_path: Path, machine_text: str | None, readings_text: str, line: int
) -> None:
    file, taken = demo_folder / "fernside-ds-3.yaml", tmp_path / "taken.readings"
    taken.write_text(readings_text, "utf-8")
    if machine_text is not None:
        file = tmp_path / "bad.yaml"
        file.write_text(machine_text, "utf-8")
    done = probewright("locate", file, taken, "--json")
    assert done.returncode == 2
    written = json.loads(done.stdout)
    jsonschema.validate(written, ERRORS)
    assert [one["line"] for one in written["errors"]] == [line]
    assert written["errors"][0]["file"].endswith(".yaml" if machine_text else ".readings")
    assert all(one["text"] and one["mend"] and one["column"] >= 1 for one in written["errors"])
    assert "Traceback" not in done.stderr
    plainly = probewright("locate", file, taken)
    assert plainly.returncode == 2
    assert plainly.stdout == ""
    assert written["errors"][0]["mend"].split("`")[0].strip() in plainly.stderr


def test_every_command_says_so_when_a_file_is_missing(probewright: Run, tmp_path: Path) -> None:
    nowhere = tmp_path / "nowhere.yaml"
    for arguments in (("check", nowhere), ("expect", nowhere), ("locate", nowhere, nowhere)):
        done = probewright(*arguments, "--json")
        assert done.returncode == 2
        jsonschema.validate(json.loads(done.stdout), ERRORS)


def test_volts_that_no_supply_could_give_are_no_caution(monkeypatch: pytest.MonkeyPatch) -> None:
    """An unsolved variant may stand at any figure; it counts as the worst that the supplies could do, not as it stands."""
    from probewright.planning import danger

    entered = jobs.enter_readings(high("[]"), read_readings("level: weak", high("[]").machine))
    ask = Question("dc", "TAP")
    real = danger.bare_volts

    def wild(bank: Any, asked: Question) -> Any:
        value, solved = real(bank, asked).value.copy(), real(bank, asked).judged.copy()
        value[:3], solved[:3] = 1e150, False
        return Shown(value, solved)

    monkeypatch.setattr(danger, "bare_volts", wild)
    warned = caution(entered.belief, ask)
    assert warned is not None and 100.0 <= warned.volts < 200.0
