"""What a file is by its first bytes, whatever its name says; and the sentence for what is not taken."""

from __future__ import annotations

from probewright.errors import complaint

# First bytes, with "?" for any byte -> what Pillow calls it.
TAKEN = (
    (b"\xff\xd8\xff", "JPEG"), (b"\x89PNG\r\n\x1a\n", "PNG"), (b"RIFF????WEBP", "WEBP"), (b"GIF87a", "GIF"),
    (b"GIF89a", "GIF"), (b"II*\0", "TIFF"), (b"MM\0*", "TIFF"), (b"BM", "BMP"),
)  # fmt: skip

AS_PICTURE = "save the sheet as a picture (PNG or JPEG)"
AS_JPEG = "save it as JPEG or PNG"

# First bytes, with "?" for any byte -> what it is, what to do instead. The first that fits wins.
NOT_TAKEN = (
    (b"%PDF", "a PDF", AS_PICTURE), (b"%!", "PostScript", AS_PICTURE), (b"{\\rtf", "a text document", AS_PICTURE),
    (b"AT&TFORM", "DjVu", AS_PICTURE),
    (b"????ftypavi", "AVIF", AS_JPEG), (b"????ftypqt", "a film", "take a still picture of it (JPEG)"),
    (b"????ftyphei", "HEIC", "let the phone send JPEG"), (b"????ftyphev", "HEIC", "let the phone send JPEG"),
    (b"????ftypmif1", "HEIC", "let the phone send JPEG"), (b"????ftypmsf1", "HEIC", "let the phone send JPEG"),
    (b"????ftyp", "a film", "take a still picture of it (JPEG)"),
    (b"\x1a\x45\xdf\xa3", "a film", "take a still picture of it (JPEG)"),
    (b"RIFF????AVI", "a film", "take a still picture of it (JPEG)"),
    (b"\xff\x0a", "JPEG XL", AS_JPEG), (b"\0\0\0\x0cJXL ", "JPEG XL", AS_JPEG),
    (b"\0\0\0\x0cjP", "JPEG 2000", AS_JPEG), (b"8BPS", "a file of a picture editor", AS_JPEG),
    (b"gimp xcf", "a file of a picture editor", AS_JPEG), (b"\0\0\x01\0", "an icon", AS_JPEG),
    (b"PK\x03\x04", "a ZIP or an office document", "unpack it, and send the pictures one by one"),
    (b"\x1f\x8b", "a packed file", "unpack it, and send the pictures one by one"),
)  # fmt: skip


def sort_of(data: bytes) -> str:
    """What this picture is, in Pillow's word. BadInput with what it is instead, and what to do."""
    if not data:
        raise complaint("this file is empty", "send the picture again")
    for start, sort in TAKEN:
        if _begins(data, start):
            return sort
    for start, what, mend in NOT_TAKEN:
        if _begins(data, start):
            raise complaint(f"this is {what}", mend)
    head = data[:4096].removeprefix(b"\xef\xbb\xbf").replace(b"\0", b"").lstrip(b"\xff\xfe \t\r\n").lower()
    if head.startswith(b"<"):
        drawn = b"<svg" in head
        raise complaint("this is an SVG drawing" if drawn else "this is a web page", AS_PICTURE)
    raise complaint("this is not a picture that can be kept", AS_JPEG)


def _begins(data: bytes, start: bytes) -> bool:
    return len(data) >= len(start) and all(wanted in (ord("?"), b) for wanted, b in zip(start, data, strict=False))
