"""What the bench page lays out of a view: the ruler with ends that a meter can show."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from probewright.jobs.case_view import ReadsView
from probewright.jobs.view import RangeView
from probewright.readings import Question
from probewright.report.text import healthy
from probewright.web.showing import Ruler, ruler


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
