"""Where the probes of the next reading go, lit on a photograph on which their places were marked."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.jobs.cases import Case
from probewright.jobs.pictures import Picture, Spot
from probewright.jobs.picturing import spots_of
from probewright.machine import Machine
from probewright.readings import Question, echo
from probewright.web.photo_pages import address
from probewright.web.urgent import PROBED

WIDE, HIGH = 322.0, 242.0  # CSS pixels, chosen: the card's column for pictures on a laptop, four to three
EDGE = 62.0  # CSS pixels, chosen: room round a mark for its handle
CLOSEST = 0.22  # chosen: share of the picture's width that is always shown, so that one knows where on the board it is
LARGE = 0.6  # chosen: share of the width above which the picture made small has dots enough
HANDLE, TALL = 62.0, 26.0  # CSS pixels: the word on the handle of a lead
AWAY = 18.0  # CSS pixels: from the middle of a mark to its handle


@dataclass(frozen=True)
class Lead:
    """One probe on the excerpt, CSS pixels.

    colour: "black" (a square), "red" (round), or "here" (round, where a signal is judged by eye or ear);
    left, top: of its handle.
    """

    colour: str
    place: str
    x: float
    y: float
    left: float
    top: float


@dataclass(frozen=True)
class Lit:
    """An excerpt of a photograph with the probes on it.

    page: where the whole picture is; image: address of the picture; x, y, width, height: where all of
    it lies in an excerpt of wide by high CSS pixels; says: the excerpt in words; missing: which probe's
    place is not marked on it, "" when none.
    """

    page: str
    image: str
    wide: float
    high: float
    x: float
    y: float
    width: float
    height: float
    leads: tuple[Lead, ...]
    says: str
    missing: str


def lit_of(case: Case, ask: Question | None, machine: Machine | None) -> Lit | None:
    """The picture that shows most of a question's places; None when the red probe's is marked on none.

    ask: of the card on the page; machine: the job's own. Ground alone is not worth a picture.
    """
    if ask is None or ask.instrument not in (*PROBED, "share"):
        return None
    found = {colour: dict(reversed(spots_of(case, place, machine))) for colour, place in _probes(ask)}
    shown = [
        (photo, {colour: spots[photo.name] for colour, spots in found.items() if photo.name in spots})
        for photo in case.photos
    ]
    main = _probes(ask)[-1][0]
    best = max(shown, key=lambda one: (main in one[1], len(one[1])), default=None)
    if best is None or main not in best[1]:
        return None
    photo, spots = best
    names = {colour: echo.spot(place, machine) for colour, place in _probes(ask)}
    missing = [colour for colour in names if colour not in spots]
    told = " and ".join(f"{colour}{': ' if colour == 'here' else ' on '}{names[colour]}" for colour in spots)
    return _excerpt(
        case, photo, {colour: (names[colour], spot) for colour, spot in spots.items()},
        f"{told}, on {photo.says or ('a sheet' if photo.sheet else 'a photograph')}",
        f"{missing[0].capitalize()}: {names[missing[0]]}, not marked on this picture." if missing else "",
    )  # fmt: skip


def _probes(ask: Question) -> tuple[tuple[str, str], ...]:
    """Colour and place of each probe, the one that matters most last."""
    return (("here", ask.red),) if ask.instrument == "share" else (("black", ask.black), ("red", ask.red))


def _excerpt(case: Case, photo: Picture, spots: dict[str, tuple[str, Spot]], says: str, missing: str) -> Lit:
    """What lies round the spots, as large as leaves room for every handle."""
    xs = [spot.x * photo.width for _, spot in spots.values()]
    ys = [spot.y * photo.height for _, spot in spots.values()]
    scale = min(
        (WIDE - 2 * EDGE) / max(max(xs) - min(xs), 1.0),
        (HIGH - 2 * EDGE) / max(max(ys) - min(ys), 1.0),
        WIDE / (CLOSEST * photo.width),
    )
    width, height = photo.width * scale, photo.height * scale
    x = _offset((min(xs) + max(xs)) / 2 * scale, width, WIDE)
    y = _offset((min(ys) + max(ys)) / 2 * scale, height, HIGH)
    at = {colour: (name, x + spot.x * width, y + spot.y * height) for colour, (name, spot) in spots.items()}
    path = address(case, photo)
    image = f"{path}/thumbnail?size=large" if WIDE / width > LARGE else f"{path}/picture"
    return Lit(path, image, WIDE, HIGH, x, y, width, height, _leads(at), says, missing)


def _offset(middle: float, size: float, room: float) -> float:
    """Where the picture begins so that its point `middle` is central, as far as its rim allows.

    The rim comes no further in than a handle needs, so every mark keeps at least EDGE from the excerpt's own.
    """
    inside = max(EDGE, (room - size) / 2)
    return min(inside, max(room - size - inside, room / 2 - middle))


def _leads(at: dict[str, tuple[str, float, float]]) -> tuple[Lead, ...]:
    """The marks with their handles: the upper one's above, the lower one's below, so that they never meet."""
    order = sorted(at, key=lambda colour: at[colour][2])
    found = []
    for colour in order:
        place, x, y = at[colour]
        above = colour == order[0] if len(order) > 1 else y > HIGH / 2
        found.append(Lead(colour, place, x, y, x - HANDLE / 2, y - AWAY - TALL if above else y + AWAY))
    return tuple(found)
