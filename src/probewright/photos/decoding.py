"""Files taken apart into dots, with everything that can be wrong with them said in one sentence."""

from __future__ import annotations

import struct
import threading
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING

from probewright.errors import BadInput, complaint

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFile import ImageFile

MEGAPIXELS = 120  # chosen: the finest setting that is usual in phones has 108; 0.5 GB while it is taken apart
LONGEST = 20_000  # dots, chosen: an A3 sheet at 1200 dots per inch
TURNS = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}  # EXIF's way of standing -> number of Pillow's Transpose
ORIENTATION = 0x0112  # EXIF's number for how the picture stands

# What Pillow raises over broken files, besides the bomb. Half a million broken ones gave OSError, SyntaxError,
# ValueError and IndexError; the others are what `Image.open` itself looks for, or come from sums on a header.
PILLOW_SAYS = (
    OSError, SyntaxError, ValueError, LookupError, TypeError, EOFError, struct.error, zlib.error,
    ArithmeticError, MemoryError,
)  # fmt: skip

# One picture at a time: two large ones from a phone would need the memory twice. It also keeps `warnings`
# together, which knows no threads.
one_at_a_time = threading.RLock()


@contextmanager
def guarded() -> Iterator[None]:
    """What Pillow makes of a broken file becomes one sentence. Only calls to Pillow belong inside."""
    try:
        from PIL.Image import DecompressionBombError
    except ImportError as missing:
        raise complaint(
            "this install cannot open photographs", "add what is needed: pip install 'probewright[pictures]'"
        ) from missing

    with one_at_a_time, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of what it could put right by itself the person need not hear
        try:
            yield
        except DecompressionBombError as problem:
            raise too_large() from problem
        except PILLOW_SAYS as problem:
            raise _damaged() from problem


def opened(data: bytes, sort: str, largest: int = 0) -> ImageFile:
    """The first picture in the file with all its dots. BadInput when it is damaged or too large.

    sort: as `sort_of` says; largest: longest side that is needed, so that less need be taken apart.
    """
    with guarded():
        found = _header(data, sort)
    width, height = found.size
    if width > LONGEST or height > LONGEST or width * height > MEGAPIXELS * 1_000_000:
        raise too_large()
    if sort == "PNG":  # the one kind that carries sums to check it by
        with guarded():
            found.verify()
            found = _header(data, sort)
    with guarded():
        if largest:
            found.draft(None, scaled(found.size, largest))
        found.load()
    return found


def _header(data: bytes, sort: str) -> ImageFile:
    """The picture with its header read, no dots yet. `Image.open` would look for further kinds and warn."""
    from PIL import BmpImagePlugin, GifImagePlugin, JpegImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin

    kinds: dict[str, type[ImageFile]] = {
        "JPEG": JpegImagePlugin.JpegImageFile, "PNG": PngImagePlugin.PngImageFile,
        "WEBP": WebPImagePlugin.WebPImageFile, "GIF": GifImagePlugin.GifImageFile,
        "TIFF": TiffImagePlugin.TiffImageFile, "BMP": BmpImagePlugin.BmpImageFile,
    }  # fmt: skip
    return kinds[sort](BytesIO(data), "")


def turn_of(found: Image) -> int | None:
    """How the picture must be turned to stand as it was taken; None when it stands, or nobody can say.

    Pillow's number of the turn. Notes beside a picture that cannot be read are no reason to refuse it.
    """
    try:
        with guarded():
            return TURNS.get(found.getexif().get(ORIENTATION, 1))
    except BadInput:
        return None


def turned(picture: Image, turn: int | None) -> Image:
    """The picture turned so that it stands."""
    from PIL.Image import Transpose

    return picture if turn is None else picture.transpose(Transpose(turn))


def scaled(size: tuple[int, int], longest: int) -> tuple[int, int]:
    """Width and height brought down to this longest side; what is smaller stays."""
    share = min(1.0, longest / max(size))
    return max(1, round(size[0] * share)), max(1, round(size[1] * share))


def too_large() -> BadInput:
    """The complaint about a picture with too many dots."""
    return complaint(
        f"this picture has more than {MEGAPIXELS} megapixels or a side above {LONGEST} dots",
        "save it smaller, 3000 dots on the longest side are enough",
    )


def _damaged() -> BadInput:
    return complaint("this picture is damaged or cut short", "send it again, or take it anew")
