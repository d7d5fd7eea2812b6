"""Tables typed by hand: what is read, what is complained of, and what the command says."""

from __future__ import annotations

import json
from functools import partial

import numpy as np
import pytest
from pytest import approx

from conftest import ROOT, Run
from probewright.errors import BadInput
from probewright.jobs import plan_tables
from probewright.jobs.plan_tables import plan_table
from probewright.planning.ahead import solve
from probewright.planning.plan_file import read_plan
from probewright.report import plans
from test_docs import PAGES, blocks

PUBLISHED = "tests/tables/pc-06-six-states-five-tests.yaml"

BENCH = """\
plan: One channel dead
set-ups: {power off: 1 min, power on: 2 min}
bench: power on
tests:
  wiggle: 1 min
  socket: 0.5 min, power off
  level: 2 min, power on
repairs:
  lead: 3 min, power off, cures lead broken 95%, socket cracked 10%
  board: 20 min, cures all
states:
  lead broken:    4  0.7  U   none
  socket cracked: 3  80%  1   none=0.9/low=0.1
  coupling open:  2  0    0   low
  driver dead:    1  0.05 0   low
alike:
  - coupling open, driver dead
sure: 95%
"""


def test_everything_that_can_be_typed_is_read() -> None:
    read = read_plan(BENCH)
    problem = read.problem
    assert read.name == "One channel dead"
    assert read.states == ("lead broken", "socket cracked", "coupling open", "driver dead")
    assert read.stands == ("power off", "power on") and problem.stood == 1
    assert problem.prior == approx([0.4, 0.3, 0.2, 0.1])
    assert problem.sure == 0.95 and not problem.to_cure
    assert problem.group[2] == problem.group[3] and len(set(problem.group)) == 3
    wiggle, socket, level, lead, board = problem.steps
    assert [one.minutes for one in problem.steps] == [1.0, 0.5, 2.0, 3.0, 20.0]
    assert [one.stand for one in problem.steps] == [-1, 0, 1, 0, -1]
    assert wiggle.chance[:, 1] == approx([0.7, 0.8, 0.0, 0.05])
    assert socket.says == ("0", "1") and socket.chance[0] == approx(
        [0.5, 0.5]
    )  # unknown: the one as likely as the other
    assert level.says == ("none", "low") and level.chance[1] == approx([0.9, 0.1])
    assert lead.cures and lead.chance[:, 0] == approx([0.95, 0.1, 0.0, 0.0])
    assert board.chance[:, 0] == approx(np.ones(4))
    # from the power on as it stands: on costs nothing, off a minute; from off to on two
    assert problem.minutes[1] == approx([1.0, 1.5, 2.0, 4.0, 20.0])
    assert problem.minutes[0] == approx([1.0, 0.5, 4.0, 3.0, 20.0])


