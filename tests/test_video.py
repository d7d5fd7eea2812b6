"""A picture signal in a capture: rates, sync and levels, on signals drawn here from the standard's own tables.

ITU-R BT.470-5, tables 1-1 and 1-2, as restated elsewhere: lines, line period, line sync, equalising and field sync
pulses, the gaps between these, blanking; levels into 75 ohm by a secondary table of composite parameters (2002).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from pytest import approx

from probewright.captures import Capture, video_of
from probewright.captures.video import say, standard


@dataclass(frozen=True)
class System:
    """Seconds and volts of one system; pulses: equalising, field sync and equalising ones about each field."""

    lines: int
    line: float
    pulses: int
    sync: float = 4.7e-6
    equalising: float = 2.35e-6
    gap: float = 4.7e-6
    porch: float = 5.8e-6
    front: float = 1.5e-6
    depth: float = 0.3
    white: float = 0.7
    setup: float = 0.0


S625 = System(625, 64e-6, 5)
S525 = System(525, 63.5556e-6, 6, equalising=2.3e-6, porch=4.7e-6, depth=0.286, white=0.714, setup=0.0536)


def signal(system: System, fields: int, rate: float, picture: str = "ramp", half: float = 0.5) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Seconds and volts (time,), blanking at nought, of so many fields; half: lines a field has over a whole number."""
    field = (system.lines // 2 + half) * system.line
    seconds = np.arange(int(fields * field * rate)) / rate
    whole = np.floor(seconds / field)
    inside = seconds - whole * field
    ahead = 3 * system.pulses * 0.5 * system.line  # equalising, field sync, equalising, each of so many half lines
    volts = np.zeros(len(seconds))
    at = np.mod(inside, 0.5 * system.line)
    number = np.floor(inside / (0.5 * system.line)).astype(int)
    broad = (number >= system.pulses) & (number < 2 * system.pulses)
    width = np.where(broad, 0.5 * system.line - system.gap, system.equalising)
    about = inside < ahead
    volts[about & (at < width)] = -system.depth
    phase = np.mod(seconds, system.line)  # lines go on through every field: the second begins half a line later
    volts[~about & (phase < system.sync)] = -system.depth
    begin, end = system.sync + system.porch, system.line - system.front
    seen = ~about & (inside > 25 * system.line) & (phase > begin) & (phase < end)
    share = (phase[seen] - begin) / (end - begin)
    volts[seen] = system.setup + (system.white - system.setup) * (share if picture == "ramp" else 0.0)
    return seconds, volts


def found(seconds: np.ndarray, volts: np.ndarray):
    return video_of(Capture(seconds, np.stack([np.zeros(len(volts)), volts]), ("none", "video"), ((0, 0), (0, 0))), 1)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.05])
@pytest.mark.parametrize("system", [S625, S525], ids=["625", "525"])
def test_two_fields_and_a_bit_of_each_system(system: System, share: float):
    seconds, volts = signal(system, 4, 10e6)
    noise = share * (system.white + system.depth) * np.random.default_rng(7).normal(size=len(volts))
    video = found(seconds, volts + noise)
    assert (video.lines, video.by_field, video.interlaced) == (str(system.lines), True, True)
    assert video.line_rate == approx(1.0 / system.line, rel=2e-4)
    assert video.field_rate == approx(2.0 / (system.lines * system.line), rel=2e-4)
    assert video.field_lines == approx(system.lines / 2, abs=0.05)
    assert video.broad == system.pulses
    assert video.width == approx(system.sync, abs=0.1e-6)
    assert video.sync == approx(system.depth, rel=0.03)
    assert video.white == approx(system.white, rel=0.05)
    assert video.black == approx(0.0 if system.setup == 0.0 else system.setup, abs=0.03)
    assert video.load == "right"
    assert not any("not as it should be" in one for one in say(video))


def test_whole_lines_a_field_are_not_interlaced():
    """A home machine that sends 312 lines each time: 15625 / 312 = 50.08 Hz."""
    video = found(*signal(S625, 4, 8e6, half=0.0))
    assert video.interlaced is False
    assert video.field_lines == approx(312.0, abs=0.05)
    assert video.field_rate == approx(50.08, abs=0.01)


@pytest.mark.parametrize(("times", "load", "words"), [
    (2.0, "missing", "the 75 Ω at the end are missing"), (2.0 / 3.0, "twice", "two loads of 75 Ω"),
    (0.4, "", "fits neither"), (1.0, "right", "sync below blanking"),
])  # fmt: skip
def test_the_depth_of_sync_tells_the_load(times: float, load: str, words: str):
    """Open, a 75 ohm output gives twice the level; on two loads 2 x 37.5 / 112.5 of it: voltage divider."""
    seconds, volts = signal(S625, 1, 8e6)
    video = found(seconds, times * volts)
    assert video.load == load
    assert video.sync == approx(times * 0.3, rel=0.03)
    assert any(words in one for one in say(video))


def test_a_few_lines_give_the_line_rate_alone():
    seconds, volts = signal(S625, 1, 20e6)
    part = (seconds > 100 * 64e-6) & (seconds < 115.3 * 64e-6)
    video = found(seconds[part], volts[part] + 1.4)
    assert (video.by_field, video.field_rate, video.interlaced, video.broad) == (False, None, None, None)
    assert video.line_rate == approx(15625.0, rel=2e-4)
    assert video.blanking == approx(1.4, abs=0.01)


def test_a_black_picture_is_still_a_picture_signal():
    video = found(*signal(S625, 1, 8e6, picture="black"))
    assert video.line_rate == approx(15625.0, rel=2e-4)
    assert video.white == approx(0.0, abs=0.01)


def test_a_line_rate_off_by_two_per_cent_is_said():
    seconds, volts = signal(S625, 1, 8e6)
    video = found(seconds * 1.02, volts)
    assert any(one.startswith("line frequency 15319 Hz, not as it should be") for one in say(video))


@pytest.mark.parametrize("shape", ["sine", "pulses", "noise", "flat"])
def test_other_signals_are_no_picture(shape: str):
    seconds = np.arange(40_000) / 10e6
    volts = {
        "sine": np.sin(2.0 * np.pi * 15625.0 * seconds),
        "pulses": np.where(np.mod(seconds, 500e-6) < 5e-6, 0.0, 1.0),
        "noise": np.random.default_rng(2).normal(size=len(seconds)),
        "flat": np.full(len(seconds), 0.3),
    }[shape]
    assert found(seconds, volts) is None


def test_every_standard_figure_has_its_source():
    assert standard()["line_rate", "625"].value == 15625.0
    assert all(row.source and row.off > 0.0 for row in standard().values())
