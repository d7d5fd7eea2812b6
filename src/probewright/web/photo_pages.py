"""Photographs and scanned sheets of a job, and the places marked on them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from probewright.errors import BadInput
from probewright.jobs import bench, picturing
from probewright.jobs.cases import Case
from probewright.jobs.pictures import Picture, Spot, same_place
from probewright.jobs.soundness import healthy_or_off
from probewright.machine import Machine
from probewright.readings import echo
from probewright.record import stamp
from probewright.report.bench import what
from probewright.units import with_capital
from probewright.web.sheets import Sheets, on_page, posted, to
from probewright.web.uploads import Upload, keep_all, sent

KINDS = {".jpg": "image/jpeg", ".png": "image/png"}
SIDES = {"": 320, "large": 1600}  # dots, chosen: a picture in a list; one that fills a laptop's column
# CSS pixels, chosen: the widths of which the page's style shows the one that fits (320 and 390 px phones, one
# column, two columns). Without a script a click comes in these pixels, so the width must be known.
WIDTHS = (300, 360, 700, 860)
NO_PLACE = ("works", "swap", "swap back", "test")  # questions that no probe answers
NAMES_OFFERED = 300  # chosen: more are no help while typing
CLICK = re.compile(r"at(\d{2,5})\.([xy])")


@dataclass(frozen=True)
class SpotRow:
    """A marked place. x, y: per cent of width and height; read: what was read there last, "" when nothing;
    stands: "healthy", "off" or "" where nobody knows."""

    number: int
    place: str
    x: float
    y: float
    read: str
    stands: str


@dataclass(frozen=True)
class Fresh:
    """A mark that is being made: its name, and where it is in per cent as typed, "" while nobody said."""

    place: str = ""
    x: str = ""
    y: str = ""


class PhotoPages:
    """The pictures that were taken of a job's machine, or of its drawings."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        all_, one = "/jobs/{job:int}/photos", "/jobs/{job:int}/photos/{name}"
        return [
            Route(all_, self.photos),
            Route(all_, sent(self.add), methods=["POST"]),
            Route(one, self.photo),
            Route(f"{one}/picture", self.picture),
            Route(f"{one}/thumbnail", self.thumbnail),
            Route(f"{one}/spots", posted(self.mark), methods=["POST"]),
            Route(f"{one}/spots/gone", posted(self.unmark), methods=["POST"]),
            Route(f"{one}/caption", posted(self.caption), methods=["POST"]),
            Route(f"{one}/gone", posted(self.drop), methods=["POST"]),
        ]

    # The pictures -----------------------------------------------------------------------------

    def photos(self, request: Request) -> Response:
        """Every picture of the job, and the way to put more to it."""
        return show_photos(self.page, request, self.case(request))

    def add(self, request: Request, said: dict[str, str], files: tuple[Upload, ...]) -> Response:
        """Put the pictures of the form to the job; what is refused is said, the others are kept."""
        case, says, sheet = self.case(request), said.get("says", ""), said.get("kind") == "sheet"
        if not files:
            return show_photos(self.page, request, case, ("No picture was chosen; choose one and send it",), said)
        case, refused = keep_all(self.desk.book, case, files, says, said.get("once", ""), sheet=sheet)
        if refused:
            return show_photos(self.page, request, self.case(request), refused, said)
        return to(f"/jobs/{case.number}/photos")

    def picture(self, request: Request) -> Response:
        """The picture itself."""
        name = self._photo(request).name
        path = picturing.shelf_of(self.desk.book).path(name)
        if not path.is_file():
            raise bench.complaint("this picture is not in the folder of pictures", "send it again")
        return FileResponse(path, media_type=KINDS[path.suffix], headers=dict(KEPT))

    def thumbnail(self, request: Request) -> Response:
        """The picture made small."""
        name, size = self._photo(request).name, request.query_params.get("size", "")
        if size not in SIDES:
            raise bench.complaint(f"{size[:20]!r} is no size of a small picture", "leave it out, or write `large`")
        data = picturing.shelf_of(self.desk.book).thumbnail(name, SIDES[size])
        return Response(data, media_type=KINDS[name[-4:]], headers=dict(KEPT))

    # One picture ------------------------------------------------------------------------------

    def photo(
        self, request: Request, problem: BadInput | None = None, fresh: Fresh | None = None, says: str | None = None
    ) -> Response:
        """One picture with what is marked on it."""
        case, photo = self.case(request), self._photo(request)
        machine = bench.machine_of(case)
        marking = request.query_params.get("mark", "")
        moved = next((one for one in photo.spots if same_place(one.place, marking)), None) if marking else None
        if fresh is None:
            at = (f"{100 * moved.x:.2f}", f"{100 * moved.y:.2f}") if moved else ("", "")
            fresh = Fresh(moved.place if moved else marking, *at)
        full = request.query_params.get("full") == "1"
        spots, just = spot_rows(case, photo, machine), request.query_params.get("just", "")
        return self.page(
            request, "photo.html", 422 if problem else 200, case=case, job=bench.view_case(case), what=what,
            photo=photo, number=case.photos.index(photo) + 1, path=address(case, photo),
            spots=spots, just=next((one for one in spots if str(one.number) == just), None),
            names=offered(case, machine), unmarked=picturing.unmarked(case, photo.name, machine) if machine else None,
            fresh=fresh, marking=bool(marking), moved=moved, full=full, said=sentences(problem),
            says=photo.says if says is None else says,
            widths=[(wide, round(wide * photo.height / photo.width)) for wide in ((photo.width,) if full else WIDTHS)],
        )  # fmt: skip

    def mark(self, request: Request, said: dict[str, str]) -> Response:
        """Mark a place, or move its mark: where the picture was clicked, else by the figures of the form."""
        case, photo = self.case(request), self._photo(request)
        fresh = clicked(said, photo) or Fresh(said.get("place", ""), said.get("x", ""), said.get("y", ""))
        try:
            x, y = (_share(one) for one in (fresh.x, fresh.y))
            with self.desk.writing:
                case = picturing.mark_spot(self.desk.book, self.case(request), photo.name, fresh.place, x, y, stamp())
        except BadInput as bad:
            return self.photo(request, bad, fresh)
        spots = next(one for one in case.photos if one.name == photo.name).spots
        number = next(n for n, one in enumerate(spots, 1) if same_place(one.place, " ".join(fresh.place.split())))
        return to(f"{address(case, photo)}?{'full=1&' if said.get('full') == '1' else ''}just={number}#naming")

    def unmark(self, request: Request, said: dict[str, str]) -> Response:
        """Take a mark away; one that is gone already stays so."""
        with self.desk.writing:
            case, photo, place = self.case(request), self._photo(request), said.get("place", "")
            if any(same_place(one.place, place) for one in photo.spots):
                picturing.drop_spot(self.desk.book, case, photo.name, place, stamp())
        return to(f"{address(case, photo)}#places")

    def caption(self, request: Request, said: dict[str, str]) -> Response:
        """Say anew what the picture shows."""
        says = said.get("says", "")
        try:
            with self.desk.writing:
                case, photo = self.case(request), self._photo(request)
                picturing.caption(self.desk.book, case, photo.name, says, stamp())
        except BadInput as bad:
            return self.photo(request, bad, says=says)
        return to(address(case, photo))

    def drop(self, request: Request, said: dict[str, str]) -> Response:
        """Take the picture away from the job; one that is gone already stays so."""
        with self.desk.writing:
            case, name = self.case(request), request.path_params["name"]
            if any(one.name == name for one in case.photos):
                picturing.drop_photo(self.desk.book, case, name, stamp())
        return to(f"/jobs/{case.number}/photos")

    def _photo(self, request: Request) -> Picture:
        return picturing.photo_of(self.case(request), request.path_params["name"])


