"""What cannot be known of a healthy machine: one random number for each free figure.

A draw is one such number for every latent. Figures follow from it, so one draw explains all
readings jointly, in every set-up.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from probewright.machine.chains import played_sources
from probewright.machine.kinds import KINDS
from probewright.machine.kinds.block import USUAL, Usual
from probewright.machine.model import Figure, Machine, Part

# One part in ten strays three times as far as its tolerance says (docs/method.md): old stock,
# heat, a value read wrongly. Chosen; to be replaced by what closed jobs teach.
STRAY_SHARE, STRAY_TIMES = 0.1, 3.0
# Equal channels without a stated match: half of the spread is the lot's, half the part's. Chosen.
LOT_SHARE = 0.5
# 19 in 20 of what anybody plays lie within this factor of the middle, either way: from a pickup to a line. Chosen.
FARTHEST = 40.0  # chosen, nat: a figure so far off is open or short to any circuit; redrawing proposes such, and worse
PLAYED = Usual(1.0, 1000.0)
# Sources of equal channels that play the same thing agree so well. Chosen: mono material, or a tone.
PLAYED_ALIKE = 0.1

Key = tuple[str, ...]
# How bad the second of two faults is; nothing healthy depends on it.
SECOND: Key = ("severity", "second")


@dataclass(frozen=True)
class Free:
    """A figure that may stray: value = law(sum of share x latent); squares of the shares sum to one.

    figure.law is as in `machine.model`, or "decades": nobody knows it, nominal x exp(spread t); then
    the first term is what equal channels share and a spare brings with it.
    """

    part: str
    name: str
    figure: Figure
    terms: tuple[tuple[int, float], ...]  # (latent, share)


@dataclass(frozen=True)
class Latents:
    """Keys of the latents of a machine, in a stable order, and the figures they rule.

    heavy: per latent, whether it strays: normal, STRAY_SHARE of the time STRAY_TIMES as wide. The
    others (positions in a range) are plain standard normal numbers.
    """

    keys: tuple[Key, ...]
    free: tuple[Free, ...]

    @cached_property
    def heavy(self) -> np.ndarray:
        """(latent,) True where the latent strays."""
        found = np.array([key != SECOND for key in self.keys], bool)
        for one in self.free:
            if one.figure.law == "range":
                found[[latent for latent, _ in one.terms]] = False
            elif one.figure.law == "decades":
                found[one.terms[0][0]] = False
        return found


def find_latents(machine: Machine) -> Latents:
    """Every figure that is not exact, and which latents it shares with other parts.

    The level of a signal put on a source is free too: its figure is a factor on what the set-up says.
    """
    keys: dict[Key, int] = {}
    free = []
    played = played_sources(machine)
    for part in machine.parts.values():
        for name, figure in part.figures.items():
            if name == "signal":
                continue  # how large it is what a stimulus says, or the line: a factor on that, below
            if nobody_knows(part, name):
                free.append(_decades(part, name, USUAL[name], _agreeing(machine, part, name), keys))
            elif played and part.role == "extra" and part.channel and figure.law == "range":
                ends = Usual(float(np.sqrt(figure.low * figure.high)), float(np.sqrt(figure.high / figure.low)))
                free.append(_decades(part, name, ends, _agreeing(machine, part, name), keys))  # a pair is of one make
            elif figure.law != "exact":
                terms = tuple(
                    (keys.setdefault(key, len(keys)), share) for key, share in _shares(machine, part, name, figure)
                )
                free.append(Free(part.name, name, figure, terms))
        if "signal" in part.figures:
            own = part.figures["signal"].spread if part.plays else KINDS[part.kind].parameter("signal").spread
            level = Figure(1.0, "1", "tolerance", own)
            free.append(
                Free(part.name, "signal", level, ((keys.setdefault((part.name, "signal level"), len(keys)), 1.0),))
            )
        if part.name in played:
            free.append(_decades(part, "playing", PLAYED, PLAYED_ALIKE, keys))
    return Latents(tuple(keys), tuple(free))


def nobody_knows(part: Part, name: str) -> bool:
    """The figure of a block was typed `?`: a decade either way is nothing, only ratios count."""
    return part.kind == "block" and name in USUAL and part.figures[name].unknown


def is_unknown(machine: Machine) -> bool:
    """Levels in this machine are known as ratios only: something plays, or a block's figure is `?`."""
    blocks = ((part, name) for part in machine.parts.values() for name in part.figures)
    return bool(played_sources(machine)) or any(nobody_knows(part, name) for part, name in blocks)


def _agreeing(machine: Machine, part: Part, name: str) -> float:
    """How well two parts of this make agree, a fraction."""
    return KINDS[part.kind].parameter(name).spread if machine.match is None else machine.match


def carried(latents: Latents) -> np.ndarray:
    """(latent,) how much of each number another machine of the same model shares: all of what nobody knows, of the
    lot and of what is put on; of a part's own figure what LOT_SHARE says, and nothing where the lot stands apart."""
    found = np.full(len(latents.keys), LOT_SHARE)
    for one in latents.free:
        with_lot = any(latents.keys[latent][1] == "lot" for latent, _ in one.terms)
        for latent, _ in one.terms:
            key = latents.keys[latent]
            common = one.figure.unknown or one.name in ("signal", "playing") or key[1] == "lot" or key[-1] == "make"
            found[latent] = 1.0 if common else 0.0 if with_lot or one.figure.law == "decades" else LOT_SHARE
    return found


