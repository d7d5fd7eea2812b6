"""A picture as it came made into one that can be kept: checked, upright, of a sensible size, bare of all notes."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING

from probewright.errors import complaint
from probewright.photos.decoding import guarded, one_at_a_time, opened, scaled, turn_of, turned
from probewright.photos.sorts import AS_JPEG, sort_of

if TYPE_CHECKING:
    from PIL.Image import Image

MEGABYTES = 25  # chosen: what a good phone sends has 3 to 12
MOST_BYTES = MEGABYTES * 1024 * 1024
PHOTO_SIDE = 3000  # dots, chosen: a board 300 mm long at 10 dots per mm, so that the print on a small part is read
SHEET_SIDE = 5000  # dots, chosen: an A3 sheet at 300 dots per inch, where the smallest figure is still read
QUALITY = 85  # chosen: the usual setting at which nobody sees what was left out
FEW_COLOURS = 64  # chosen: line art and the screen of a meter have fewer, a photograph has thousands
DRAWN = "PNG", "GIF", "BMP", "TIFF"  # kinds that keep a line sharp, and in which sheets are saved


@dataclass(frozen=True)
class Photo:
    """A picture that can be kept. data: as written anew; suffix: ".jpg" or ".png"; sha256: of data, 64 hex digits."""

    data: bytes = field(repr=False)
    suffix: str
    sha256: str
    width: int
    height: int

    @property
    def name(self) -> str:
        """What its file is called."""
        return self.sha256 + self.suffix


def accept(data: bytes, *, sheet: bool = False) -> Photo:
    """The picture to keep of what came in. BadInput, one sentence, for everything that is not a whole picture.

    It stands upright, has no transparent places, and holds dots alone. A photograph is brought down to
    PHOTO_SIDE, a sheet to SHEET_SIDE on the longest side.
    """
    if len(data) > MOST_BYTES:
        raise complaint(f"this file is larger than {MEGABYTES} MB", "let the phone send a smaller picture, or save one")
    sort = sort_of(data)
    with one_at_a_time:
        return _made(data, sort, SHEET_SIDE if sheet else PHOTO_SIDE)


def _made(data: bytes, sort: str, side: int) -> Photo:
    found = opened(data, sort, side)
    turn = turn_of(found)
    with guarded():
        shades = in_shades(found)
    if shades is None:
        raise complaint(f"the dots of this picture are kept in an unusual way ({found.mode})", AS_JPEG)
    drawn = sort in DRAWN or shades.getcolors(FEW_COLOURS) is not None
    small = shades.resize(scaled(shades.size, side)) if max(shades.size) > side else shades
    bare = on_white(in_srgb(small, found.info.get("icc_profile")))
    return written(turned(bare, turn), drawn)


def in_shades(found: Image) -> Image | None:
    """The picture as grey, red-green-blue (both with or without what shows through) or printing inks, 8 bits each.

    None for a picture of which nobody can say what its figures would look like.
    """
    see_through = "transparency" in found.info
    if found.mode.startswith("I;16"):
        return found.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    if found.mode in ("1", "L", "RGB", "P"):
        mode = "RGBA" if see_through else "L" if found.mode in ("1", "L") else "RGB"
    elif found.mode in ("LA", "PA", "RGBA", "RGBa"):
        mode = "RGBA"
    elif found.mode in ("RGBX", "YCbCr"):
        mode = "RGB"
    else:
        return found if found.mode == "CMYK" else None
    return found if found.mode == mode else found.convert(mode)  # no second copy of 100 megapixels


def in_srgb(picture: Image, profile: object) -> Image:
    """The picture in the colours every screen takes for granted; a profile that is broken is passed over."""
    from PIL import ImageCms, features

    if isinstance(profile, bytes) and profile and picture.mode != "L" and features.check("littlecms2"):
        try:
            made = ImageCms.profileToProfile(
                picture,
                ImageCms.ImageCmsProfile(BytesIO(profile)),
                ImageCms.createProfile("sRGB"),
                outputMode="RGBA" if picture.mode == "RGBA" else "RGB",
            )
            return picture if made is None else made
        except (ImageCms.PyCMSError, OSError):
            pass
    return picture.convert("RGB") if picture.mode == "CMYK" else picture


def on_white(picture: Image) -> Image:
    """The dots alone on a white ground, in a picture that never held anything else."""
    from PIL import Image

    bare = Image.new("L" if picture.mode == "L" else "RGB", picture.size, "white")
    bare.paste(picture, mask=picture.getchannel("A") if picture.mode == "RGBA" else None)
    return bare


def written(bare: Image, drawn: bool = False) -> Photo:
    """The picture as a file: JPEG, or PNG where it is drawn and PNG is smaller."""
    data, suffix = _saved(bare, "JPEG"), ".jpg"
    if drawn and len(png := _saved(bare, "PNG")) < len(data):
        data, suffix = png, ".png"
    return Photo(data, suffix, hashlib.sha256(data).hexdigest(), bare.width, bare.height)


def _saved(bare: Image, sort: str) -> bytes:
    out = BytesIO()
    bare.save(out, sort, quality=QUALITY)  # PNG has no quality and passes over it
    return out.getvalue()
