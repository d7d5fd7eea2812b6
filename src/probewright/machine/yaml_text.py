"""YAML as a person typed it: every word stays text, every piece knows its line and column.

No types are resolved, no anchors, tags or merges are followed, and what YAML itself cannot read is
said in our words.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode
from ruamel.yaml.resolver import VersionedResolver

from probewright.machine.kinds import KINDS
from probewright.machine.model import Spot
from probewright.machine.saying import Notes

TEXT_TAG = "tag:yaml.org,2002:str"
DEEPEST = 12  # chosen: twice the depth of the deepest key of a machine file
MOST_OPEN = 100  # chosen: brackets open at once that still get an answer in no time


@dataclass(frozen=True)
class Text:
    """A word or line as typed. start, end: where it stands in the whole file, quotes included."""

    value: str
    spot: Spot
    start: int = 0
    end: int = 0
    quoted: bool = False

    @property
    def inside(self) -> Spot:
        """Where the first letter of the value stands."""
        return Spot(self.spot.line, self.spot.column + 1) if self.quoted else self.spot


@dataclass(frozen=True)
class Listing:
    """Items in the order of the file."""

    items: tuple[Piece, ...]
    spot: Spot


@dataclass(frozen=True)
class Table:
    """Keys with what stands behind them, in the order of the file."""

    entries: tuple[tuple[Text, Piece], ...]
    spot: Spot

    def __iter__(self) -> Iterator[tuple[Text, Piece]]:
        return iter(self.entries)

    def get(self, key: str) -> Piece | None:
        """What stands behind a key; None when it is not there."""
        return next((piece for name, piece in self.entries if name.value == key), None)

    def spot_of(self, key: str) -> Spot:
        """Where the key stands; the table itself when it is not there."""
        return next((name.spot for name, _ in self.entries if name.value == key), self.spot)


Piece = Text | Listing | Table


class _EveryWordIsText(VersionedResolver):
    """Plain words stay text: `no`, `1.10`, `12:30` and `1e3` mean what our parser says."""

    def resolve(self, kind: Any, value: Any, implicit: Any) -> Any:
        """Text for every scalar, the usual tags for tables and lists."""
        if kind is ScalarNode:
            return _TEXT
        return super().resolve(kind, value, implicit)


_TEXT: Any = ScalarNode(TEXT_TAG, "").ctag


def decode(data: bytes, notes: Notes) -> str:
    """The text of a file; complains about the first byte that is no UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        before = data[: problem.start].decode("utf-8", "replace")
        notes.complain(
            _spot_after(before),
            f"byte 0x{data[problem.start]:02x} is not text",
            "save the file as UTF-8 text, without binary characters",
        )
        notes.stop_if_any()
        raise AssertionError("a complaint always stops") from problem


def parse(
    text: str, notes: Notes, what: str = "machine file", begin: str = "`machine: ` and the name of the machine"
) -> Table:
    """The file as a table of pieces; every complaint goes to notes and stops it. what: the file should be, and how
    one begins."""
    text = text.removeprefix("\ufeff")
    _look_for_unreadable_characters(text, notes)
    _look_for_heaps_of_brackets(text, notes)
    _look_for_missing_blanks(text, notes)
    notes.stop_if_any()
    root = _compose(text, notes)
    notes.stop_if_any()
    if not isinstance(root, MappingNode):
        notes.complain(Spot(1, 1), f"this is not a {what}", f"begin with {begin}")
    notes.stop_if_any()
    table = _piece(root, notes, 0)
    notes.stop_if_any()
    assert isinstance(table, Table)
    return table


def _spot_after(before: str) -> Spot:
    lines = before.split("\n")
    return Spot(len(lines), len(lines[-1]) + 1)


def _look_for_unreadable_characters(text: str, notes: Notes) -> None:
    """Control characters, lone surrogates, and tabs that stand for indentation."""
    for number, line in enumerate(text.split("\n"), 1):
        line = line.removesuffix("\r")
        strange = re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]", line)
        if strange:
            notes.complain(
                Spot(number, strange.start() + 1),
                f"character U+{ord(strange[0]):04X} is not text",
                "delete it, and save the file as UTF-8 text",
            )
        tab = re.match(r" *\t", line)
        if tab and line.strip():
            notes.complain(
                Spot(number, tab.end()),
                "a tab stands where the line is indented",
                "indent with blanks: two for each level",
            )


