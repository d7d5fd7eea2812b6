"""Look-alikes of a textbook stage: some faults read alike until another instrument is taken up.

Voltage-divider bias with its published trouble table (Malvino, "Electronic Principles", chapter on
voltage-divider bias): with R1 open and with R2 short the base, collector and emitter read the same.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from probewright import jobs, machine
from probewright.inference.answers import sample
from probewright.inference.lookalikes import look_alikes
from probewright.jobs.telling import considered, decide
from probewright.readings.lines import read_readings

STAGE = """\
machine: Voltage-divider bias
extras:
  SUPPLY: source 10V 1% series 0.1R            VCC > GND
known good: [SUPPLY]
parts:
  R1: resistor 10k                             VCC > B
  R2: resistor 2k2                             B > GND
  RC: resistor 3k6                             VCC > C
  RE: resistor 1k                              E > GND
  Q1: npn gain 150 saturation 1e-14            c=C b=B e=E
"""
# volts at base, emitter, collector (VE printed as 1.1 V healthy: a drop of 0.7 V at the base)
TROUBLES = {
    "nothing-wrong": (1.8, 1.1, 6.0),
    "R1 open": (0.0, 0.0, 10.0),
    "R2 short": (0.0, 0.0, 10.0),
    "R1 short": (10.0, 9.3, 9.4),
    "RE open": (1.8, 1.25, 10.0),
    "RC short": (1.8, 1.1, 10.0),
}
FRINGE = 0.01  # members less probable than this come and go with the random draws
RENAMED = {"R1": "R47", "R2": "R12", "RC": "R3", "RE": "R98", "Q1": "T5"}


@pytest.fixture(scope="module")
def stage() -> jobs.Search:
    return jobs.open_search(machine.read(STAGE, "stage.yaml"))


def read_three(job: jobs.Search, b: float, e: float, c: float) -> jobs.Search:
    return jobs.enter_readings(job, read_readings(f"set-up: power on\nB {b} V\nC {c} V\nE {e} V", job.machine))


@pytest.fixture(scope="module")
def dead_base(stage: jobs.Search) -> jobs.Search:
    return read_three(stage, 0.0, 0.0, 10.0)


def classes_of(job: jobs.Search, rename: dict[str, str] | None = None) -> dict[frozenset[str], float]:
    """Classes by the ids of their members, without the fringe, with their probability."""
    _, _, classes, _ = decide(job.belief)
    back = {new: old for old, new in (rename or {}).items()}

    def as_before(text: str) -> str:
        return re.sub(r"\b\w+\b", lambda word: back.get(word[0], word[0]), text)

    plain = {}
    for one in classes:
        members = frozenset(
            as_before(job.belief.suspects[n].id) for n in one.members if job.belief.probability[n] > FRINGE
        )
        if members:
            plain[members] = one.probability
    return plain


def p_of(job: jobs.Search, suspect: str) -> float:
    return float(job.belief.probability[job.laws.model.index[suspect]])


def test_r1_open_and_r2_short_read_alike(stage: jobs.Search, dead_base: jobs.Search) -> None:
    first = next(members for members in classes_of(dead_base) if "R1 open" in members)
    assert "R2 short" in first
    suspects = stage.laws.model.suspects
    prior = suspects[stage.laws.model.index["R1 open"]].prior / suspects[stage.laws.model.index["R2 short"]].prior
    ratio = p_of(dead_base, "R1 open") / p_of(dead_base, "R2 short")
    print(f"R1 open over R2 short: {ratio:.3f}, before any reading {prior:.3f}")
    assert ratio == pytest.approx(prior, rel=0.01)


def test_their_class_leads_and_an_ohmmeter_splits_it(dead_base: jobs.Search) -> None:
    view = jobs.look(dead_base)
    leading = view.classes[0]
    assert {"R1 open", "R2 short"} <= set(leading.members)
    assert leading.split_by is not None and "power off" in leading.split_by.lower()  # ohms or the diode range
    assert leading.probability == pytest.approx(
        sum(s.probability for s in view.suspects if s.id in leading.members), abs=0.02
    )


@pytest.mark.parametrize(
    ("reading", "cleared", "left"), [("R2 2k2 ohm", "R2 short", "R1 open"), ("R2 0.3 ohm", "R1 open", "R2 short")]
)
def test_the_ohmmeter_then_tells(dead_base: jobs.Search, reading: str, cleared: str, left: str) -> None:
    taken = read_readings(f"set-up: off\n{reading}", dead_base.machine)
    told = jobs.enter_readings(dead_base, [*taken])
    before = p_of(dead_base, left) / p_of(dead_base, cleared)
    after = p_of(told, left) / p_of(told, cleared)
    print(f"{reading}: {left} over {cleared} from {before:.2f} to {after:.2f}")
    assert after > 20.0 * before


@pytest.mark.parametrize("trouble", [one for one in TROUBLES if one not in ("nothing-wrong", "R2 short")])
def test_the_published_volts_keep_their_trouble_in_the_first_class(stage: jobs.Search, trouble: str) -> None:
    b, e, c = TROUBLES[trouble]
    lines = f"set-up: power on\nB about {b} V\nC about {c} V\nE about {e} V"
    job = jobs.enter_readings(stage, read_readings(lines, stage.machine))
    _, _, classes, _ = decide(job.belief)
    ids = [job.belief.suspects[n].id for n in classes[0].members]
    print(f"{trouble}: class of {ids}, {classes[0].probability:.3f}")
    assert trouble in ids


def test_members_stand_in_one_class_each(dead_base: jobs.Search) -> None:
    population = sample(dead_base.belief)
    classes = look_alikes(population, considered(population))
    members = [n for one in classes for n in one.members]
    assert len(members) == len(set(members)) == len(population.suspects)
    assert sum(one.probability for one in classes) == pytest.approx(1.0, abs=1e-9)
    assert [one.probability for one in classes] == sorted((one.probability for one in classes), reverse=True)


def test_without_a_question_nothing_is_told_apart(dead_base: jobs.Search) -> None:
    population = sample(dead_base.belief)
    assert len(look_alikes(population, [])) == 1


@pytest.mark.parametrize("change", ["renamed", "permuted"])
def test_names_and_order_of_the_parts_do_not_matter(dead_base: jobs.Search, change: str) -> None:
    text, rename = STAGE, {}
    if change == "renamed":
        rename = RENAMED
        text = re.sub(r"(?m)^  (R1|R2|RC|RE|Q1):", lambda found: f"  {RENAMED[found[1]]}:", STAGE)
    else:
        head, _, parts = STAGE.partition("parts:\n")
        text = head + "parts:\n" + "\n".join(reversed(parts.strip("\n").split("\n"))) + "\n"
    other = read_three(jobs.open_search(machine.read(text, "stage.yaml")), 0.0, 0.0, 10.0)
    mine, theirs = classes_of(dead_base), classes_of(other, rename)
    assert set(mine) == set(theirs)
    for members, p in mine.items():
        assert theirs[members] == pytest.approx(p, abs=0.03)
    assert np.isclose(p_of(dead_base, "R1 open"), p_of(other, f"{rename.get('R1', 'R1')} open"), atol=0.03)
