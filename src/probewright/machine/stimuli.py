"""Stimuli: settings of controls, sources, loads, switches and plugs, counted from the part lines."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping

from probewright.errors import NotAValue
from probewright.machine.building import control_value, refuse_impossible
from probewright.machine.edits import Edit, SetFigure, Unplug
from probewright.machine.kinds import KINDS
from probewright.machine.known import Known
from probewright.machine.model import Part, Stimulus
from probewright.machine.saying import Notes, Refused
from probewright.machine.yaml_text import Piece, Table, Text
from probewright.units import read_value, write_reading

# Words after which a sentence goes on: no stimulus may be called so.
SENTENCE_WORDS = ("below", "above", "between", "within", "weaker", "stronger", "minus", "over", "from", "at", "to")
_TO_PEAK: Mapping[str, float] = {"rms": math.sqrt(2.0), "peak": 1.0, "pp": 0.5}
NOT_COMPUTED: Mapping[str, str] = {
    "square": "write the steady ends as two stimuli, `low: {NAME: 0V}` and `high: {NAME: 9V}`",
    "pulse": "write the steady ends as two stimuli, `low: {NAME: 0V}` and `high: {NAME: 9V}`",
    "ripple": "write the ripple as a sine of its size: `12V sine 0.5V pp 100Hz`",
    "triangle": "write a sine of the same size: `sine 1V peak 1kHz`",
    "step": "write the two ends as two stimuli",
}
SETTINGS_NOT_COMPUTED: Mapping[str, str] = {
    "power": "leave it out; readings are of the settled machine with power on",
    "step": "write the two ends as two stimuli and compare them with `minus`",
    "read": "leave it out; readings are of the settled machine",
}
PLAYING = "whatever it is playing"
PLAYING_PEAK = 0.1  # chosen, V: the middle of anything from a pickup to a line; the true level is unknown (latents)
PLAYING_HERTZ = 1e3  # chosen: the middle of what is heard, by the logarithm
MOST_HERTZ = 1e12  # chosen: beyond it is no circuit of wires
Setting = tuple[tuple[Edit, ...], float, str]  # edits, frequency of a signal (0: none), words


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
            found[name.value] = _stimulus(name, settings, known, notes)
    return found


def _stimulus(name: Text, settings: Piece, known: Known, notes: Notes) -> Stimulus:
    if isinstance(settings, Text) and not settings.value:
        settings = Table((), settings.spot)
    if not isinstance(settings, Table):
        notes.complain(
            settings.spot,
            f"{name.value!r} needs settings in braces",
            f"write `{name.value}: {{RV1: 100%}}`, or {{}} for everything as typed",
        )
        return Stimulus(name.value, spot=name.spot)
    edits: list[Edit] = []
    words: list[str] = []
    frequencies: dict[float, None] = {}
    told = ""
    for key, piece in settings:
        if not isinstance(piece, Text):
            notes.complain(
                piece.spot, f"the setting of {key.value!r} is one value", f"write `{key.value}: 50%` or the like"
            )
            continue
        if key.value == "do":
            told = piece.value
            continue
        try:
            for edit, hertz, says in _settings(key.value, piece, known):
                edits += edit
                words.append(says)
                if hertz:
                    frequencies[hertz] = None
        except Refused as refused:
            notes.refuse(piece.inside if refused.offset else key.spot, refused)
    if len(frequencies) > 1:
        notes.complain(
            name.spot,
            f"{name.value!r} puts on several frequencies at once, which is not computed yet",
            "write one stimulus for each frequency",
        )
    playing = any(isinstance(piece, Text) and PLAYING in piece.value for _, piece in settings)
    return Stimulus(
        name.value, tuple(edits), next(iter(frequencies), 0.0), told or _spelled_out(words), name.spot, playing
    )


def _spelled_out(words: list[str]) -> str:
    """The instruction when the file gives none."""
    return "; ".join(words) if words else "leave everything as it is"


def _settings(key: str, piece: Text, known: Known) -> list[Setting]:
    """Settings one entry makes: several names before one colon share a value."""
    if key in SETTINGS_NOT_COMPUTED:
        raise Refused(f"`{key}:` in a stimulus is not computed yet", SETTINGS_NOT_COMPUTED[key])
    if not piece.value:
        raise Refused(f"{key!r} has no setting", f"write `{key}: 50%`, or leave it out")
    return [_setting(known.parts[name], piece.value) for word in key.split() for name in known.some_parts(word)]


def _setting(part: Part, typed: str) -> Setting:
    """What one value does to one part."""
    if typed == "unplugged":
        return unplug(part), 0.0, f"unplug {part.name}"
    kind = KINDS[part.kind]
    if typed in kind.settings:
        figure, value = kind.settings[typed]
        return (SetFigure(part.name, figure, value),), 0.0, f"{part.name} {typed}"
    readers: Mapping[str, Callable[[Part, str], Setting]] = {
        "potentiometer": _turned,
        "trimmer": _turned,
        "source": _fed,
        "load": _loaded,
        "switch": _switched,
    }
    reader = readers.get(part.kind, _dialled if kind.dial else None)
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
    return (SetFigure(part.name, parameter.name, value),), 0.0, f"{part.name} at {write_reading(value, parameter.unit)}"


def _turned(part: Part, typed: str) -> Setting:
    at = control_value(typed, "%")
    if not 0.0 <= at <= 1.0:
        raise Refused(
            f"{typed} is no place on the way of {part.name}", "write 0% (wiper at bottom) to 100% (wiper at top)"
        )
    return (SetFigure(part.name, "position", at),), 0.0, f"turn {part.name} to {write_reading(at, '%')}"


def _loaded(part: Part, typed: str) -> Setting:
    ohms = control_value(typed, "ohm")
    if ohms <= 0:
        raise Refused(f"a load of {typed} would be a short", f"write its resistance, or `{part.name}: unplugged`")
    refuse_impossible(ohms, KINDS[part.kind].parameter("resistance"))
    return (SetFigure(part.name, "resistance", ohms),), 0.0, f"put {write_reading(ohms, 'ohm')} on as {part.name}"


def _switched(part: Part, typed: str) -> Setting:
    positions = {"closed": 1.0, "on": 1.0, "open": 0.0, "off": 0.0}
    if typed not in positions:
        raise Refused(f"{typed!r} is no position of {part.name}", "write open or closed")
    closed = positions[typed]
    return (SetFigure(part.name, "closed", closed),), 0.0, f"{'close' if closed else 'open'} {part.name}"


def _fed(part: Part, typed: str) -> Setting:
    """`5V`, `sine 0.2V rms 1kHz`, both: `5V sine 0.2V rms 1kHz`, or `whatever it is playing`."""
    for word, mend in NOT_COMPUTED.items():
        if word in typed.split():
            raise Refused(f"`{word}` is not computed yet", mend.replace("NAME", part.name))
    if "whatever" in typed.split():
        return _played(part, typed)
    steady, sine, signal = typed.partition("sine")
    edits: list[Edit] = []
    words: list[str] = []
    if steady.strip():
        volts = control_value(steady.strip(), "V")
        refuse_impossible(volts, KINDS[part.kind].parameter("volts"))
        edits.append(SetFigure(part.name, "volts", volts))
        words.append(f"set {part.name} to {write_reading(volts, 'V')}")
    if not sine:
        return tuple(edits), 0.0, words[0]
    peak, hertz = _sine(signal.split(), typed)
    refuse_impossible(peak, KINDS[part.kind].parameter("signal"))
    edits.append(SetFigure(part.name, "signal", peak))
    words.append(f"put {' '.join(('sine', *signal.split()))} on {part.name}")
    return tuple(edits), hertz, "; ".join(words)


def _played(part: Part, typed: str) -> Setting:
    """`whatever it is playing`, with a frequency behind it where the person knows one."""
    found = re.fullmatch(rf"{PLAYING}(?:\s+(?:at\s+)?(\S+[hH]z))?", typed)
    if not found:
        raise Refused(f"{typed!r} is not understood", f"write `{PLAYING}`, or a signal like `sine 0.2V rms 1kHz`")
    hertz = read_value(found[1], "Hz").si if found[1] else PLAYING_HERTZ
    if not 0 < hertz < MOST_HERTZ:
        raise Refused(f"{found[1]} is no frequency of a signal", f"write `{PLAYING}`")
    return (SetFigure(part.name, "signal", PLAYING_PEAK),), hertz, "let it play, the same on every channel"


def _sine(words: list[str], typed: str) -> tuple[float, float]:
    """Peak volts and hertz of `0.2V rms 1kHz`."""
    if " or " in typed:
        raise Refused(
            "several frequencies in one stimulus are not computed yet", "write one stimulus for each frequency"
        )
    glued = re.fullmatch(r"(\S+?)(pp|rms|peak)", words[0]) if words else None
    if glued:
        words = [glued[1], glued[2], *words[1:]]
    if len(words) != 3 or words[1] not in _TO_PEAK:
        size = words[0] if words else "0.2V"
        tone = words[-1] if len(words) > 1 and words[-1].endswith("z") else "1kHz"
        raise Refused(
            f"{typed!r} does not say how its volts are counted",
            f"write `sine {size} rms {tone}`, or peak or pp in place of rms",
        )
    volts, hertz_value = control_value(words[0], "V"), read_value(words[2], "Hz")
    if volts <= 0 or not 0 < hertz_value.si < MOST_HERTZ or hertz_value.low is not None:
        raise Refused(f"{typed!r} is no signal", "write a size and a frequency above nought: `sine 0.2V rms 1kHz`")
    return volts * _TO_PEAK[words[1]], hertz_value.si