# A name is the digest of what it holds, so what was fetched once never changes. It is nobody else's to keep.
KEPT = {"Cache-Control": "private, max-age=31536000, immutable"}


def show_photos(
    page: Callable[..., Response], request: Request, case: Case, refused: tuple[str, ...] = (),
    said: Mapping[str, str] | None = None, opened: bool = False,
) -> Response:  # fmt: skip
    """The page of all pictures of a job.

    refused: a sentence for each file that was not kept; said: what the form held; opened: whether the
    job was opened just now.
    """
    shown = [(one, address(case, one)) for one in case.photos]
    return page(
        request, "photos.html", 422 if refused else 200, case=case, job=bench.view_case(case), what=what, shown=shown,
        refused=refused, said=said or {}, opened=opened,
    )  # fmt: skip


def address(case: Case, photo: Picture) -> str:
    """Where a picture's page is."""
    return f"/jobs/{case.number}/photos/{photo.name}"


def spot_rows(case: Case, photo: Picture, machine: Machine | None) -> tuple[SpotRow, ...]:
    """What is marked on a picture, with what was read there last."""
    return tuple(_row(case, n, spot, machine) for n, spot in enumerate(photo.spots, 1))


def _row(case: Case, number: int, spot: Spot, machine: Machine | None) -> SpotRow:
    reading = picturing.read_at(case, spot.place, machine)
    read = echo.answer(reading, machine) if reading else ""
    stands = healthy_or_off(case, machine, reading) if reading and machine else ""
    return SpotRow(number, spot.place, 100.0 * spot.x, 100.0 * spot.y, read, stands)


