"""What the bench page lays out of a view: the ruler with ends that a meter can show."""

from __future__ import annotations

from threading import Lock
from types import SimpleNamespace
from typing import Any, cast

import pytest

from probewright.jobs.case_view import ReadsView
from probewright.jobs.view import ClassView, EvidenceView, OutcomeView, RangeView, SuspectView
from probewright.readings import Question, Reading, Setup
from probewright.readings.bench import Bench
from probewright.report.text import healthy
from probewright.web.desk import Desk
from probewright.web.showing import Ruler, lines, points, ruler, split_by, spoke


def ruled(low: float, high: float, *mids: float, instrument: str = "dc", unit: str = "V") -> Ruler:
    """The ruler of a card whose healthy range and suspects' readings these are."""
    reads = tuple(ReadsView(f"s{n}", mid, mid, mid) for n, mid in enumerate(mids))
    view: Any = SimpleNamespace(would_read=reads)
    action: Any = SimpleNamespace(healthy=RangeView(low, high, unit), ask=Question(instrument, "OUT"))
    return cast("Ruler", ruler(view, action, {f"s{n}": "ABCDEF"[n] for n in range(len(mids))}))


def test_the_ends_of_a_ruler_are_figures_that_the_meter_shows() -> None:
    over_decades = ruled(4.9, 5.1, 3e-9, 0.02, 12.0)
    assert (over_decades.low, over_decades.high) == ("0 V", "12 V")
    assert over_decades.in_words == "A about 0 V; B about 20 mV; C about 12 V"
    a, b, c = (tick.x for tick in over_decades.ticks)
    assert a == 10.0 and 100.0 < b < 300.0 and c == pytest.approx(420.0)  # logarithmic still, nought at its end
    assert (ruled(-2e-9, 5.0, 4.0).low, ruled(1e-12, 3e-9, 5.0).low) == ("0 V", "0 V")
    assert ruled(900.0, 1100.0, 3e-7, instrument="ohms", unit="ohm").low == "0 Ω"


def test_a_range_that_a_meter_can_show_keeps_its_ends() -> None:
    far = ruled(0.02, 0.03, 5.0)
    assert (far.low, far.high) == ("20 mV", "5 V")
    assert (ruled(-5.2, -4.8, 0.0).low, ruled(-5.2, -4.8, 0.0).high) == ("-5.2 V", "0 V")


def test_a_healthy_range_of_nothing_is_said_as_nothing() -> None:
    assert healthy(RangeView(-3e-9, 2e-9, "V")) == "below 1 mV"
    assert healthy(RangeView(4.9, 5.1, "V")) == "4.9 V to 5.1 V"


def suspect(name: str, chance: float, nats: float = 0.0) -> SuspectView:
    """A suspect for which the one reading speaks with this weight."""
    evidence = (EvidenceView(1, nats, ""),)
    return SuspectView(name, 0, chance, chance, None, f"{name} says", "", "", (), False, False, evidence)


def seen(suspects: tuple[SuspectView, ...], *alike: tuple[str, ...]) -> Any:
    """A view after line 7, with these suspects and these classes of look-alikes."""
    classes = tuple(ClassView(n, 0.0, one, None) for n, one in enumerate(alike))
    return SimpleNamespace(search=SimpleNamespace(suspects=suspects, classes=classes), said_by=(7,))


def test_a_line_speaks_for_a_row_or_against_it_and_never_both() -> None:
    rows = (suspect("r", 0.6, 1.0), suspect("s", 0.3, -0.4), suspect("not-listed", 0.1, -2.0))
    view = seen(rows, ("r", "s"))
    assert spoke(view, 7, {"r": "K", "s": "K", "not-listed": "?"}) == "for K; against not-listed says"
    even = seen((suspect("r", 0.4, 0.5), suspect("s", 0.4, -0.5), suspect("t", 0.2)), ("r", "s"))
    assert spoke(even, 7, {"r": "A", "s": "A", "t": "B"}) == "splits A"


def test_a_letter_stands_on_one_side_of_a_step_only_or_is_split_by_it() -> None:
    letters = {"r": "A", "s": "A", "t": "B"}
    action: Any = SimpleNamespace(outcomes=(OutcomeView("above", 0.6, ("t", "r")), OutcomeView("below", 0.4, ("s",))))
    split = split_by(action, letters)
    names = {name: f"{name} says" for name in letters}
    assert split == {"A"}
    assert points(("t", "r"), letters, names, split) == "points to B t says; splits A: r says"
    assert points(("s",), letters, names, split) == "splits A: s says"


def test_a_line_with_its_own_power_stands_under_its_own_set_up() -> None:
    on = Setup(power="on", stimulus="tone")
    off = Reading(Question("ohms", "R14.1", "R14.2", Setup(power="off", stimulus="tone")), 16.8e3, "h2")
    held = Reading(Question("dc", "V8", setup=on), 8.12, "h1")
    case: Any = SimpleNamespace(
        lines=[line(1, held, Bench(setup=on)), line(2, off, Bench(setup=on)), line(3, held, Bench(setup=on))]
    )
    shown = lines(case, None, {}, None)
    assert [(row.event, row.powered, row.head.partition(",")[0]) for row in shown] == [
        (3, True, "power on"), (2, False, "power off and discharged"), (1, True, "power on"),
    ]  # fmt: skip


def line(event: int, reading: Reading, stood: Bench) -> Any:
    """A counted line with one reading."""
    return SimpleNamespace(
        event=event, text="", status="counts", says=(), readings=(reading,), bench=stood, capture=None
    )


def test_letters_stay_with_their_suspects_and_one_that_is_left_alone_is_called_a() -> None:
    desk: Any = SimpleNamespace(_keeping=Lock(), _letters={})
    case: Any = SimpleNamespace(known=None)

    def letters(*suspects: SuspectView) -> dict[str, str]:
        view = seen(suspects, ("s", "t"))
        view.case = SimpleNamespace(job=1)
        return Desk.letters(desk, case, view)

    both = {"r": "A", "s": "B", "t": "B", "not-listed": "?"}
    assert letters(suspect("r", 0.6), suspect("s", 0.2), suspect("t", 0.1), suspect("not-listed", 0.1)) == both
    assert letters(suspect("s", 0.7), suspect("t", 0.2), suspect("not-listed", 0.1)) == {
        "s": "A", "t": "A", "not-listed": "?",
    }  # fmt: skip
    assert letters(suspect("r", 0.1), suspect("s", 0.7), suspect("t", 0.2)) == both
