"""The photographs and scanned sheets of a job, with the places marked on them, as the record keeps them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from probewright.record import Event


@dataclass(frozen=True)
class Spot:
    """A place marked on a picture. x, y: shares of its width and height, 0..1 from the upper left corner."""

    place: str
    x: float
    y: float


@dataclass(frozen=True)
class Picture:
    """A photograph or scanned sheet of the job.

    name: of its file; width, height: in dots; says: its caption; sheet: whether it is a sheet and no
    photograph.
    """

    name: str
    width: int
    height: int
    says: str
    sheet: bool
    spots: tuple[Spot, ...] = ()


Pictures = tuple[Picture, ...]


def put(photos: Pictures, event: Event) -> Pictures:
    """One more; one that is there already has its caption said anew."""
    told = event.payload
    if any(one.name == told["name"] for one in photos):
        return _says(photos, event) if told["says"] else photos
    return (*photos, Picture(told["name"], told["width"], told["height"], told["says"], told["sheet"]))


def after(photos: Pictures, event: Event) -> Pictures:
    """The pictures after one more event of them."""
    return FOLDS[event.kind](photos, event)


def _says(photos: Pictures, event: Event) -> Pictures:
    return _on(photos, event, lambda one: replace(one, says=event.payload["says"]))


def _gone(photos: Pictures, event: Event) -> Pictures:
    return tuple(one for one in photos if one.name != event.payload["name"])


def _spot(photos: Pictures, event: Event) -> Pictures:
    told = event.payload
    new = Spot(told["place"], told["x"], told["y"])

    def marked(photo: Picture) -> Picture:
        spots = tuple(new if same_place(one.place, new.place) else one for one in photo.spots)
        return replace(photo, spots=spots if new in spots else (*spots, new))

    return _on(photos, event, marked)


def _spot_gone(photos: Pictures, event: Event) -> Pictures:
    gone = event.payload["place"]
    return _on(
        photos, event, lambda one: replace(one, spots=tuple(s for s in one.spots if not same_place(s.place, gone)))
    )


def _on(photos: Pictures, event: Event, change: Callable[[Picture], Picture]) -> Pictures:
    return tuple(change(one) if one.name == event.payload["name"] else one for one in photos)


FOLDS: Mapping[str, Callable[[Pictures, Event], Pictures]] = {
    "photo says": _says, "photo gone": _gone, "spot": _spot, "spot gone": _spot_gone,
}  # fmt: skip


def same_place(one: str, other: str) -> bool:
    """Whether two names, as said, are one place: capitals, and blank or dot, make no difference."""
    return _bare(one) == _bare(other)


def _bare(place: str) -> str:
    return re.sub(r"[\s.]+", " ", place.casefold()).strip()