def offered(case: Case, machine: Machine | None) -> tuple[str, ...]:
    """Names to choose from: read already, on other pictures, then those of the machine file."""
    names = [one.question.red for one in case.readings if one.question.instrument not in NO_PLACE]
    names += [spot.place for photo in case.photos for spot in photo.spots]
    if machine is not None:
        names += picturing.named_places(machine)
        names += [f"{part.name}.{pin}" for part in machine.parts.values() for pin in part.pins]
    return tuple(dict.fromkeys(names))[:NAMES_OFFERED]


def clicked(said: Mapping[str, str], photo: Picture) -> Fresh | None:
    """Where the picture was clicked, from the pixels a browser sends; None when it was not.

    The name of the field says how wide the picture was shown. A browser whose user pressed Enter
    on the picture sends the upper left corner: that is no click.
    """
    at = {found[2]: (int(found[1]), value) for name, value in said.items() if (found := CLICK.fullmatch(name))}
    if set(at) != {"x", "y"} or not all(value.isdecimal() for _, value in at.values()):
        return None
    wide, x, y = at["x"][0], int(at["x"][1]), int(at["y"][1])
    if x == y == 0:
        return None
    high = wide * photo.height / photo.width
    return Fresh(said.get("place", ""), f"{min(100.0, 100 * x / wide):.2f}", f"{min(100.0, 100 * y / high):.2f}")


def _share(per_cent: str) -> float:
    """A share, 0..1, from what was typed in per cent. BadInput, one sentence, for what is none."""
    if not per_cent.strip():
        raise bench.complaint("nobody said where it is", "click on the picture, or give both figures")
    try:
        share = float(per_cent.replace(",", ".").removesuffix("%")) / 100.0
    except ValueError:
        share = -1.0
    if not 0.0 <= share <= 1.0:
        raise bench.complaint(f"{per_cent[:20]!r} is not a place on the picture", "give per cent, 0 to 100")
    return round(share, 4)  # a third of a dot of the largest photograph


def sentences(problem: BadInput | None) -> tuple[str, ...]:
    """What is wrong, each in one sentence."""
    return tuple(with_capital(on_page(one.says)) for one in (problem.complaints if problem else ()))
