"""What a source plays and what a control does in time, in the words of a line or a stimulus.

sine 0.2V rms 1kHz          mains 9V rms 50Hz           12V ripple 0.5V pp 100Hz
pulse 0V..9V 2ms of 10ms    square 0V..9V 20Hz          step 0V..5V at 10ms rise 1ms
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from probewright.errors import NotAValue
from probewright.machine.saying import Refused
from probewright.machine.waves import Course, Pulse, Ripple, Sine, Step, Turned, Wave
from probewright.units import read_value, write_value

SIZED = ("sine", "mains", "ripple")
BETWEEN = ("pulse", "square", "step")
SIGNALS = (*SIZED, *BETWEEN)
NOT_COMPUTED: Mapping[str, str] = {"triangle": "write a sine of the same size: `sine 1V peak 1kHz`"}
TO_PEAK: Mapping[str, float] = {"rms": math.sqrt(2.0), "peak": 1.0, "pp": 0.5}
MAINS_SPREAD = 0.10  # public supplies stay within 10 % of their volts: EN 50160, from memory
MOST_HERTZ = 1e12  # chosen: beyond it is no circuit of wires
LONGEST = 1e6  # s, chosen: nobody waits eleven days for a reading
FORMS: Mapping[str, str] = {
    "sine": "sine 0.2V rms 1kHz",
    "mains": "mains 9V rms 50Hz",
    "ripple": "12V ripple 0.5V pp 100Hz",
    "pulse": "pulse 0V..9V 2ms of 10ms",
    "square": "square 0V..9V 20Hz",
    "step": "step 0V..5V at 10ms",
}


@dataclass(frozen=True)
class Signal:
    """One of FORMS. base + size x wave(t), in the unit of what it is put on.

    base: None where it is added to what stands there; hertz: of a sine, more than one where it may be either;
    said: as `check --write` prints it.
    """

    word: str
    wave: Wave
    size: float
    base: float | None = None
    hertz: tuple[float, ...] = ()
    said: str = ""

    def course(self, part: str, hertz: float = 0.0) -> Course:
        """On a source: its volts and on top the figure `signal`."""
        return Course(part, "volts", None, Sine(hertz) if hertz else self.wave, "signal")


def read_signal(words: list[str], end: Callable[[str], float]) -> Signal:
    """The signal that these words are, the first of them its name; takes them off the list.

    end: what one end of `A..B` is in SI. Refused with the whole form to write.
    """
    word = words.pop(0)
    if word in NOT_COMPUTED:
        raise Refused(f"`{word}` is not computed yet", NOT_COMPUTED[word])
    try:
        return _sized(word, words) if word in SIZED else _between(word, words, end)
    except NotAValue as problem:
        raise Refused(problem.text, problem.mend) from problem


def _form(word: str) -> str:
    return f"write `{FORMS[word]}`"


def one_value(text: str, unit: str, mend: str) -> float:
    """A figure that is one value. Refused; NotAValue."""
    value = read_value(text, unit)
    if value.unknown or value.low is not None or value.tolerance is not None:
        raise Refused(f"{text!r} is not one value", mend)
    return value.si


def short(value: float, unit: str) -> str:
    """A figure that reads back as it is, in one word."""
    return write_value(value, unit).replace(" ", "")


# A size and a frequency ----------------------------------------------------------------------


def _sized(word: str, words: list[str]) -> Signal:
    """`sine 0.2V rms 1kHz`, `0.2Vrms` too; of a sine also `400Hz or 2kHz`."""
    glued = re.fullmatch(r"(\S+?)(pp|rms|peak)", words[0]) if words else None
    size, counted = (glued[1], glued[2]) if glued else ([*words, "", ""][0], [*words, "", ""][1])
    if counted not in TO_PEAK or len(words) < (2 if glued else 3):
        tone = next((one for one in words if one.endswith("z")), "1kHz")
        raise Refused(
            f"{' '.join((word, *words))!r} does not say how its volts are counted",
            f"write `{word} {size or '0.2V'} {'pp' if word == 'ripple' else 'rms'} {tone}`"
            + ("" if word == "ripple" else ", or peak or pp in place of rms"),
        )
    del words[: 1 if glued else 2]
    volts = one_value(size, "V", _form(word))
    if word == "ripple" and counted != "pp":
        raise Refused(f"the size of a ripple is peak to peak, not {counted}", _form(word))
    typed = [words.pop(0)]
    while words[:1] == ["or"]:
        if word != "sine" or len(words) < 2:
            raise Refused(f"`{word}` has one frequency", _form(word))
        typed.append(words[1])
        del words[:2]
    hertz = tuple(_hertz(one, word) for one in typed)
    if volts <= 0:
        raise Refused(f"{size} is no size of a signal", f"write a size above nought: `{FORMS[word]}`")
    said = f"{word} {short(volts, 'V')} {counted} {' or '.join(short(one, 'Hz') for one in hertz)}"
    if word == "ripple":
        return Signal(word, Ripple(hertz[0], full=False), volts, said=said)
    return Signal(word, Sine(hertz[0]), volts * TO_PEAK[counted], hertz=hertz, said=said)


def _hertz(text: str, word: str) -> float:
    """A frequency above nought."""
    hertz = one_value(text, "Hz", _form(word))
    if not re.search(r"[hH]z$", text) or not 0.0 < hertz < MOST_HERTZ:
        raise Refused(f"{text} is no frequency of a signal", _form(word))
    return hertz


# From one end to another ---------------------------------------------------------------------


def _between(word: str, words: list[str], end: Callable[[str], float]) -> Signal:
    """`pulse A..B T of T`, `square A..B F`, `step A..B at T`, each with `rise T` behind it."""
    ends = words.pop(0).split("..") if words else []
    if len(ends) != 2:
        raise Refused(f"`{word}` goes from one end to another", _form(word))
    low, high = end(ends[0]), end(ends[1])
    if low == high:
        raise Refused(f"{'..'.join(ends)} does not change", f"write two ends that differ: `{FORMS[word]}`")
    said = [word, "..".join(ends)]
    shape = {"pulse": _pulse, "square": _square, "step": _step}[word](words, said)
    return Signal(word, shape(_rise(words, said)), high - low, low, said=" ".join(said))


Shape = Callable[[float], Wave]  # by the seconds of its edges


def seconds(words: list[str], word: str, said: list[str]) -> float:
    """Take a time off the front."""
    if not words:
        raise Refused(f"`{word}` needs a time", _form(word))
    text = words.pop(0)
    found = one_value(text, "s", _form(word))
    if not text.endswith("s") or not 0.0 <= found < LONGEST:
        raise Refused(f"{text} is no time", f"write seconds, `20ms`: `{FORMS[word]}`")
    said.append(short(found, "s"))
    return found


def _pulse(words: list[str], said: list[str]) -> Shape:
    high = seconds(words, "pulse", said)
    if words[:1] != ["of"]:
        raise Refused("`pulse` says how long of what", _form("pulse"))
    said.append(words.pop(0))
    period = seconds(words, "pulse", said)
    return lambda edge: Pulse(period, high, edge=edge)


def _square(words: list[str], said: list[str]) -> Shape:
    if not words:
        raise Refused("`square` needs a frequency", _form("square"))
    hertz = _hertz(words.pop(0), "square")
    said.append(short(hertz, "Hz"))
    return lambda edge: Pulse(1.0 / hertz, 0.5 / hertz, edge=edge)


def _step(words: list[str], said: list[str]) -> Shape:
    if words[:1] != ["at"]:
        raise Refused("`step` says when", _form("step"))
    said.append(words.pop(0))
    moment = seconds(words, "step", said)
    return lambda edge: Step(moment, edge)


def _rise(words: list[str], said: list[str]) -> float:
    """`rise 1ms` behind it; 0 when not said."""
    if words[:1] != ["rise"]:
        return 0.0
    said.append(words.pop(0))
    return seconds(words, said[0], said)


def of_figure(signal: Signal) -> tuple[float, Wave]:
    """(figure, share): one figure that goes from end to end of a signal, for parts that have no second one.

    The figure is the end that is farther from nought, so that share goes from or to one.
    """
    assert signal.base is not None
    first, last = signal.base, signal.base + signal.size
    whole = first if abs(first) > abs(last) else last
    return whole, signal.wave if whole == last and not first else Turned(signal.wave, first / whole, last / whole)