@pytest.mark.parametrize(
    ("old", "new", "line", "says", "mend"),
    [
        ("plan: One", "name: One", 1, "'name' is not a key of a table", "plan"),
        ("wiggle: 1 min", "wiggle: soon", 5, "'soon' are not minutes", "2 min"),
        ("0.5 min, power off", "0.5 min, power of", 6, "'power of' is not a set-up", "power off"),
        ("bench: power on", "bench: warm", 3, "'warm' is not a set-up", "set-ups"),
        ("lead broken:    4  0.7  U   none", "lead broken:    4  0.7  U", 12, "2 results for 3 tests", "U for unknown"),
        ("coupling open:  2", "coupling open:  often", 14, "'often' is not the chance", "20%"),
        ("coupling open:  2", "coupling open:  2.5", 11, "sum to 10.5", "parts"),
        ("none=0.9/low=0.1", "none=0.9/low=0.3", 13, "do not sum to 1", "low=0.2"),
        ("cures lead broken 95%", "cures lead brocken 95%", 9, "'lead brocken 95%' is not a state", "lead broken"),
        ("20 min, cures all", "20 min", 10, "'board' cures nothing", "cures"),
        ("- coupling open, driver dead", "- coupling open, driver deaf", 17, "'driver deaf' is not a state", "driver dead"),
        ("sure: 95%", "sure: 30%", 18, "'30%' is not sure", "more than 50%"),
        ("sure: 95%", "until: tea", 18, "'tea' is no end", "named"),
        ("plan: One channel dead", "plan: [One, dead]", 1, "`plan:` is one text", "in one line"),
        ("none=0.9/low=0.1", "=", 13, "do not sum to 1", "low=0.2"),
        ("  wiggle: 1 min", "\twiggle: 1 min", 5, "a tab", "blanks"),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_its_line_and_what_to_write(old: str, new: str, line: int, says: str, mend: str) -> None:
    assert old in BENCH
    with pytest.raises(BadInput) as refused:
        read_plan(BENCH.replace(old, new), "bench.yaml")
    found = [(one.line, one.text, one.mend) for one in refused.value.complaints]
    assert any(one[0] == line and says in one[1] and mend in one[2] for one in found), found
    assert len(found) == 1


@pytest.mark.parametrize("text", ["", "plan: x", "plan: x\ntests: a b\n", "- a\n", "plan: x\nstates:\n  a: 1\n"])
def test_what_is_no_table_is_refused(text: str) -> None:
    with pytest.raises(BadInput):
        read_plan(text)


def test_every_slip_is_told_at_once() -> None:
    with pytest.raises(BadInput) as refused:
        read_plan(BENCH.replace("1 min\n", "soon\n").replace("0.05 0   low", "0.05 0"))
    assert len(refused.value.complaints) >= 2


def test_a_table_without_tests_ends_with_a_cure() -> None:
    text = "plan: x\nrepairs:\n  a: 1 min, cures one\n  b: 2 min, cures two\nstates:\n  one: 0.5\n  two: 0.5\n"
    assert read_plan(text).problem.to_cure
    assert plan_table(text).expected_cost == approx(1.0 + 0.5 * 2.0)


def test_an_end_where_groups_are_named_and_one_where_states_are() -> None:
    plain = "plan: x\ntests: t u\nstates:\n  a: 1  0 0\n  b: 1  1 0\n  c: 2  1 1\n"
    assert plan_table(plain).expected_cost == approx(1.5)
    together = plan_table(plain + "alike: [[a, b]]\n")
    assert together.expected_cost == approx(1.0) and together.tree.do == "u"


def test_the_tree_as_text() -> None:
    view = plan_table((ROOT / PUBLISHED).read_text("utf-8"))
    said = plans.plan(view).splitlines()
    assert said[0] == "Six states, five tests"
    assert "2.18 min on average; no plan takes less; one step at a time takes 2.86" in said[1]
    assert said[3] == f"{view.tree.do}  [1 min]"
    assert sum(line.strip().endswith(("s0", "s1", "s2", "s3", "s4", "s5")) for line in said) == 6


def test_the_tree_has_every_chance(probewright: Run) -> None:
    answer = probewright("plan-table", PUBLISHED, "--json")
    assert answer.returncode == 0
    view = json.loads(answer.stdout)
    assert view["expected_cost"] == approx(2.18, abs=5e-3)

    def spent(node: dict) -> float:
        assert not node["branches"] or sum(one["chance"] for one in node["branches"]) == approx(1.0)
        return node["minutes"] + sum(one["chance"] * spent(one["then"]) for one in node["branches"])

    assert spent(view["tree"]) == approx(view["expected_cost"])


def test_the_command_says_what_is_wrong_with_a_table(probewright: Run, tmp_path) -> None:
    file = tmp_path / "slip.yaml"
    file.write_text(BENCH.replace("sure: 95%", "sure: of course"), "utf-8")
    answer = probewright("plan-table", str(file))
    assert answer.returncode == 2 and f"{file}:18:7:" in answer.stderr
    said = json.loads(probewright("plan-table", str(file), "--json").stdout)
    assert said["errors"][0]["line"] == 18


def test_a_table_too_large_to_be_proved_is_planned_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_tables, "solve", partial(solve, afforded=1000))
    view = plan_table((ROOT / PUBLISHED).read_text("utf-8"))
    assert not view.exact
    assert (view.at_least, view.expected_cost, view.one_step) == approx((1.59, 2.18, 2.86))
    assert "2.18 min on average; no plan takes less than 1.59; " in plans.plan(view)


def test_tables_shown_in_the_documents_can_be_read() -> None:
    shown = [(page, block) for page in PAGES for block in blocks(page, "yaml") if block.text.startswith("plan:")]
    assert len(shown) >= 2
    for page, block in shown:
        assert solve(read_plan(block.text, f"{page.name}:{block.line}").problem, 1000).plan.expected > 0.0