def _decades(part: Part, name: str, usual: Usual, agree: float, keys: dict[Key, int]) -> Free:
    """A figure known to a factor only; parts of one family share it but for `agree`."""
    sd, apart = float(np.log(usual.factor)) / 2.0, agree / 3.0**0.5
    total = float(np.hypot(sd, apart))
    common: Key = (part.section, "", part.family or part.name, name, "make")
    own: Key = (part.section, part.channel, part.name, name)
    places = [keys.setdefault(key, len(keys)) for key in (common, own)]
    unit = part.figures[name].unit if name in part.figures else "1"
    terms = ((places[0], sd / total), (places[1], apart / total))
    return Free(part.name, name, Figure(usual.middle, unit, "decades", total), terms)


def _shares(machine: Machine, part: Part, name: str, figure: Figure) -> list[tuple[Key, float]]:
    """Latent keys and shares of one figure: its lot, which matched parts share, and its own."""
    own: Key = (part.section, part.channel, part.name, name)
    if figure.unknown and part.channel:
        return [((part.section, "", part.family, name), 1.0)]
    if part.matched or _is_model(machine, part):
        lot: Key = ("pair", part.matched or part.name, name)
        agree = part.match_spread or max(p.match_spread for p in machine.parts.values() if p.matched == part.name)
        alone = _alone(agree, figure)
    elif part.channel:
        lot = (part.section, "lot", part.family, name)
        alone = 1.0 - LOT_SHARE if machine.match is None else _alone(machine.match, figure)
    else:
        return [(own, 1.0)]
    return [(lot, float(np.sqrt(1.0 - alone))), (own, float(np.sqrt(alone)))]


def _is_model(machine: Machine, part: Part) -> bool:
    """Another part is matched to this one."""
    return any(other.matched == part.name for other in machine.parts.values())


def _alone(agree: float, figure: Figure) -> float:
    """Share of the variance a part has to itself when its like agree to `agree` (a fraction)."""
    return min(1.0, (agree / figure.spread) ** 2) if figure.spread and figure.law == "tolerance" else 0.5


def random_stream(job: str, key: Key, fitted: int = 0) -> np.random.Generator:
    """A stream of random numbers that depends on nothing but the key (counter-based generator)."""
    digest = hashlib.blake2b("\x1f".join((job, *key, str(fitted))).encode(), digest_size=16).digest()
    return np.random.Generator(np.random.Philox(key=int.from_bytes(digest, "little")))


def stray_scales(stream: np.random.Generator, shape: tuple[int, ...], share: float = STRAY_SHARE) -> np.ndarray:
    """STRAY_TIMES in this share of places, else one."""
    return np.where(stream.random(shape) < share, STRAY_TIMES, 1.0)


def draw_one(job: str, key: Key, heavy: bool, count: int, fitted: int = 0) -> np.ndarray:
    """(draw,) numbers of one latent."""
    stream = random_stream(job, key, fitted)
    numbers = stream.standard_normal(count)
    return numbers * stray_scales(stream, (count,)) if heavy else numbers


def draw_latents(latents: Latents, job: str, count: int) -> np.ndarray:
    """(latent, draw) numbers for this job."""
    drawn = [draw_one(job, key, bool(heavy), count) for key, heavy in zip(latents.keys, latents.heavy, strict=True)]
    return np.stack(drawn) if drawn else np.zeros((0, count))


def below(z: np.ndarray) -> np.ndarray:
    """Share of a standard normal below z, anywhere."""
    grid, share = _normal_table()
    return np.interp(z, grid, share)


@cache
def _normal_table() -> tuple[np.ndarray, np.ndarray]:
    from math import erf

    grid = np.linspace(-9.0, 9.0, 18001)
    return grid, np.array([0.5 * (1.0 + erf(x / 2.0**0.5)) for x in grid])


def value_of(figure: Figure, z: np.ndarray) -> np.ndarray:
    """The figure, SI, for latent z; laws as in `machine.model.Figure`."""
    sd = figure.spread / 3.0**0.5
    if figure.law == "tolerance":
        return figure.nominal * np.exp(np.clip(sd * z, -FARTHEST, FARTHEST))
    if figure.law == "offset":
        value = figure.nominal + sd * z
        return np.clip(value, 0.0, 1.0) if figure.unit == "%" else value
    if figure.law == "decades":
        return figure.nominal * np.exp(np.clip(figure.spread * z, -FARTHEST, FARTHEST))
    if figure.law == "range":
        share = below(z)
        if figure.low > 0.0:
            return figure.low * (figure.high / figure.low) ** share
        return figure.low + (figure.high - figure.low) * share
    return np.full(np.shape(z), figure.nominal)


def spare_value(job: str, one: Free, z: np.ndarray, fitted: int = 1) -> np.ndarray:
    """(draw,) SI values of a new part's figure, from latents z (latent, draw): fresh tolerance, the same make.

    fitted: the first new one, or the second after that.
    """
    key, count = (one.part, one.name), z.shape[1]
    if one.figure.law != "decades":
        return value_of(one.figure, draw_one(job, key, one.figure.law != "range", count, fitted=fitted))
    (common, most), (_, rest) = one.terms
    return value_of(one.figure, most * z[common] + rest * draw_one(job, key, True, count, fitted=fitted))


def figures_of(
    latents: Latents, z: np.ndarray, wanted: Iterable[str] | None = None
) -> dict[tuple[str, str], np.ndarray]:
    """(part, figure) -> (draw,) SI values from latents z (latent, draw)."""
    parts = None if wanted is None else set(wanted)
    return {
        (one.part, one.name): value_of(one.figure, sum(share * z[latent] for latent, share in one.terms))
        for one in latents.free
        if parts is None or one.part in parts
    }