def _look_for_heaps_of_brackets(text: str, notes: Notes) -> None:
    """Thousands of open brackets would keep the YAML reader busy for long before it gives up."""
    opened = 0
    for found in re.finditer(r"[\[\]{}]", text):
        opened = opened + 1 if found[0] in "[{" else max(0, opened - 1)
        if opened > MOST_OPEN:
            spot = _spot_after(text[: found.start()])
            notes.complain(spot, "brackets are nested far too deeply", "close each [ and { on its own line")
            return


def _look_for_missing_blanks(text: str, notes: Notes) -> None:
    """`R1:resistor` is one word to YAML and would swallow the next line."""
    kinds = "|".join(re.escape(name) for name in sorted((*KINDS, "of", "connector"), key=len, reverse=True))
    for number, line in enumerate(text.split("\n"), 1):
        found = re.match(rf"(\s*)([^\s:#'\"{{\[]+):((?:{kinds})\s.*)", line)
        if found:
            notes.complain(
                Spot(number, found.end(2) + 1),
                f"no blank after the colon of {found[2]!r}",
                f"write `{found[2]}: {found[3].strip()}`",
            )


def _compose(text: str, notes: Notes) -> Node | None:
    """The node tree of the YAML reader; its refusals in our words.

    The reader's own errors are not all of one family (an over-long escape is an OverflowError),
    hence the wide except: this is the door to code that is not ours.
    """
    reader = YAML(typ="rt", pure=True)
    reader.Resolver = _EveryWordIsText
    reader.composer.warn_double_anchors = False  # anchors are refused below, in our words
    try:
        node: Node | None = reader.compose(text)
        return node
    except MarkedYAMLError as problem:
        opened = "quoted scalar" in (problem.context or "")  # the quote is the culprit, not the end of the file
        mark = problem.context_mark if opened else problem.problem_mark or problem.context_mark
        spot = Spot(mark.line + 1, mark.column + 1) if mark else Spot(1, 1)
        says, mend = _in_our_words(problem, text, spot)
        notes.complain(_into_the_text(spot, text), says, mend)
    except RecursionError:
        notes.complain(Spot(1, 1), "brackets are nested far too deeply", "close each [ and { on its own line")
    except (YAMLError, ValueError, ArithmeticError, LookupError, TypeError, AttributeError, AssertionError) as problem:
        notes.complain(
            Spot(1, 1),
            f"the file cannot be read as YAML ({type(problem).__name__})",
            "write plain words without escapes, one `NAME: value` a line",
        )
    return None


def _into_the_text(spot: Spot, text: str) -> Spot:
    """A spot past the end is moved to the last line that says something."""
    lines = text.split("\n")
    line = min(spot.line, len(lines))
    while line > 1 and not lines[line - 1].strip():
        line -= 1
    return spot if line == spot.line else Spot(line, len(lines[line - 1].rstrip()) + 1)


