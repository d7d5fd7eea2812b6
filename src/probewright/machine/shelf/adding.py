"""Lines added to a machine file as a person typed it: order, comments and indentation stay."""

from __future__ import annotations

import re
from collections.abc import Sequence

from probewright.errors import BadInput, Complaint
from probewright.machine.saying import Notes
from probewright.machine.yaml_text import Piece, Table, Text, parse

INDENT = "  "
COMMENT = re.compile(r"(?:^|(?<=\s))#.*$", re.MULTILINE)


def add_section(text: str, name: str, lines: Sequence[str]) -> str:
    """The text with one more section; lines are indented below its name."""
    return _insert(text, "sections", [f"{name}:", *(INDENT + line for line in lines)], ())


def add_board(text: str, lines: Sequence[str]) -> str:
    """The text with one more added board; the first line is its name."""
    return _insert(text, "added boards", lines, ())


def add(text: str, key: str, entries: Sequence[tuple[str, str]], listed: bool) -> str:
    """The text with entries (name, what stands behind it) under a key; listed: entries without names."""
    if not entries:
        return text
    if listed:
        items = [said for _, said in entries]
        return _insert(text, key, [f"- {one}" for one in items], items)
    pairs = [f"{name}: {said}" for name, said in entries]
    return _insert(text, key, pairs, pairs)


def _insert(text: str, key: str, block: Sequence[str], flow: Sequence[str]) -> str:
    """Lines under a key, in the way the key is written. flow: the same in one line; empty where that will not do."""
    text = text.removeprefix("\ufeff")
    end = "\r\n" if "\r\n" in text else "\n"
    table = parse(text, Notes(""))
    _refuse_braces(table)
    found = next(((name, piece) for name, piece in table if name.value == key), None)
    if found is None:
        text = text if text.endswith("\n") else text + end
        return text + f"{key}:{end}" + "".join(f"{INDENT}{line}{end}" for line in block)
    name, piece = found
    start = text.index(":", name.end) + 1
    stop = _block_end(text, start)
    opened = COMMENT.sub("", text[start:stop]).lstrip()
    if isinstance(piece, Text) and piece.value:
        return text[: piece.start] + "[" + ", ".join((text[piece.start : piece.end], *flow)) + "]" + text[piece.end :]
    if opened[:1] in ("[", "{"):
        return _into_brackets(text, name, piece, stop, flow)
    indent = _indent(text[start:stop])
    before = text[:stop] if text[:stop].endswith("\n") else text[:stop] + end
    return before + "".join(f"{indent}{line}{end}" for line in block) + text[stop:]


def _refuse_braces(table: Table) -> None:
    """A file in one pair of braces has no lines to add to."""
    if any(name.spot.column != 1 for name, _ in table):
        spot = table.spot
        mend = "write every key on a line of its own, then put the stage in"
        raise BadInput(Complaint("", spot.line, spot.column, "the machine file stands in braces or is indented", mend))


def _block_end(text: str, start: int) -> int:
    """Where what belongs to a key ends: before the next line that begins at the margin."""
    end = at = len(text) if "\n" not in text[start:] else text.index("\n", start) + 1
    while at < len(text):
        stop = text.find("\n", at) + 1 or len(text)
        line = text[at:stop]
        if line.strip() and not line.startswith((" ", "#", "- ", "]", "}")):
            break
        at = stop
        if line.strip() and not line.startswith("#"):
            end = at
    return end


def _indent(region: str) -> str:
    """Indentation of the first line below a key."""
    lines = [line for line in region.split("\n")[1:] if line.strip() and not line.lstrip().startswith("#")]
    return lines[0][: len(lines[0]) - len(lines[0].lstrip())] if lines else INDENT


def _into_brackets(text: str, name: Text, piece: Piece, stop: int, flow: Sequence[str]) -> str:
    """Entries before the closing bracket of `[A, B]` or `{A: B}`."""
    if not flow:
        mend = f"write `{name.value}:` with one name a line below it, then put the stage in"
        raise BadInput(Complaint("", name.spot.line, name.spot.column, f"{name.value!r} stands in braces", mend))
    region = COMMENT.sub(lambda found: " " * len(found[0]), text[name.end : stop])
    at = name.end + max(region.rfind("]"), region.rfind("}"))
    empty = not (piece.entries if isinstance(piece, Table) else getattr(piece, "items", ()))
    return text[:at].rstrip() + ("" if empty else ", ") + ", ".join(flow) + text[at:]
