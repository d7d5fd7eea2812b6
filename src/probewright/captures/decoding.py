"""The bytes of a file made text, or the sentence for what is no text."""

from __future__ import annotations

import codecs

from probewright.errors import BadInput, Complaint

AS_TEXT = "save the waveform as text (CSV), with its times and volts in columns"
MARKS = (
    (codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF32_LE, "utf-32-le"), (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"),
)  # fmt: skip
# First bytes -> what it is.
NOT_TEXT = (
    (b"\x89PNG", "a picture"), (b"\xff\xd8\xff", "a picture"), (b"GIF8", "a picture"), (b"II*\0", "a picture"),
    (b"MM\0*", "a picture"), (b"%PDF", "a PDF"), (b"PK\x03\x04", "a ZIP or a file of a spreadsheet program"),
    (b"\x1f\x8b", "a packed file"), (b"\xd0\xcf\x11\xe0", "a file of a spreadsheet program"),
)  # fmt: skip
LOOKED_AT = 4096  # bytes, chosen: enough to see whether every second one is nought


def refused(text: str, mend: str, file: str = "", line: int = 1, column: int = 1) -> BadInput:
    """A complaint about a waveform, ready to raise."""
    return BadInput(Complaint(file, line, column, text, mend))


def decoded(data: bytes, file: str = "") -> str:
    """The text of a file, with line ends made one. BadInput for what is no text."""
    if not data.strip(b" \t\r\n\0"):
        raise refused("this file is empty", "save the waveform once more", file)
    for start, what in NOT_TEXT:
        if data.startswith(start):
            raise refused(f"this is {what}, not a waveform", AS_TEXT, file)
    mark, coding = next(((mark, coding) for mark, coding in MARKS if data.startswith(mark)), (b"", _coding(data)))
    try:
        text = data[len(mark) :].decode(coding)
    except UnicodeDecodeError as problem:
        if mark:
            raise refused(f"this is not the {coding.upper()} text that it says it is", AS_TEXT, file) from problem
        text = data.decode("latin-1")  # an older program's letters; only its micro sign matters here
    if any(sign in text for sign in map(chr, (*range(9), *range(14, 32)))):
        raise refused("this is not text: a program's own format, or a damaged file", AS_TEXT, file)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _coding(data: bytes) -> str:
    """UTF-16 where every second byte is nought, as in figures it is; else UTF-8."""
    head = data[:LOOKED_AT]
    even, odd = head[::2].count(0), head[1::2].count(0)
    if max(even, odd) > len(head) // 4 and min(even, odd) == 0:
        return "utf-16-le" if odd else "utf-16-be"
    return "utf-8"
