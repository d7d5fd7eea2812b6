"""Photographs and scanned sheets: what may come in, what is kept of it, and where it belongs to a job."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import resource
import struct
import subprocess
import sys
import time
import zlib
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageDraw, PngImagePlugin

from checked import checked
from probewright.errors import BadInput
from probewright.jobs import bench, picturing, standing
from probewright.jobs.case_view import CaseView, typed
from probewright.jobs.cases import Case, Intake, fold
from probewright.jobs.pictures import Picture, Spot, same_place
from probewright.jobs.view import plain
from probewright.machine import read as read_machine
from probewright.photos import Photo, PhotoShelf, accept
from probewright.photos.accepting import MOST_BYTES, PHOTO_SIDE, SHEET_SIDE
from probewright.photos.decoding import LONGEST, MEGAPIXELS
from probewright.record import Book

NOW = "2026-11-25T10:00:00+00:00"
LATER = "2026-11-25T10:05:00+00:00"
SILENT = Intake("amplifier", ticks={"sound left": "bad"}, words="left is silent", key="k")
SECRET = b"Stellingen"  # stands in every kind of note; must be nowhere in what is kept
SCRIPT = b"<script>alert('boo')</script>"
RED, GREEN, BLUE, WHITE = (220, 30, 30), (30, 200, 30), (30, 30, 220), (255, 255, 255)
BOARD = """\
machine: small stage
parts:
  SUP: source 12V 5% series 0R5  +12V > GND
  R31: resistor 10k  +12V > BASE
  R32: resistor 2k2  BASE > GND
  Q7: npn small-signal  c=COL b=BASE e=EMI
  R33: resistor 1k  +12V > COL
  R34: resistor 220R  EMI > GND
  C8: capacitor 10uF  COL > LEFT-OUT
  R35: resistor 47k  LEFT-OUT > GND
points:
  TP3: Q7.c
