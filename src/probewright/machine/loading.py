"""A machine file read as a whole: every complaint is found before any is said."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from probewright.machine import facts
from probewright.machine.building import Assumed
from probewright.machine.checking import look_for_slips
from probewright.machine.kinds import KINDS
from probewright.machine.known import Known
from probewright.machine.model import PROTECTIONS, AddedBoard, Machine, Spot, Works
from probewright.machine.naming import Marks, check_marks
from probewright.machine.opening_key import read_opening
from probewright.machine.part_tables import Entry, Group, entries_of, names_in, read_parts
from probewright.machine.saying import Notes, Refused, nearest
from probewright.machine.sentences import followed_whole, read_works
from probewright.machine.stimuli import read_stimuli
from probewright.machine.yaml_text import Piece, Table, Text, decode, parse
from probewright.units import read_value

TOP_KEYS = (
    "machine",
    "revision",
    "age",
    "class",
    "each",
    "match",
    "parts",
    "extras",
    "sections",
    "points",
    "stimuli",
    "works",
    "printed",
    "heat",
    "never without",
    "never live",
    "known good",
    "rare",
    "when off",
    "added boards",
    "zones",
    "opening",
)
SECTION_KEYS = ("parts", "extras", "points", "each", "match", "gives", "takes", "local")
BOARD_KEYS = ("fitted", "parts", "lifted")
FITTED = ("yes", "no", "unknown")
MOST_BYTES = 2_000_000  # chosen: some forty thousand part lines, far more than a machine has


@dataclass
class _Draft:
    """What has been read so far."""

    notes: Notes
    known: Known = field(default_factory=Known)
    assumed: Assumed = field(default_factory=Assumed)
    entries: list[Entry] = field(default_factory=list)
    points: list[Piece] = field(default_factory=list)
    channels: dict[str, str] = field(default_factory=dict)
    marks_seen: list[Marks] = field(default_factory=list)
    match: float | None = None
    spots: dict[str, Spot] = field(default_factory=dict)


def load(path: str | os.PathLike[str]) -> Machine:
    """The machine in a file; raises BadInput with every complaint found."""
    name = os.fspath(path)
    notes = Notes(name)
    try:
        with Path(path).open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or "no such name"
        notes.complain(Spot(1, 1), f"the file cannot be opened ({reason.lower()})", "check the name and the folder")
        notes.stop_if_any()
        raise AssertionError("a complaint always stops") from problem
    if len(data) > MOST_BYTES:
        notes.complain(
            Spot(1, 1), "the file is far too long for a machine file", "give the name of the machine's own text file"
        )
        notes.stop_if_any()
    return read(decode(data, notes), name)


def read(text: str, file_name: str = "") -> Machine:
    """The machine in a text; raises BadInput with every complaint found."""
    notes = Notes(file_name)
    table = parse(text, notes)
    draft = _Draft(notes)
    machine = _machine(table, draft)
    notes.stop_if_any()
    look_for_slips(machine, draft.known, draft.entries, notes)
    ordered = sorted(notes.warnings, key=lambda one: (one.line, one.column))
    return replace(machine, warnings=tuple(ordered), file=file_name)


def _machine(table: Table, draft: _Draft) -> Machine:
    """Everything in the order it is needed: parts, then what speaks of them."""
    notes, known = draft.notes, draft.known
    _refuse_unknown_keys(table, TOP_KEYS, "a machine file", notes)
    name = _text(table, "machine", notes)
    if not name.value:
        notes.complain(table.spot_of("machine"), "the machine has no name", "begin with `machine: ` and its name")
    sections = _sections(table, draft)
    boards = _boards(table, draft)
    if not draft.entries:
        spot = next((table.spot_of(key) for key in ("parts", "sections") if table.get(key)), table.spot)
        notes.complain(spot, "no parts are written", "write `parts:` and under it lines like `R1: resistor 10k  A > B`")
    draft.spots = read_parts(draft.entries, known, draft.assumed, notes)
    _lift(table.get("added boards"), known, notes)
    if not notes.names_missing:
        _ports(table, known, notes)
    points = {name: point for piece in draft.points for name, point in facts.read_points(piece, known, notes).items()}
    good, rare, off, stimuli, zones = (
        table.get(key) for key in ("known good", "rare", "when off", "stimuli", "zones")
    )  # fmt: skip
    if good:
        facts.mark_known_good(good, known, notes)
    if rare:
        facts.mark_rare(rare, known, notes)
    if off:
        facts.apply_when_off(off, known, notes)
    if stimuli:
        known.stimuli = read_stimuli(stimuli, known, notes)
    works = _works(table.get("works"), known, notes)
    known.stimuli = {name: followed_whole(one, works) for name, one in known.stimuli.items()}
    heat, rules, live, printed = (table.get(key) for key in ("heat", "never without", "never live", "printed"))
    opening = table.get("opening")
    return Machine(
        name=name.value,
        parts=known.parts,
        revision=_text(table, "revision", notes).value,
        age_years=_age(_text(table, "age", notes), notes),
        protection=_protection(_text(table, "class", notes), notes),
        sections=sections,
        channels=draft.channels,
        match=draft.match,
        stimuli=known.stimuli,
        works=works,
        points=points,
        printed=facts.read_printed(printed, known, notes) if printed else (),
        power_rules=facts.read_power_rules(rules, known, notes) if rules else (),
        never_live=tuple(facts.read_places(live, known, notes)) if live else (),
        heat=facts.read_heat(heat, known, notes) if heat else {},
        zones=facts.read_zones(zones, known, notes) if zones else (),
        added_boards=tuple(replace(board, parts=_parts_of(board.name, known)) for board in boards),
        opening=read_opening(opening, known, notes) if opening else (),
        assumed=tuple(draft.assumed.said),
    )


def _refuse_unknown_keys(table: Table, known: tuple[str, ...], where: str, notes: Notes) -> None:
    for key, _ in table:
        if key.value == "shared" and "each" in known:
            notes.complain(
                key.spot, "`shared:` is not needed", "leave it out: a name with * is one a channel, any other is shared"
            )
        elif key.value not in known:
            notes.complain(key.spot, f"{key.value!r} is not a key of {where}", nearest(key.value, known))


def _text(table: Table, key: str, notes: Notes) -> Text:
    """The text behind a key; empty when it is not there."""
    piece = table.get(key)
    if piece is None:
        return Text("", table.spot)
    if isinstance(piece, Text):
        return replace(piece, value=" ".join(piece.value.split()))
    notes.complain(piece.spot, f"`{key}:` is one text", f"write `{key}: ...` in one line")
    return Text("", piece.spot)


def _age(text: Text, notes: Notes) -> float | None:
    """`30 years`."""
    if not text.value:
        return None
    found = re.fullmatch(r"(\d{1,3}(?:\.\d+)?)(?: ?years?| ?yrs?)?", text.value)
    if not found:
        notes.complain(text.inside, f"{text.value!r} is not an age", "write `30 years`")
        return None
    return float(found[1])


def _protection(text: Text, notes: Notes) -> str:
    """`II`: how it protects whoever touches it."""
    said = text.value.casefold().removeprefix("class ")
    found = next((one for one in PROTECTIONS if one.casefold() == said), "")
    if text.value and not found:
        notes.complain(text.inside, f"{text.value!r} is no class", f"write one of: {', '.join(PROTECTIONS)}")
    return found


def _each(piece: Piece | None, notes: Notes) -> Marks:
    """`[A, B]` or `{A: front, B: rear}` as mark -> label."""
    if piece is None:
        return {}
    if isinstance(piece, Table):
        marks = {
            key.value: label.value if isinstance(label, Text) and label.value else key.value for key, label in piece
        }
    else:
        texts = [piece] if isinstance(piece, Text) else [item for item in piece.items if isinstance(item, Text)]
        words = [word for text in texts for word in text.value.replace(",", " ").split()]
        if len(set(words)) != len(words):
            notes.complain(piece.spot, "a channel is named twice in `each:`", "give every channel its own mark")
        marks = {word: word for word in words}
    with notes.refusing(piece.spot):
        check_marks(marks)
        if len(marks) < 2:
            raise Refused("`each:` names the channels, at least two", "write `each: [A, B]`, or leave it out")
    return marks


def _own_each(table: Table, draft: _Draft) -> Marks:
    """Channels of a table, remembered for the machine."""
    marks = _each(table.get("each"), draft.notes)
    if marks:
        draft.channels.update(marks)
        if marks not in draft.marks_seen:
            draft.marks_seen.append(marks)
    match = _text(table, "match", draft.notes)
    if match.value:
        with draft.notes.refusing(match.inside):
            draft.match = _match(match.value, draft.match)
    return marks


def _match(typed: str, before: float | None) -> float:
    value = read_value(typed, "%")
    if value.unknown or value.low is not None or not 0 <= value.si < 1:
        raise Refused(f"{typed!r} does not say how well channels agree", "write `match: 1%`")
    if before is not None and before != value.si:
        raise Refused("channels agree this well once for the whole file", "keep one `match:`")
    return value.si


def _sections(table: Table, draft: _Draft) -> tuple[str, ...]:
    """Parts, extras and points at the top and in every section."""
    top_marks = _own_each(table, draft)
    found = _section_tables(table, draft.notes)
    marks_of = {name.value: _own_each(body, draft) or top_marks for name, body in found}
    shared = top_marks or (draft.marks_seen[0] if len(draft.marks_seen) == 1 else {})
    draft.known.marks = shared
    _add_groups(table, Group("", shared), draft)
    for name, body in found:
        _refuse_unknown_keys(body, SECTION_KEYS, "a section", draft.notes)
        local = body.get("local")
        texts = facts.texts_in(local, draft.notes) if local else []
        nets = frozenset(word for text in texts for word in text.value.replace(",", " ").split())
        _add_groups(body, Group(name.value, marks_of[name.value], local=nets), draft)
    return tuple(name.value for name, _ in found)


def _section_tables(table: Table, notes: Notes) -> list[tuple[Text, Table]]:
    piece = table.get("sections")
    if piece is None:
        return []
    found = []
    for name, body in piece if isinstance(piece, Table) else ():
        if isinstance(body, Table):
            found.append((name, body))
        else:
            notes.complain(name.spot, f"the section {name.value!r} is empty", "write `parts:` under it, indented")
    if not isinstance(piece, Table):
        notes.complain(
            piece.spot, "`sections:` holds names with parts", "write `NAME:` and under it `parts:`, indented"
        )
    return found


def _add_groups(body: Table, group: Group, draft: _Draft) -> None:
    for key, role in (("parts", "part"), ("extras", "extra")):
        piece = body.get(key)
        if piece is not None:
            draft.entries += entries_of(piece, replace(group, role=role), draft.notes)
    points = body.get("points")
    if points is not None:
        draft.points.append(points)


def _boards(table: Table, draft: _Draft) -> tuple[AddedBoard, ...]:
    """`added boards:` with their parts; fitted says whether this machine has one."""
    piece = table.get("added boards")
    if piece is None:
        return ()
    if not isinstance(piece, Table):
        draft.notes.complain(
            piece.spot, "`added boards:` holds names", "write `NAME: {fitted: unknown, parts: {...}}` under it"
        )
        return ()
    return tuple(board for name, body in piece if (board := _board(name, body, draft)))


def _board(name: Text, body: Piece, draft: _Draft) -> AddedBoard | None:
    if not isinstance(body, Table):
        draft.notes.complain(
            name.spot, f"the board {name.value!r} is empty", "write `fitted:` and `parts:` under it, indented"
        )
        return None
    _refuse_unknown_keys(body, BOARD_KEYS, "an added board", draft.notes)
    fitted = _text(body, "fitted", draft.notes)
    if fitted.value not in FITTED:
        draft.notes.complain(
            fitted.spot,
            f"{fitted.value!r} does not say whether {name.value!r} is fitted",
            "write `fitted: yes`, `fitted: no` or `fitted: unknown`",
        )
    group = Group("", draft.known.marks, "added", name.value)
    entries = entries_of(body.get("parts") or Text("", body.spot), group, draft.notes)
    if not entries:
        draft.notes.complain(name.spot, f"the board {name.value!r} has no parts", "write its part lines under `parts:`")
    draft.entries += entries
    return AddedBoard(name.value, fitted.value, ())


def _lift(boards: Piece | None, known: Known, notes: Notes) -> None:
    """Pins that an added board lifts stand off their nets from here on, on nets of their own."""
    for name, body in boards if isinstance(boards, Table) else ():
        lifted = body.get("lifted") if isinstance(body, Table) else None
        fitted = _text(body, "fitted", notes).value if isinstance(body, Table) else ""
        if lifted is None or fitted == "no":
            continue
        if fitted == "unknown":
            notes.complain(
                lifted.spot,
                f"nobody knows whether {name.value!r} is fitted, so nothing is known to be lifted",
                "write `fitted: yes` or leave `lifted:` out",
            )
            continue
        for text in facts.texts_in(lifted, notes):
            with notes.refusing(text.inside):
                for place in known.places(text.value):
                    _lift_pin(place, known)


def _lift_pin(place: str, known: Known) -> None:
    """One pin off its net; Refused for a place that is no pin."""
    name, dot, pin = place.rpartition(".")
    if not dot or name not in known.parts:
        raise Refused(f"{place!r} is a net, and a pin is lifted", "write a pin, like U3.out")
    part = known.parts[name]
    units = [name] if pin not in KINDS[part.kind].units_share else known.cases.get(part.package, [name])
    for one in units:
        pins = known.parts[one].pins
        known.parts[one] = replace(known.parts[one], pins={**pins, pin: f"nc:{name}.{pin}"})


def _parts_of(board: str, known: Known) -> tuple[str, ...]:
    return tuple(part.name for part in known.parts.values() if part.board == board)


def _ports(table: Table, known: Known, notes: Notes) -> None:
    """`gives:` and `takes:` are statements that are verified, nothing more."""
    nets: dict[str, set[str]] = {}
    for part in known.parts.values():
        for net in part.pins.values():
            nets.setdefault(net, set()).add(part.section)
    for name, body in _section_tables(table, Notes("")):
        for key in ("gives", "takes"):
            for net, spot in names_in(body.get(key), known.marks, notes):
                here = nets.get(net, set())
                if name.value not in here:
                    notes.complain(
                        spot,
                        f"no part of {name.value!r} is on {net}",
                        nearest(net, [n for n, on in nets.items() if name.value in on]),
                    )
                elif here == {name.value}:
                    notes.complain(
                        spot,
                        f"{net} does not leave {name.value!r}",
                        f"leave `{key}: {net}` out, or use {net} in another section",
                    )


def _works(piece: Piece | None, known: Known, notes: Notes) -> tuple[Works, ...]:
    """Every function, on every channel."""
    if piece is None:
        return ()
    if not isinstance(piece, Table):
        notes.complain(
            piece.spot, "`works:` holds names with sentences", "write `lamp: LAMP dc at full above 8V` under it"
        )
        return ()
    planned = _planned_works(piece, known, notes)
    found: list[Works] = []
    for mark, name, sentence, text, spot in planned:
        spoken = {typed: own for typed, own in _spoken_names(piece, planned, mark).items()}
        with notes.refusing(text.inside):
            if any(one.name == name for one in found):
                raise Refused(f"two functions are called {name!r}", "rename one of the two")
            found.append(read_works(name, sentence, known, spot, mark, spoken))
    _refuse_circles(found, notes)
    return tuple(found)


_Plan = tuple[str, str, str, Text, Spot]  # mark, name, sentence, text in the file, spot of the name


def _planned_works(piece: Table, known: Known, notes: Notes) -> list[_Plan]:
    planned: list[_Plan] = []
    for name, sentence in piece:
        if not isinstance(sentence, Text) or not sentence.value:
            notes.complain(sentence.spot, f"{name.value!r} needs a sentence", "write `PLACE dc at STIMULUS below 2V`")
            continue
        with notes.refusing(sentence.inside):
            for mark, (own, said) in known.channels_of(name.value, sentence.value):
                alone = mark and own == name.value
                planned.append((mark, f"{own} ({known.marks[mark]})" if alone else own, said, sentence, name.spot))
    return planned


def _spoken_names(piece: Table, planned: list[_Plan], mark: str) -> Mapping[str, str]:
    """Names a condition may use: as typed for functions of the same channel, and all in full."""
    typed = {key.spot: key.value for key, _ in piece}
    own = {typed[spot]: name for on, name, _, _, spot in planned if on in (mark, "")}
    return {**own, **{name: name for _, name, _, _, _ in planned}}


def _refuse_circles(works: list[Works], notes: Notes) -> None:
    """Two functions cannot each wait for the other."""
    waits = {one.name: one.only_if for one in works}
    for one in works:
        at, steps = one.only_if, 0
        while at and at != one.name and steps <= len(works):
            at, steps = waits.get(at, ""), steps + 1
        if at == one.name:
            notes.complain(one.spot, f"{one.name!r} can be judged only after itself", "break the circle of `only if`")