_SAYINGS: tuple[tuple[str, str, str], ...] = (
    (r"found character '@'", "a word may not begin with @ here", "write the copper of a net as BASE@ or plain BASE"),
    (r"found character '\\t'", "a tab stands where the line is indented", "indent with blanks: two for each level"),
    (r"found character '(.)'", "a word may not begin with {0} here", "put the text in quotes, or begin with a letter"),
    (
        r"undefined alias|scanning an alias",
        "a text may not begin with *",
        "put the * later in the name (IN*, not *IN), or put the text in quotes",
    ),
    (
        r"scanning an anchor|duplicate anchor",
        "a text may not begin with &",
        "leave the & out, or put the text in quotes",
    ),
    (
        r"mapping values are not allowed",
        "a second colon, or a line that does not belong to the one above",
        "one `NAME: value` a line, a blank after each colon, no `: ` inside a text (use = or quotes)",
    ),
    (r"found '\?'|mapping keys are not allowed", "a bare ? cannot be read here", "write unknown"),
    (
        r"expected <block end>",
        "this line does not fit the indentation of the lines above",
        "give lines that belong together the same number of blanks in front",
    ),
    (
        r"expected ',' or '([\]}])'",
        "a bracket is not closed, or a comma is missing, before here",
        "close it with {0}, and put a comma between entries",
    ),
    (r"found unexpected end of stream", "a quote is opened and never closed", "close the quote, or leave it out"),
    (r"could not find expected ':'", "a line without `NAME: `", "write `NAME: kind value  A > B`"),
    (
        r"found another document|directive|document start",
        "this is where the machine file should have ended",
        "one machine a file; leave out ---, % at the start of a line, and stray brackets",
    ),
    (r"found unknown escape|escape", "a backslash in double quotes", "use single quotes or none"),
    (r"block scalar", "a text may not begin with > or | here", "write the net first: `A > B`"),
)


def _in_our_words(problem: MarkedYAMLError, text: str, spot: Spot) -> tuple[str, str]:
    """What is wrong and what to write instead."""
    said = f"{problem.problem or ''} {problem.context or ''}"
    for pattern, says, mend in _SAYINGS:
        found = re.search(pattern, said)
        if found:
            return says.format(*found.groups()), mend.format(*found.groups())
    return "this line cannot be read", "write `NAME: value`, indented with blanks like its neighbours"


def _piece(node: Any, notes: Notes, depth: int) -> Piece:
    """A node of the YAML reader as one of our pieces."""
    spot = Spot(node.start_mark.line + 1, node.start_mark.column + 1)
    if depth > DEEPEST:
        notes.complain(spot, "nested too deeply", "a machine file needs at most six levels")
        return Text("", spot)
    if node.anchor is not None:
        # not looked into: a few anchors that name each other stand for billions of words
        notes.complain(spot, f"an anchor (&{node.anchor}) is not used in machine files", "write the text out each time")
        return Text("", spot)
    if isinstance(node, ScalarNode):
        if node.style in ("|", ">"):
            notes.complain(spot, f"a text set off by {node.style} is not used in machine files", "write it in one line")
        if node.ctag != _TEXT:
            notes.complain(spot, f"{node.tag!s} looks like a YAML tag", "put the text in quotes, or leave the ! out")
        return Text(str(node.value).strip(), spot, node.start_mark.index, node.end_mark.index, bool(node.style))
    if isinstance(node, MappingNode):
        return _table(node, spot, notes, depth)
    return Listing(tuple(_piece(item, notes, depth + 1) for item in node.value), spot)


def _table(node: Any, spot: Spot, notes: Notes, depth: int) -> Table:
    """A table; a key typed twice is a complaint that names both lines."""
    entries: list[tuple[Text, Piece]] = []
    seen: dict[str, Spot] = {}
    for key_node, value_node in node.value:
        key = _piece(key_node, notes, depth + 1)
        value = _piece(value_node, notes, depth + 1)
        if not isinstance(key, Text) or not key.value:
            notes.complain(key.spot, "a name is missing before the colon", "write `NAME: value`")
            continue
        if node.flow_style and isinstance(value, Text) and not value.value and entries:
            _split_comma(key, entries[-1], notes)
        if key.value in seen:
            notes.complain(
                key.spot,
                f"{key.value!r} is typed twice, in lines {seen[key.value].line} and {key.spot.line}",
                "keep one of the two",
            )
            continue
        seen[key.value] = key.spot
        entries.append((key, value))
    return Table(tuple(entries), spot)


def _split_comma(key: Text, before: tuple[Text, Piece], notes: Notes) -> None:
    """`{SUP: 3,3V}` was split by YAML into 3 and 3V."""
    left = before[1]
    if isinstance(left, Text) and re.search(r"\d$", left.value) and key.value[:1].isdigit():
        last, first = left.value.split()[-1], key.value.split()[0]
        notes.complain(
            key.spot,
            f"inside braces the comma of {last},{first!s} splits it in two",
            f"write {last}.{first}, or put the text in quotes",
        )
