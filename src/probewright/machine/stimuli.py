"""Stimuli: settings of controls, sources, loads, switches and plugs, counted from the part lines."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

from probewright.errors import NotAValue
from probewright.machine.building import control_value, refuse_impossible
from probewright.machine.edits import Edit, SetFigure, Unplug
from probewright.machine.following import FED
from probewright.machine.following import Followed as Followed
from probewright.machine.following import courses_of as courses_of
from probewright.machine.following import followed as followed
from probewright.machine.kinds import KINDS
from probewright.machine.known import Known
from probewright.machine.model import Part, Stimulus
from probewright.machine.part_words import volts_of
from probewright.machine.saying import Notes, Refused
from probewright.machine.signals import (
    FORMS,
    MOST_HERTZ,
    NOT_COMPUTED,
    SIGNALS,
    SIZED,
    of_figure,
    one_value,
    read_signal,
    short,
)
from probewright.machine.waves import Course, Sine, Step, never_repeats
from probewright.machine.yaml_text import Piece, Table, Text
from probewright.units import read_value, write_reading

# Words after which a sentence goes on: no stimulus may be called so.
SENTENCE_WORDS = (
    "below",
    "above",
    "between",
    "within",
    "weaker",
    "stronger",
    "minus",
    "over",
    "from",
    "at",
    "to",
    "never",
)
PLAYING = "whatever it is playing"
PLAYING_PEAK = 0.1  # chosen, V: the middle of anything from a pickup to a line; the true level is unknown (latents)
PLAYING_HERTZ = 1e3  # chosen: the middle of what is heard, by the logarithm
KEYS = ("do", "power", "read")  # of a stimulus, beside the names of parts


@dataclass(frozen=True)
class Setting:
    """What one value does to one part.

    hertz: of a sine that may be small, more than one where it may be either; course: what moves, of that sine too.
    """

    edits: tuple[Edit, ...]
    says: str
    hertz: tuple[float, ...] = ()
    course: Course | None = None


def read_stimuli(piece: Piece, known: Known, notes: Notes) -> dict[str, Stimulus]:
    """`stimuli:` of the file, by name."""
    if not isinstance(piece, Table):
        notes.complain(piece.spot, "`stimuli:` holds names with settings", "write `full: {RV1: 100%}` under it")
        return {}
    found: dict[str, Stimulus] = {}
    for name, settings in piece:
        blamed = next((word for word in name.value.split() if word in SENTENCE_WORDS), "")
        if blamed or ";" in name.value:
            notes.complain(
                name.spot,
                f"a stimulus cannot have {blamed or ';'!r} in its name",
                "a sentence would take that word for its own: choose another",
            )
        else:
            found |= {one.name: one for one in _stimulus(name, settings, known, notes)}
    return found


def _stimulus(name: Text, settings: Piece, known: Known, notes: Notes) -> list[Stimulus]:
    """The stimulus of that name; one for each frequency, `chime 400Hz` and `chime 2kHz`, where it has several."""
    if isinstance(settings, Text) and not settings.value:
        settings = Table((), settings.spot)
    if not isinstance(settings, Table):
        notes.complain(
            settings.spot,
            f"{name.value!r} needs settings in braces",
            f"write `{name.value}: {{RV1: 100%}}`, or {{}} for everything as typed",
        )
        return [Stimulus(name.value, spot=name.spot)]
    made: list[Setting] = []
    before = len(notes.complaints)
    texts = {key.value: (key, piece) for key, piece in settings if isinstance(piece, Text)}
    for key, piece in settings:
        if not isinstance(piece, Text):
            notes.complain(
                piece.spot, f"the setting of {key.value!r} is one value", f"write `{key.value}: 50%` or the like"
            )
        elif key.value not in KEYS:
            with _refused_at(key, piece, notes):
                made += _settings(key.value, piece, known)
    power = read = None
    if "power" in texts:
        with notes.refusing(texts["power"][1].inside):
            power = _power(texts["power"][1].value)
    if "read" in texts:
        with notes.refusing(texts["read"][1].inside):
            read = window(texts["read"][1].value.split(".."), "read: 55s..70s")
    told = texts["do"][1].value if "do" in texts else ""
    if len(notes.complaints) == before:
        with notes.refusing(name.spot):
            return _made(name, made, power, read, told, known)
    known.unclear.add(name.value)
    return [Stimulus(name.value, spot=name.spot)]


@contextmanager
def _refused_at(key: Text, piece: Text, notes: Notes) -> Iterator[None]:
    """A complaint about a value points into it where it says where, else at its name."""
    try:
        yield
    except Refused as refused:
        notes.refuse(piece.inside if refused.offset else key.spot, refused)


def _made(
    name: Text, made: list[Setting], power: Setting | None, read: tuple[float, float] | None, told: str, known: Known
) -> list[Stimulus]:
    """The stimulus, or one for each frequency; raises Refused for what does not go together."""
    choices = {one.hertz for one in made if len(one.hertz) > 1}
    if len(choices) > 1:
        raise Refused(f"{name.value!r} leaves two frequencies open", "write one stimulus for each")
    edits = tuple(edit for one in made for edit in one.edits)
    playing = any(PLAYED in one.says for one in made)
    says = [*(one.says for one in made), *([power.says] if power else [])]
    if read and says:
        says[-1] += f", and read from {write_reading(read[0], 's')} to {write_reading(read[1], 's')}"
    found = []
    for hertz in next(iter(choices), (0.0,)):
        courses = _courses(made, hertz, power, read is not None, known)
        _refuse_no_end(name.value, courses, power, read)
        if read and not courses and not any(part.plays for part in known.parts.values()):
            raise Refused(
                f"nothing happens at {name.value!r} that has a time", "leave `read:` out, or let a source move"
            )
        sines = {one.swing.hertz for one in _sines(made, hertz) if isinstance(one.swing, Sine)}
        said = f"{name.value} {short(hertz, 'Hz')}" if hertz else name.value
        words = "; ".join(says) if says else "leave everything as it is"
        if hertz:  # the words name both; the person sets one
            both = " or ".join(short(one, "Hz") for one in next(iter(choices)))
            words = re.sub(r"\S+[hH]z(?: or \S+[hH]z)+", short(hertz, "Hz"), words) if both else words
        found.append(
            Stimulus(
                said, edits, sines.pop() if len(sines) == 1 else 0.0, told or words, name.spot, playing, courses,
                power is not None, read,
            )
        )  # fmt: skip
    return found


def _sines(made: list[Setting], hertz: float) -> list[Course]:
    """The plain sines, each with its frequency; hertz: the one chosen where it may be either."""
    return [
        replace(one.course, swing=Sine(hertz if len(one.hertz) > 1 else one.hertz[0]))
        for one in made
        if one.course and one.hertz
    ]


def _courses(made: list[Setting], hertz: float, power: Setting | None, read: bool, known: Known) -> tuple[Course, ...]:
    """What moves in time; () where nothing does but one sine, which may be small."""
    sines = _sines(made, hertz)
    moving = [one.course for one in made if one.course and not one.hertz]
    several = len({one.swing for one in sines}) > 1
    if not (moving or several or power or read):
        return ()
    found = {(one.part, one.figure): one for one in (*moving, *sines)}
    if power is None or power.course is None:
        return tuple(found.values())
    unplugged = {edit.part for one in made for edit in one.edits if isinstance(edit, Unplug)}
    told = {edit.part for one in made for edit in one.edits if isinstance(edit, SetFigure) and edit.figure in FED}
    rising = {}
    for part in known.parts.values():
        if KINDS[part.kind].feeds and part.off != "stays" and part.name not in unplugged:
            own = found.get((part.name, "volts")) or part.plays or Course(part.name)
            if part.name in told and (part.name, "volts") not in found:
                own = Course(part.name)
            rising[part.name, "volts"] = replace(own, share=power.course.share)
    return tuple({**rising, **{key: one for key, one in found.items() if key not in rising}}.values())


def _refuse_no_end(
    name: str, courses: tuple[Course, ...], power: Setting | None, read: tuple[float, float] | None
) -> None:
    """What happens once needs a time at which it is read."""
    if (power or never_repeats(courses)) and read is None:
        what = "a switch-on" if power else "a step"
        raise Refused(f"{name!r} does not say when {what} is read", "add when: `read: 0s..200ms`")


def window(ends: Sequence[str], form: str) -> tuple[float, float]:
    """Two times, the earlier first; raises Refused, NotAValue."""
    if len(ends) != 2:
        raise Refused(f"{'..'.join(ends)!r} is no window of time", f"write `{form}`")
    start, stop = (one_value(end.strip(), "s", f"write `{form}`") for end in ends)
    if not ends[1].strip().endswith("s") or start < 0.0:
        raise Refused(f"{'..'.join(ends)!r} is no window of time", f"write seconds: `{form}`")
    if start >= stop:
        raise Refused(f"the window ends before it begins: {'..'.join(ends)}", "turn the two round")
    return start, stop


def _power(typed: str) -> Setting:
    """`switch-on`, `switch-on rise 2ms`: everything is discharged, and the power comes on at nought."""
    words = typed.split()
    if words[:1] != ["switch-on"] or len(words) not in (1, 3) or (len(words) == 3 and words[1] != "rise"):
        raise Refused(f"{typed!r} is not understood", "write `power: switch-on rise 2ms`")
    rise = one_value(words[2], "s", "write `power: switch-on rise 2ms`") if len(words) == 3 else 0.0
    if rise < 0.0:
        raise Refused(f"{words[2]} is no time", "write `power: switch-on rise 2ms`")
    return Setting((), "switch it on, discharged", course=Course("", share=Step(0.0, rise)))


def _settings(key: str, piece: Text, known: Known) -> list[Setting]:
    """Settings one entry makes: several names before one colon share a value."""
    if key == "step":
        raise Refused("`step` is the value of a part, not a setting by itself", "write `NAME: step 0V..5V at 10ms`")
    if not piece.value:
        raise Refused(f"{key!r} has no setting", f"write `{key}: 50%`, or leave it out")
    return [_setting(known.parts[name], piece.value) for word in key.split() for name in known.some_parts(word)]


def _setting(part: Part, typed: str) -> Setting:
    """What one value does to one part."""
    if typed == "unplugged":
        return Setting(unplug(part), f"unplug {part.name}")
    kind = KINDS[part.kind]
    if typed in kind.settings:
        figure, value = kind.settings[typed]
        return Setting((SetFigure(part.name, figure, value),), f"{part.name} {typed}")
    readers: Mapping[str, Callable[[Part, str], Setting]] = {
        "potentiometer": _turned,
        "trimmer": _turned,
        "source": _fed,
        "load": _loaded,
        "switch": _switched,
    }
    reader = readers.get(part.kind, _dialled if kind.dial else None)
    if reader not in (None, _fed) and typed.split()[0] in (*SIGNALS, *NOT_COMPUTED):
        assert reader is not None
        reader = partial(_moved, reader=reader)
    if reader is None:
        if kind.settings:
            raise Refused(f"{typed!r} is no setting of {part.name}", f"write {' or '.join(kind.settings)}")
        raise Refused(
            f"{part.name} is a {part.kind}, which has no setting",
            "set potentiometers, sources, loads and switches; any part can be `unplugged`",
        )
    try:
        return reader(part, typed)
    except NotAValue as problem:
        raise Refused(problem.text, problem.mend) from problem


def unplug(part: Part) -> tuple[Edit, ...]:
    """What unplugging does: the part leaves the circuit, or stands as its kind does without a plug."""
    rests = KINDS[part.kind].unplugged
    return tuple(SetFigure(part.name, figure, value) for figure, value in rests.items()) or (Unplug(part.name),)


def _dialled(part: Part, typed: str) -> Setting:
    """A plain value for the one figure of this kind that a person can set."""
    parameter = KINDS[part.kind].parameter(KINDS[part.kind].dial)
    value = control_value(typed, parameter.unit)
    refuse_impossible(value, parameter)
    says = f"{part.name} at {write_reading(value, parameter.unit)}"
    return Setting((SetFigure(part.name, parameter.name, value),), says)


def _moved(part: Part, typed: str, reader: Callable[[Part, str], Setting]) -> Setting:
    """`step 100R..10R at 5ms`, `square open..closed 20Hz`: a control that goes from one setting to another in time."""
    words = typed.split()
    if words[0] in SIZED:
        raise Refused(f"`{words[0]}` is played by a source", f"write `{FORMS['step'].replace('0V..5V', 'A..B')}`")
    figure = ""

    def end(text: str) -> float:
        nonlocal figure
        (edit,) = reader(part, text).edits
        assert isinstance(edit, SetFigure)
        figure = edit.figure
        return float(edit.value)

    signal = read_signal(words, end)
    _refuse_more(words, typed, signal.word)
    value, share = of_figure(signal)
    course = Course(part.name, figure, share)
    return Setting((SetFigure(part.name, figure, value),), f"{part.name} {typed}", course=course)


def _refuse_more(words: list[str], typed: str, form: str) -> None:
    """Words behind a signal that belong to nothing."""
    if words:
        raise Refused(f"{' '.join(words)!r} in {typed!r} is not understood", f"write `{FORMS[form]}`")


def _turned(part: Part, typed: str) -> Setting:
    at = control_value(typed, "%")
    if not 0.0 <= at <= 1.0:
        raise Refused(
            f"{typed} is no place on the way of {part.name}", "write 0% (wiper at bottom) to 100% (wiper at top)"
        )
    return Setting((SetFigure(part.name, "position", at),), f"turn {part.name} to {write_reading(at, '%')}")


def _loaded(part: Part, typed: str) -> Setting:
    ohms = control_value(typed, "ohm")
    if ohms <= 0:
        raise Refused(f"a load of {typed} would be a short", f"write its resistance, or `{part.name}: unplugged`")
    refuse_impossible(ohms, KINDS[part.kind].parameter("resistance"))
    return Setting((SetFigure(part.name, "resistance", ohms),), f"put {write_reading(ohms, 'ohm')} on as {part.name}")


def _switched(part: Part, typed: str) -> Setting:
    positions = {"closed": 1.0, "on": 1.0, "open": 0.0, "off": 0.0}
    if typed not in positions:
        raise Refused(f"{typed!r} is no position of {part.name}", "write open or closed")
    closed = positions[typed]
    return Setting((SetFigure(part.name, "closed", closed),), f"{'close' if closed else 'open'} {part.name}")


def _fed(part: Part, typed: str) -> Setting:
    """`5V`, one of signals.FORMS, `5V sine 0.2V rms 1kHz`, or `whatever it is playing`."""
    words = typed.split()
    if "whatever" in words:
        return _played(part, typed)
    at = next((n for n, word in enumerate(words) if word in (*SIGNALS, *NOT_COMPUTED)), len(words))
    steady, rest = " ".join(words[:at]), words[at:]
    edits: list[Edit] = []
    says: list[str] = []
    if steady:
        volts = control_value(steady, "V")
        refuse_impossible(volts, KINDS[part.kind].parameter("volts"))
        edits.append(SetFigure(part.name, "volts", volts))
        says.append(f"set {part.name} to {write_reading(volts, 'V')}")
    if not rest:
        return Setting(tuple(edits), says[0])
    said = " ".join(rest)
    signal = read_signal(rest, volts_of)
    _refuse_more(rest, typed, signal.word)
    if steady and signal.base is not None:
        raise Refused(f"volts beside `{signal.word}` would be said twice", f"write the two ends alone: `{signal.said}`")
    refuse_impossible(signal.size, KINDS[part.kind].parameter("signal"))
    if signal.base is not None or (signal.word == "mains" and not steady):
        edits.append(SetFigure(part.name, "volts", signal.base or 0.0))
    edits.append(SetFigure(part.name, "signal", signal.size))
    says.append(f"put {said} on {part.name}")
    hertz = signal.hertz if signal.word == "sine" else ()
    return Setting(tuple(edits), "; ".join(says), hertz, signal.course(part.name))


PLAYED = "let it play, the same on every channel"


def _played(part: Part, typed: str) -> Setting:
    """`whatever it is playing`, with a frequency behind it where the person knows one."""
    found = re.fullmatch(rf"{PLAYING}(?:\s+(?:at\s+)?(\S+[hH]z))?", typed)
    if not found:
        raise Refused(f"{typed!r} is not understood", f"write `{PLAYING}`, or a signal like `sine 0.2V rms 1kHz`")
    hertz = read_value(found[1], "Hz").si if found[1] else PLAYING_HERTZ
    if not 0 < hertz < MOST_HERTZ:
        raise Refused(f"{found[1]} is no frequency of a signal", f"write `{PLAYING}`")
    course = Course(part.name, swing=Sine(hertz))
    return Setting((SetFigure(part.name, "signal", PLAYING_PEAK),), PLAYED, (hertz,), course)
