"""The canonical form of a machine file: part lines rewritten, everything else left as typed.

Comments, order and indentation stay, because only the texts of part lines are exchanged in place.
"""

from __future__ import annotations

from collections.abc import Iterator

from probewright.machine.loading import read
from probewright.machine.part_lines import canonical_line, read_part_line
from probewright.machine.part_tables import case_kind
from probewright.machine.saying import Notes
from probewright.machine.yaml_text import Piece, Table, Text, parse


def write(text: str, file_name: str = "") -> str:
    """The same machine in canonical form; raises BadInput when the text is no machine file.

    Reading the result gives an equal machine, and writing it again changes nothing.
    """
    text = text.removeprefix("\ufeff")
    machine = read(text, file_name)  # complains where it must
    table = parse(text, Notes(file_name))
    lines = list(_part_lines(table))
    kind_of = {name.value: kind for name, line in lines if (kind := case_kind(line.value))}
    kind_of |= {part.package: part.kind for part in machine.parts.values() if part.package}
    for _, line in sorted(lines, key=lambda one: one[1].start, reverse=True):
        canonical = _quoted(canonical_line(read_part_line(line.value, kind_of)), line)
        text = text[: line.start] + canonical + text[line.end :]
    return text


def _part_lines(table: Table) -> Iterator[tuple[Text, Text]]:
    """Name and line of every part, wherever part lines stand."""
    sections, boards = table.get("sections"), table.get("added boards")
    for body in (table, *_tables(sections), *_tables(boards)):
        for key in ("parts", "extras"):
            for name, line in _entries(body.get(key)):
                if isinstance(line, Text):
                    yield name, line


def _tables(piece: Piece | None) -> list[Table]:
    return [body for _, body in _entries(piece) if isinstance(body, Table)]


def _entries(piece: Piece | None) -> tuple[tuple[Text, Piece], ...]:
    return piece.entries if isinstance(piece, Table) else ()


def _quoted(canonical: str, line: Text) -> str:
    """In the quotes it was typed in: braces and commas may need them."""
    return "'" + canonical.replace("'", "''") + "'" if line.quoted else canonical
