"""Photographs and scanned sheets of a job: put to it, described, places marked on them, taken away.

None of this changes what is known of the fault. The file is on the disk before the record names it,
and stays there when a picture is taken away, as a line that was taken back stays in the record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from probewright.jobs.bench import append, complaint, readable, still_open
from probewright.jobs.cases import Case
from probewright.jobs.pictures import Picture, Spot, same_place
from probewright.machine import Machine
from probewright.machine.saying import nearest
from probewright.photos import PhotoShelf, accept
from probewright.readings import Reading
from probewright.readings.naming import known_place
from probewright.record import Book

PLACE_LETTERS = 80  # chosen: the longest name of a place that still fits beside its mark


def shelf_of(book: Book) -> PhotoShelf:
    """The folder of pictures that stands beside the book."""
    return PhotoShelf(book.path.with_name(f"{book.path.name}.photos"))


def add_photo(
    book: Book, case: Case, data: bytes, says: str, now: str, *, sheet: bool = False, once: str = ""
) -> Case:  # fmt: skip
    """Put a picture to the job. data: the file as it came; says: its caption; sheet: a sheet, no photograph.

    The same picture again changes its caption alone, when one is said. once: mark of the form it
    came by; what comes by the same form again is passed over.
    """
    still_open(case)
    if once and once in case.sent:
        return case
    readable(once)
    says = _caption(says)
    photo = accept(data, sheet=sheet)
    known = next((one for one in case.photos if one.name == photo.name), None)
    if known is not None and says in ("", known.says):
        return case
    name = shelf_of(book).keep(photo)
    told = {"name": name, "width": photo.width, "height": photo.height, "says": says, "sheet": sheet, "once": once}
    return append(book, case, "photo", told, now)


def drop_photo(book: Book, case: Case, name: str, now: str) -> Case:
    """Take a picture away from the job, with its marks; its file stays."""
    still_open(case)
    photo_of(case, name)
    return append(book, case, "photo gone", {"name": name}, now)


def caption(book: Book, case: Case, name: str, says: str, now: str) -> Case:
    """Say anew what a picture shows; "" takes the words away."""
    still_open(case)
    says = _caption(says)
    if photo_of(case, name).says == says:
        return case
    return append(book, case, "photo says", {"name": name, "says": says}, now)


def mark_spot(book: Book, case: Case, name: str, place: str, x: float, y: float, now: str) -> Case:
    """Mark where a place is on a picture; the same place on the same picture moves.

    x, y: shares of width and height, 0..1 from the upper left corner.
    """
    still_open(case)
    readable(place)
    place = " ".join(place.split())
    if not place:
        raise complaint("the mark has no name", "write the place, like `R31.2` or `left output`")
    if len(place) > PLACE_LETTERS:
        raise complaint(f"this name has {len(place)} letters", f"write at most {PLACE_LETTERS}")
    for axis, share in (("x", x), ("y", y)):
        if not 0 <= share <= 1:  # neither is what is no number
            raise complaint(f"{axis} is {share}, outside the picture", "give a share between 0 and 1")
    spot = Spot(place, float(x), float(y))
    if spot in photo_of(case, name).spots:
        return case
    return append(book, case, "spot", {"name": name, "place": spot.place, "x": spot.x, "y": spot.y}, now)


def drop_spot(book: Book, case: Case, name: str, place: str, now: str) -> Case:
    """Take the mark of a place away from a picture."""
    still_open(case)
    marked = [spot.place for spot in photo_of(case, name).spots]
    found = next((one for one in marked if same_place(one, place)), None)
    if found is None:
        raise complaint(f"{place!r} is not marked on this picture", nearest(place, marked))
    return append(book, case, "spot gone", {"name": name, "place": found}, now)


def photo_of(case: Case, name: str) -> Picture:
    """The picture of this name. BadInput when the job has none."""
    for one in case.photos:
        if one.name == name:
            return one
    raise complaint(f"job {case.number} has no picture {name[:PLACE_LETTERS]!r}", "take the name from the job")


def spots_of(case: Case, place: str, machine: Machine | None) -> tuple[tuple[str, Spot], ...]:
    """Where a place is on the pictures: name of the picture and the mark, in the order of the pictures.

    Names are compared as `same_place` says. With a machine file, a mark fits that bears the same name,
    or another name of the same pin or net (a named point, a name that was tied). Only where none fits,
    the marks named after the net the place belongs to are given: the same copper, elsewhere on the board.
    """
    spots = [(photo.name, spot) for photo in case.photos for spot in photo.spots]
    wanted = "" if machine is None else _in_file(case, place, machine)
    if machine is None or not wanted:
        return tuple(one for one in spots if same_place(one[1].place, place))
    meant = [_in_file(case, spot.place, machine) for _, spot in spots]
    here = [one for one, found in zip(spots, meant, strict=True) if found == wanted or same_place(one[1].place, place)]
    net = machine.net_of(wanted)
    return tuple(here or [one for one, found in zip(spots, meant, strict=True) if found == net])


def read_at(case: Case, place: str, machine: Machine | None) -> Reading | None:
    """What was read last with the red probe at a place; None when nothing was. Places are one as `spots_of` says."""
    wanted = "" if machine is None else _in_file(case, place, machine)
    net = machine.net_of(wanted) if machine is not None and wanted else ""
    same_copper = None
    for reading in reversed(case.readings):
        red = reading.question.red
        meant = _in_file(case, red, machine) if machine is not None and wanted else ""
        if same_place(red, place) or (wanted and meant == wanted):
            return reading
        if net and same_copper is None and meant and machine is not None and machine.net_of(meant) == net:
            same_copper = reading
    return same_copper


def unmarked(case: Case, name: str, machine: Machine) -> tuple[str, ...]:
    """Named points and nets of the machine file that this picture does not show yet, in the order of the file."""
    alone = replace(case, photos=(photo_of(case, name),))
    return tuple(place for place in named_places(machine) if not spots_of(alone, place, machine))


def named_places(machine: Machine) -> tuple[str, ...]:
    """Named points, then the nets that lead anywhere."""
    nets = (net for net in machine.nets if not net.startswith("nc:"))
    return tuple(dict.fromkeys((*machine.points, *nets)))


def _in_file(case: Case, place: str, machine: Machine) -> str:
    """The net or pin that the machine file has behind a name, as said; "" when it has none."""
    names: Mapping[str, str] = case.known.names if case.known else {}
    told = next((into for name, into in names.items() if same_place(name, place)), place)
    spoken = (told, told.replace(" ", "-"), told.replace(" ", ""))
    return next((found for one in spoken if (found := known_place(one, machine))), "")


def _caption(says: str) -> str:
    readable(says)
    return says.strip()