"""


def scene(width: int = 60, height: int = 40, mode: str = "RGB") -> Image.Image:
    """A picture that tells its corners apart: red upper left, green upper right, blue lower left, white."""
    picture = Image.new("RGB", (width, height), WHITE)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, 0, width // 2, height // 2), RED)
    pen.rectangle((width // 2, 0, width, height // 2), GREEN)
    pen.rectangle((0, height // 2, width // 2, height), BLUE)
    return picture.convert(mode)


def grain(width: int, height: int) -> Image.Image:
    """A picture with as many colours as a photograph."""
    return Image.merge("RGB", [Image.effect_noise((width, height), 60) for _ in range(3)])


def file(picture: Image.Image, sort: str = "JPEG", **how: object) -> bytes:
    out = BytesIO()
    picture.save(out, sort, **how)
    return out.getvalue()


def told() -> Image.Exif:
    """Notes as a phone writes them, with the place where the picture was taken."""
    exif = Image.Exif()
    exif[0x010E], exif[0x0110], exif[0x0112] = SECRET.decode(), SECRET.decode(), 1
    exif.get_ifd(0x8825).update({1: "N", 2: (53.0, 35.0, 12.5), 3: "E", 4: (9.0, 56.0, 30.0), 29: SECRET.decode()})
    return exif


def profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def png_notes() -> PngImagePlugin.PngInfo:
    notes = PngImagePlugin.PngInfo()
    notes.add_text("Comment", SECRET.decode())
    notes.add_text("Zipped", SECRET.decode(), zip=True)
    notes.add_itxt("XML:com.adobe.xmp", SECRET.decode())
    return notes


def looked_at(photo: Photo) -> Image.Image:
    """The kept picture as any viewer opens it."""
    return Image.open(BytesIO(photo.data))


def refusal(data: bytes) -> str:
    with pytest.raises(BadInput) as caught:
        accept(data)
    (one,) = caught.value.complaints
    assert (one.file, one.line, one.column) == ("", 1, 1)
    assert one.text and one.mend and "\n" not in str(one)
    return str(one)


# What is kept ----------------------------------------------------------------------------------

XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>" + SECRET + b"</x:xmpmeta>"
WITH_NOTES = {
    "JPEG": file(scene(), exif=told(), comment=SECRET, xmp=XMP, icc_profile=profile()),
    "PNG": file(scene(), "PNG", exif=told(), pnginfo=png_notes(), icc_profile=profile(), dpi=(300, 300)),
    "WEBP": file(scene(), "WEBP", exif=told(), xmp=XMP, icc_profile=profile()),
    "TIFF": file(scene(), "TIFF", exif=told(), icc_profile=profile(), description=SECRET.decode()),
    "GIF": file(scene(mode="P"), "GIF", comment=SECRET),
}


@pytest.mark.parametrize("sort", WITH_NOTES)
def test_nothing_but_the_dots_is_kept(sort: str):
    came = WITH_NOTES[sort]
    assert SECRET in came, "the test puts nothing in"
    photo = accept(came + SECRET + SCRIPT)
    picture = looked_at(photo)
    picture.load()
    assert dict(picture.getexif()) == {} and picture.getexif().get_ifd(0x8825) == {}
    assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for trace in (SECRET, b"Exif", b"http", b"xmp", b"ICC", b"iCCP", b"tEXt", b"zTXt", b"iTXt", b"eXIf", b"script"):
        assert trace not in photo.data


def test_what_is_kept_bears_the_digest_of_what_is_kept():
    photo = accept(file(scene(61, 40)))
    assert photo.sha256 == hashlib.sha256(photo.data).hexdigest()
    assert (photo.width, photo.height) == looked_at(photo).size == (61, 40)
    assert photo.name == photo.sha256 + photo.suffix


@pytest.mark.parametrize("sort", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("stands", range(1, 9))
def test_a_picture_stands_as_it_was_taken(sort: str, stands: int):
    """The lying picture is made from the standing one by the inverse of the turn that EXIF names."""
    back = {2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}
    upright = scene(64, 32)
    lying = upright if stands == 1 else upright.transpose(Image.Transpose(back[stands]))
    exif = Image.Exif()
    exif[0x0112] = stands
    how = {"quality": 95} if sort in ("JPEG", "WEBP") else {}
    photo = accept(file(lying, sort, exif=exif, **how))
    picture = looked_at(photo).convert("RGB")
    assert picture.size == (photo.width, photo.height) == (64, 32)
    for place, colour in (((8, 8), RED), ((56, 8), GREEN), ((8, 24), BLUE), ((56, 24), WHITE)):
        assert all(abs(a - b) < 40 for a, b in zip(picture.getpixel(place), colour, strict=True))
    assert 0x0112 not in looked_at(photo).getexif()


@pytest.mark.parametrize("notes", [b"II*\0\x08\0\0\0\xff\xff" + b"\xff" * 20, b"no notes at all", b"MM\0*\0\0"])
@pytest.mark.parametrize("sort", ["JPEG", "PNG", "WEBP"])
def test_notes_that_cannot_be_read_do_not_cost_the_picture(sort: str, notes: bytes):
    photo = accept(file(scene(), sort, exif=b"Exif\0\0" + notes))
    assert (photo.width, photo.height) == (60, 40)


def test_a_photograph_is_brought_down_and_a_sheet_less_so():
    wide, tall = file(grain(3400, 600)), file(grain(600, 5200))
    assert [(p.width, p.height) for p in (accept(wide), accept(tall))] == [(PHOTO_SIDE, 529), (346, PHOTO_SIDE)]
    sheets = [accept(wide, sheet=True), accept(tall, sheet=True)]
    assert [(p.width, p.height) for p in sheets] == [(3400, 600), (577, SHEET_SIDE)]
    assert accept(file(scene(9000, 1), "PNG")).height == 1


def test_a_sheet_stays_sharp_and_a_photograph_becomes_jpeg():
    assert accept(file(scene(400, 300), "PNG")).suffix == ".png"
    assert accept(file(scene(400, 300), "GIF")).suffix == ".png"
    assert accept(file(scene(400, 300), "WEBP", lossless=True)).suffix == ".png"  # few colours
    for sort in ("PNG", "JPEG", "WEBP", "BMP"):
        assert accept(file(grain(400, 300), sort)).suffix == ".jpg"


DARK = {"1": 0, "L": 40, "P": 40, "RGB": (40, 40, 40), "LA": (40, 255), "RGBA": (40, 40, 40, 255)}


@pytest.mark.parametrize("mode", DARK)
def test_every_way_of_keeping_dots_shows_what_it_showed(mode: str):
    picture = Image.new(mode, (30, 20))
    if mode == "P":
        picture.putpalette([n for n in range(256) for _ in range(3)])
    picture.paste(DARK[mode], (0, 0, 15, 20))
    if mode not in ("LA", "RGBA"):  # what shows through stands on white
        picture.paste({"1": 1, "RGB": WHITE}.get(mode, 255), (15, 0, 30, 20))
    kept = looked_at(accept(file(picture, "PNG"))).convert("RGB")
    assert all(abs(a - (0 if mode == "1" else 40)) < 4 for a in kept.getpixel((4, 9)))
    assert all(a > 250 for a in kept.getpixel((25, 9)))


@pytest.mark.parametrize(("mode", "through"), [("P", 7), ("P", bytes([255] * 7 + [0])), ("L", 7), ("RGB", (7, 7, 7))])
def test_one_colour_that_shows_through_stands_on_white(mode: str, through: object):
    picture = Image.new(mode, (30, 20), (40, 40, 40) if mode == "RGB" else 40)
    if mode == "P":
        picture.putpalette([n for n in range(256) for _ in range(3)])
    picture.paste((7, 7, 7) if mode == "RGB" else 7, (15, 0, 30, 20))
    kept = looked_at(accept(file(picture, "PNG", transparency=through))).convert("RGB")
    assert all(abs(a - 40) < 4 for a in kept.getpixel((4, 9))) and all(a > 250 for a in kept.getpixel((25, 9)))


@pytest.mark.parametrize(
    ("sort", "mode", "order"), [("PNG", "I;16", "<"), ("TIFF", "I;16", "<"), ("TIFF", "I;16B", ">")]
)
def test_shades_of_sixteen_bits_are_kept_as_seen(sort: str, mode: str, order: str):
    dots = struct.pack(f"{order}600H", *[200 * 256 if n % 30 < 15 else 65535 for n in range(600)])
    kept = looked_at(accept(file(Image.frombytes(mode, (30, 20), dots), sort)))
    assert abs(kept.getpixel((4, 9)) - 200) < 3 and kept.getpixel((25, 9)) > 250


def test_inks_are_turned_into_light():
    kept = looked_at(accept(file(scene(mode="CMYK"), quality=95))).convert("RGB")
    assert all(abs(a - b) < 60 for a, b in zip(kept.getpixel((8, 8)), RED, strict=True))


def test_colours_of_a_profile_are_kept_as_seen():
    """With its red and blue exchanged in the profile, red is seen as blue, and must be kept so."""
    raw = bytearray(profile())
    tags = range(132, 132 + 12 * struct.unpack(">I", raw[128:132])[0], 12)
    entry = {bytes(raw[at : at + 4]): at for at in tags}
    red, blue = entry[b"rXYZ"], entry[b"bXYZ"]
    raw[red + 4 : red + 12], raw[blue + 4 : blue + 12] = raw[blue + 4 : blue + 12], raw[red + 4 : red + 12]
    kept = looked_at(accept(file(scene(), "PNG", icc_profile=bytes(raw)))).convert("RGB").getpixel((8, 8))
    assert kept[2] > 180 and kept[0] < 80
    broken = looked_at(accept(file(scene(), "PNG", icc_profile=b"no profile"))).convert("RGB")
    assert broken.getpixel((8, 8)) == RED


# What is refused -------------------------------------------------------------------------------


def test_a_file_that_is_too_large_is_refused_before_it_is_looked_at():
    small = file(scene())
    assert accept(small + b"\0" * (MOST_BYTES - len(small))).width == 60
    assert "larger than 25 MB" in refusal(small + b"\0" * (MOST_BYTES - len(small) + 1))


def png_saying(width: int, height: int) -> bytes:
    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    dots = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", dots) + chunk(b"IEND", b"")


def jpeg_saying(width: int, height: int) -> bytes:
    data = bytearray(file(scene()))
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = struct.pack(">HH", height, width)
    return bytes(data)


def bmp_saying(width: int, height: int) -> bytes:
    data = bytearray(file(scene(), "BMP"))
    data[18:26] = struct.pack("<ii", width, height)
    return bytes(data)


def gif_saying(width: int, height: int) -> bytes:
    data = bytearray(file(scene(mode="P"), "GIF"))
    data[6:10] = struct.pack("<HH", width, height)
    return bytes(data)


def webp_saying(width: int, height: int) -> bytes:
    body = b"\x10\0\0\0" + (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    inner = b"WEBPVP8X" + struct.pack("<I", 10) + body + file(scene(), "WEBP")[12:]
    return b"RIFF" + struct.pack("<I", len(inner)) + inner


@pytest.mark.parametrize("size", [(60_000, 60_000), (LONGEST + 1, 10), (10, LONGEST + 1), (12_001, MEGAPIXELS * 100)])
@pytest.mark.parametrize("saying", [png_saying, jpeg_saying, bmp_saying, gif_saying])
def test_a_bomb_is_refused_by_its_header(saying, size):
    before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.perf_counter()
    assert f"{MEGAPIXELS} megapixels" in refusal(saying(*size))
    assert time.perf_counter() - began < 0.5
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 50_000  # kB


def test_a_bomb_of_webp_is_refused_before_its_canvas_is_made():
    assert "megapixels" in refusal(webp_saying(60_000, 60_000))


def test_the_limit_of_the_image_library_is_left_alone(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 12_345_678)
    refusal(png_saying(60_000, 60_000))
    accept(file(scene()))
    assert Image.MAX_IMAGE_PIXELS == 12_345_678


SVG = b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg">' + SCRIPT + b"</svg>"
STRANGERS = [
    (b"", "empty"),
    (SVG, "SVG"),
    (b"\xef\xbb\xbf \n" + SVG.partition(b"\n")[2], "SVG"),
    (SVG.decode().encode("utf-16"), "SVG"),
    (b"<!DOCTYPE html><html><body>" + SCRIPT + b"</body></html>", "web page"),
    (b"%PDF-1.7\n%\xe2\xe3", "this is a PDF; save the sheet as a picture (PNG or JPEG)"),
    (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "this is HEIC; let the phone send JPEG"),
    (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic", "HEIC"),
    (b"\0\0\0\x1cftypavif\0\0\0\0", "AVIF"),
    (b"\0\0\0\x18ftypmp42\0\0\0\0", "film"),
    (b"PK\x03\x04\x14\0", "ZIP"),
    (b"\0\0\x01\0\x01\0\x10\x10", "icon"),
    (b"hello", "not a picture"),
    (b"\xff\xd8", "not a picture"),
    (b"P6 2 2 255 abcdefghijkl", "not a picture"),
]


@pytest.mark.parametrize(("data", "said"), STRANGERS, ids=[f"{n} {said[:20]}" for n, (_, said) in enumerate(STRANGERS)])
def test_what_is_no_picture_is_named_and_refused(data: bytes, said: str):
    assert said in refusal(data)


def test_what_hides_behind_a_picture_is_gone():
    came = file(scene()) + SCRIPT + b"<?php ?>%PDF-1.4"
    photo = accept(came)
    assert b"script" not in photo.data and b"php" not in photo.data and b"PDF" not in photo.data
    assert photo.data.endswith(b"\xff\xd9") or photo.data.endswith(b"IEND\xaeB`\x82")


@pytest.mark.parametrize("sort", ["JPEG", "PNG", "WEBP", "GIF", "TIFF", "BMP"])
def test_a_picture_cut_short_is_refused(sort: str):
    whole = file(grain(90, 70), sort)
    for share in (0.02, 0.3, 0.6, 0.9):
        assert "damaged" in refusal(whole[: max(12, int(len(whole) * share))])


def test_a_png_with_a_wrong_sum_is_refused():
    whole = bytearray(file(grain(90, 70), "PNG"))
    whole[-14] ^= 1  # in the sum of the last chunk of dots
    assert "damaged" in refusal(bytes(whole))


def test_figures_that_are_no_shades_are_refused():
    assert "unusual" in refusal(file(Image.new("F", (9, 7), 3.5), "TIFF"))


STARTS = [
    b"",
    b"\xff\xd8\xff",
    b"\x89PNG\r\n\x1a\n",
    b"RIFF\x20\0\0\0WEBPVP8 ",
    b"GIF89a",
    b"II*\0",
    b"MM\0*",
    b"BM",
    b"<",
]


@given(st.sampled_from(STARTS), st.binary(max_size=300))
@example(b"II*\0", b"\x08\0\0\0")
def test_no_bytes_at_all_bring_more_than_a_complaint(start: bytes, rest: bytes):
    try:
        accept(start + rest)
    except BadInput as refused:
        assert len(refused.complaints) == 1


@given(st.sampled_from(sorted(WITH_NOTES)), st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=6))
def test_no_harm_to_a_picture_brings_more_than_a_complaint(sort: str, harms: list[tuple[int, int]]):
    data = bytearray(WITH_NOTES[sort])
    for at, value in harms:
        data[at % len(data)] = value
    try:
        accept(bytes(data))
    except BadInput as refused:
        assert len(refused.complaints) == 1


# The folder ------------------------------------------------------------------------------------


@pytest.fixture
def shelf(tmp_path: Path) -> PhotoShelf:
    return PhotoShelf(tmp_path / "new" / "bench.db.photos")


def test_the_same_picture_twice_is_one_file(shelf: PhotoShelf):
    photo = accept(file(scene()))
    assert shelf.keep(photo) == photo.name
    first = shelf.path(photo.name).stat()
    assert shelf.keep(accept(file(scene()))) == photo.name
    assert shelf.path(photo.name).stat() == first  # not even written anew
    assert [one.name for one in shelf.folder.iterdir()] == [photo.name]
    assert shelf.path(photo.name).read_bytes() == photo.data


def test_a_kept_file_that_was_harmed_is_mended_by_sending_it_again(shelf: PhotoShelf):
    name = shelf.keep(photo := accept(file(scene())))
    shelf.path(name).write_bytes(photo.data[:50])
    shelf.keep(photo)
    assert shelf.path(name).read_bytes() == photo.data


def test_a_picture_is_there_whole_or_not_at_all(shelf: PhotoShelf, monkeypatch: pytest.MonkeyPatch):
    """The name comes last: file forced to the disk, then renamed, then the folder forced to the disk."""
    steps: list[str] = []
    photo = accept(file(scene()))
    sync, rename = os.fsync, os.replace
    shelf.folder.mkdir(parents=True)

    def synced(number: int) -> None:
        steps.append("folder" if os.path.isdir(f"/proc/self/fd/{number}") else "file")
        assert shelf.path(photo.name).exists() == (steps[-1] == "folder")
        sync(number)

    def renamed(old: str, new: Path) -> None:
        steps.append("rename")
        assert Path(old).read_bytes() == photo.data
        rename(old, new)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "replace", renamed)
    shelf.keep(photo)
    assert steps == ["file", "rename", "folder"]


@pytest.mark.parametrize("at", ["fsync", "replace"])
def test_a_disk_that_refuses_is_said_and_leaves_nothing(shelf: PhotoShelf, monkeypatch: pytest.MonkeyPatch, at: str):
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, at, full)
    with pytest.raises(BadInput, match="No space left on device"):
        shelf.keep(accept(file(scene())))
    assert list(shelf.folder.iterdir()) == []


HEX = "0123456789abcdef" * 4


@pytest.mark.parametrize(
    "name",
    ["", "..", "../bench.db", f"../{HEX}.jpg", f"{HEX}.jpg/../../x", f"/etc/{HEX}.jpg", f"{HEX}.svg", f"{HEX}.jpg.html",
     f"{HEX}.jpg\n", f"{HEX[:-1]}.jpg", f"{HEX}0.jpg", f"{HEX.upper()}.jpg", HEX, f"{HEX}.JPG", f"{HEX}.jpg\0", f"{'١' * 64}.jpg"],
)  # fmt: skip
def test_a_name_that_is_no_digest_is_refused(shelf: PhotoShelf, name: str):
    for ask in (shelf.path, lambda bad: shelf.thumbnail(bad, 160)):
        with pytest.raises(BadInput, match="not the name of a picture"):
            ask(name)


def test_a_small_picture_is_made_once_and_keeps_its_shape(shelf: PhotoShelf, monkeypatch: pytest.MonkeyPatch):
    name = shelf.keep(accept(file(grain(900, 300))))
    small = shelf.thumbnail(name, 160)
    assert Image.open(BytesIO(small)).size == (160, 53)
    assert Image.open(BytesIO(shelf.thumbnail(name, 90))).size == (90, 30)
    shelf.path(name).unlink()
    assert shelf.thumbnail(name, 160) == small
    with pytest.raises(BadInput, match="not in the folder"):
        shelf.thumbnail(name, 200)
    for side in (0, -5, 100_000):
        with pytest.raises(BadInput, match="no size"):
            shelf.thumbnail(name, side)


def test_a_small_picture_of_a_harmed_file_is_a_complaint(shelf: PhotoShelf):
    name = shelf.keep(photo := accept(file(grain(90, 30))))
    shelf.path(name).write_bytes(photo.data[:200])
    with pytest.raises(BadInput, match="damaged"):
        shelf.thumbnail(name, 160)


# Pictures of a job -----------------------------------------------------------------------------

JPG, OTHER, SHEET = file(scene(90, 50)), file(scene(50, 90)), file(scene(300, 200), "PNG")


@pytest.fixture
def case(book: Book) -> Case:
    return bench.enter_line(book, bench.open_job(book, SILENT, NOW), "supply +12.1 V", NOW)


def again(book: Book, case: Case) -> Case:
    return fold(book.events(case.number))


def test_pictures_marks_and_captions_fold_the_same_again(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "  solder side ", LATER)
    case = picturing.add_photo(book, case, SHEET, "", LATER, sheet=True)
    first, second = case.photos
    case = picturing.mark_spot(book, case, first.name, "  R31.2 ", 0.25, 0.75, LATER)
    case = picturing.mark_spot(book, case, first.name, "left   output", 0, 1, LATER)
    case = picturing.mark_spot(book, case, second.name, "R31.2", 0.5, 0.125, LATER)
    case = picturing.caption(book, case, second.name, "sheet 3", LATER)
    assert case.photos == (
        Picture(first.name, 90, 50, "solder side", False, (Spot("R31.2", 0.25, 0.75), Spot("left output", 0.0, 1.0))),
        Picture(second.name, 300, 200, "sheet 3", True, (Spot("R31.2", 0.5, 0.125),)),
    )
    assert again(book, case) == case
    case = picturing.drop_spot(book, case, first.name, "r31 2", LATER)
    case = picturing.drop_photo(book, case, second.name, LATER)
    assert [(one.name, [spot.place for spot in one.spots]) for one in case.photos] == [(first.name, ["left output"])]
    assert again(book, case) == case
    folder = picturing.shelf_of(book)
    assert folder.folder == book.path.with_name("bench.db.photos")
    assert folder.path(second.name).exists()  # taken away from the job, kept on the disk
    assert picturing.add_photo(book, case, SHEET, "", LATER, sheet=True).photos[1] == dataclasses.replace(
        second, spots=()
    )


def test_the_same_place_on_the_same_picture_moves(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "", LATER)
    name = case.photos[0].name
    for place, x, y in (("R31.2", 0.1, 0.2), ("Q7.c", 0.3, 0.4), ("r31 2", 0.6, 0.7)):
        case = picturing.mark_spot(book, case, name, place, x, y, LATER)
    assert case.photos[0].spots == (Spot("r31 2", 0.6, 0.7), Spot("Q7.c", 0.3, 0.4))
    events = len(book.events(case.number))
    picturing.mark_spot(book, case, name, "r31 2", 0.6, 0.7, LATER)
    assert len(book.events(case.number)) == events


def test_a_picture_changes_neither_the_lines_nor_what_is_computed(
    book: Book, case: Case, monkeypatch: pytest.MonkeyPatch
):
    before = standing.stand(book, case, NOW)
    case = again(book, case)
    after = picturing.add_photo(book, case, JPG, "top", LATER)
    name = after.photos[0].name
    after = picturing.mark_spot(book, after, name, "R31.2", 0.5, 0.5, LATER)
    after = picturing.caption(book, after, name, "bottom", LATER)
    after = picturing.drop_spot(book, after, name, "R31.2", LATER)
    after = picturing.drop_photo(book, after, name, LATER)
    assert (after.mark, after.lines, after.bench, after.shown) == (case.mark, case.lines, case.bench, case.shown)
    assert (case.touched, after.touched) == (NOW, LATER)
    monkeypatch.setattr(standing, "work_out", lambda _: pytest.fail("computed anew"))
    assert standing.stand(book, after, LATER).search == before.search


def test_undo_takes_back_a_line_and_no_picture(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "", LATER)
    case = picturing.mark_spot(book, case, case.photos[0].name, "R31.2", 0.5, 0.5, LATER)
    photos = case.photos
    case = bench.undo(book, case, LATER)
    assert [line.status for line in case.lines] == ["undone"]
    assert case.photos == photos
    with pytest.raises(BadInput, match="nothing is left"):
        bench.undo(book, case, LATER)


def test_a_form_sent_twice_counts_once(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "top", LATER, once="form 1")
    events = len(book.events(case.number))
    for data, says in ((JPG, "top"), (OTHER, "bottom"), (b"no picture", "")):
        assert picturing.add_photo(book, case, data, says, LATER, once="form 1") == case
    gone = picturing.drop_photo(book, case, case.photos[0].name, LATER)
    assert picturing.add_photo(book, gone, JPG, "top", LATER, once="form 1").photos == ()
    assert len(book.events(case.number)) == events + 1
    assert len(picturing.add_photo(book, case, OTHER, "", LATER, once="form 2").photos) == 2


def test_a_form_sent_twice_at_the_same_moment_counts_once(book: Book, case: Case):
    """Both senders saw the job without the picture."""
    picturing.add_photo(book, case, JPG, "top", LATER, once="form 1")
    picturing.add_photo(book, case, OTHER, "bottom", LATER, once="form 1")
    assert [one.says for one in again(book, case).photos] == ["top"]
    picturing.add_photo(book, case, OTHER, "bottom", LATER)
    picturing.add_photo(book, case, OTHER, "", LATER)
    assert [one.says for one in again(book, case).photos] == ["top", "bottom"]


def test_a_mark_that_moved_meanwhile_is_still_taken_away(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "", LATER)
    name = case.photos[0].name
    case = picturing.mark_spot(book, case, name, "R31.2", 0.1, 0.2, LATER)
    picturing.mark_spot(book, case, name, "r31 2", 0.3, 0.4, LATER)
    picturing.drop_spot(book, case, name, "R31.2", LATER)
    assert again(book, case).photos[0].spots == ()


def test_the_same_picture_again_changes_its_caption_alone(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "top", LATER, once="1")
    case = picturing.mark_spot(book, case, case.photos[0].name, "R31.2", 0.5, 0.5, LATER)
    events = len(book.events(case.number))
    assert picturing.add_photo(book, case, JPG, "top", LATER, once="2") == case
    assert picturing.add_photo(book, case, JPG, "", LATER, once="3") == case
    assert len(book.events(case.number)) == events
    fresh = picturing.add_photo(book, case, JPG, "bottom", LATER, once="4")
    assert fresh.photos == (dataclasses.replace(case.photos[0], says="bottom"),)
    assert again(book, fresh) == fresh


def test_what_cannot_be_is_refused_and_not_written(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "top", LATER)
    name, events = case.photos[0].name, len(book.events(case.number))
    nan, inf = float("nan"), float("inf")
    spots = [(-0.01, 0.5), (0.5, 1.01), (nan, 0.5), (0.5, nan), (inf, 0.5), (0.5, -inf), (2, 0.5), (10**400, 0.5)]
    for x, y in spots:
        with pytest.raises(BadInput, match="outside the picture"):
            picturing.mark_spot(book, case, name, "R31.2", x, y, LATER)
    for place in ("", "  \t\n", "R" * 81, "\udcff"):
        with pytest.raises(BadInput):
            picturing.mark_spot(book, case, name, place, 0.5, 0.5, LATER)
    with pytest.raises(BadInput, match="not text"):
        picturing.caption(book, case, name, "\udcff", LATER)
    with pytest.raises(BadInput, match="not text"):
        picturing.add_photo(book, case, OTHER, "\udcff", LATER)
    with pytest.raises(BadInput, match="not marked"):
        picturing.drop_spot(book, case, name, "R99", LATER)
    for verb in (
        lambda: picturing.caption(book, case, f"{HEX}.jpg", "x", LATER),
        lambda: picturing.mark_spot(book, case, f"{HEX}.jpg", "x", 0.5, 0.5, LATER),
        lambda: picturing.drop_spot(book, case, f"{HEX}.jpg", "x", LATER),
        lambda: picturing.drop_photo(book, case, "../bench.db", LATER),
    ):
        with pytest.raises(BadInput, match="no picture"):
            verb()
    with pytest.raises(BadInput, match="SVG"):
        picturing.add_photo(book, case, SVG, "", LATER)
    assert len(book.events(case.number)) == events
    assert len(picturing.mark_spot(book, case, name, "R" * 80, 0, 1, LATER).photos[0].spots) == 1


def test_a_closed_job_takes_no_picture_and_loses_none(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "", LATER)
    name = case.photos[0].name
    case = picturing.mark_spot(book, case, name, "R31.2", 0.5, 0.5, LATER)
    case = bench.close(book, checked(book, case), "repaired", "", LATER)
    for verb in (
        lambda: picturing.add_photo(book, case, OTHER, "", LATER),
        lambda: picturing.drop_photo(book, case, name, LATER),
        lambda: picturing.caption(book, case, name, "x", LATER),
        lambda: picturing.mark_spot(book, case, name, "R31.2", 0.1, 0.1, LATER),
        lambda: picturing.drop_spot(book, case, name, "R31.2", LATER),
    ):
        with pytest.raises(BadInput, match="is closed"):
            verb()


def test_the_view_of_pictures_is_read_back_as_it_was(book: Book, case: Case):
    case = picturing.add_photo(book, case, JPG, "top", LATER)
    case = picturing.add_photo(book, case, SHEET, "", LATER, sheet=True)
    for place, x, y in (("R31.2", 0.25, 0.75), ("Q7.c", 0, 1)):
        case = picturing.mark_spot(book, case, case.photos[1].name, place, x, y, LATER)
    view = bench.view_case(case)
    assert [(one.width, one.height, one.says, one.sheet, len(one.spots)) for one in view.photos] == [
        (90, 50, "top", False, 0), (300, 200, "", True, 2),
    ]  # fmt: skip
    back = typed(CaseView, json.loads(json.dumps(plain(view))))
    assert back == view
    assert [(spot.place, spot.x, spot.y) for spot in back.photos[1].spots] == [
        ("R31.2", 0.25, 0.75),
        ("Q7.c", 0.0, 1.0),
    ]
    assert type(back.photos[1].sheet) is bool and type(back.photos[1].spots[1].x) is float


def test_an_old_job_opens_without_the_image_library(book: Book, case: Case):
    picturing.add_photo(book, case, JPG, "top", LATER)
    script = (
        "import sys; from pathlib import Path; from probewright.jobs import bench, picturing; "
        "from probewright.record import open_book; "
        f"view = bench.view_case(bench.find_case(open_book(Path({str(book.path)!r})))); "
        "assert len(view.photos) == 1; assert 'PIL' not in sys.modules and 'numpy' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


# Where a place is ------------------------------------------------------------------------------


def marked(book: Book, case: Case, *places: str) -> Case:
    case = picturing.add_photo(book, case, JPG, "", LATER)
    for n, place in enumerate(places):
        case = picturing.mark_spot(book, case, case.photos[0].name, place, n / 10, 0.5, LATER)
    return case


def found(case: Case, place: str, machine=None) -> list[str]:
    return [spot.place for _, spot in picturing.spots_of(case, place, machine)]


def test_a_place_is_found_on_the_pictures_as_it_was_said(book: Book, case: Case):
    case = marked(book, case, "R31.2", "left preamp out", "-12V", "+12V")
    for said, place in (("r31 2", "R31.2"), ("Left  Preamp OUT", "left preamp out"), ("-12v", "-12V")):
        assert found(case, said) == [place]
    assert found(case, "R3 12") == found(case, "R312") == found(case, "12V") == []


def test_with_a_machine_file_the_same_pin_comes_before_the_same_copper(book: Book, case: Case):
    machine = read_machine(BOARD, "board")
    case = marked(book, case, "BASE", "R31.2", "q7 c", "somewhere", "R32.1")
    assert found(case, "R31.2", machine) == ["R31.2"]
    assert found(case, "Q7.b", machine) == ["BASE"]  # not marked itself: the net it hangs on
    assert found(case, "base", machine) == ["BASE"]
    assert found(case, "TP3", machine) == found(case, "tp 3", machine) == ["q7 c"]  # a named point is that pin
    assert found(picturing.mark_spot(book, case, case.photos[0].name, "left out", 0, 0, LATER), "R35.1", machine) == [
        "left out"
    ]
    assert found(case, "R34.1", machine) == []
    assert found(case, "Somewhere", machine) == ["somewhere"]


def test_a_name_that_was_tied_is_found_by_the_name_of_the_file(book: Book, case: Case):
    case = marked(book, case, "left collector", "R31.2")
    case = bench.know(book, case, "file", "tied", BOARD, "board", LATER, {"left collector": "Q7.c"})
    assert found(case, "Q7.c", bench.machine_of(case)) == ["left collector"]


def test_every_picture_that_shows_a_place_is_named(book: Book, case: Case):
    case = marked(book, case, "R31.2")
    case = picturing.add_photo(book, case, OTHER, "", LATER)
    case = picturing.mark_spot(book, case, case.photos[1].name, "R31.2", 0.9, 0.1, LATER)
    names = [one.name for one in case.photos]
    assert picturing.spots_of(case, "R31.2", None) == (
        (names[0], Spot("R31.2", 0.0, 0.5)), (names[1], Spot("R31.2", 0.9, 0.1)),
    )  # fmt: skip


@given(st.text(max_size=12), st.text(max_size=12), st.text(max_size=12))
def test_being_one_place_is_the_same_both_ways_and_along_a_chain(a: str, b: str, c: str):
    assert same_place(a, a) and same_place(a, b) == same_place(b, a)
    assert not (same_place(a, b) and same_place(b, c)) or same_place(a, c)


def test_an_install_without_what_opens_photographs_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch):
    good = file(scene())
    monkeypatch.setitem(sys.modules, "PIL.Image", None)
    assert "pip install 'probewright[pictures]'" in refusal(good)
