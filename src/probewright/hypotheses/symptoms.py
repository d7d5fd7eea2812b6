"""The symptom table: from an owner's complaint to causes, looks, swaps and tests with stated chances.

Every chance and share in `data/symptoms.csv`, `symptom_causes.csv`, `extras.csv`, `looks.csv` and
`looks_show.csv` is a rough estimate of ours (chosen: rough, common practice, no source); so is
every factor below. See docs/decisions/0006-symptom-table.md.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from types import MappingProxyType

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.hypotheses.intake import (
    Extra,
    Function,
    Told,
    caution,
    every_extra,
    every_kind,
    find_kind,
    has_key,
    listen,
)
from probewright.hypotheses.priors import rows, standing
from probewright.hypotheses.symptom_rows import KnownCause, Symptom, every_cause, every_symptom
from probewright.machine.tables import Cause, TableSection, Test

SEEN = ("nothing seen", "something seen")
SWAPPED = ("same", "cured and back with the old one", "cured and stays so")

# What leads and extras take of each bad function before anything speaks against them. Chosen: 10
# to 20 % of jobs end outside the machine (common practice, no source); high in the band, since
# settings are among them here.
OUTSIDE = 0.18
ALWAYS_LISTED = 0.15  # chosen: rows for any machine, such as a cracked joint, against a row named for the function
OTHER_FUNCTION = 0.3  # chosen: a row of this kind that only the words point to
WORD = 3.0  # chosen: a key word in the complaint makes its row three times as likely
WORDS_COUNTED = 2  # chosen: more key words are the same sentence again
RAISED = 3.0  # chosen: "after warm-up", "somebody was inside" make what fits three times as likely
UNSAID = 0.3  # chosen: a row that lives by such a sign, when nobody mentioned it
HIDDEN = 0.3  # chosen: "nobody was inside" is often said and sometimes wrong
OTHER_STRENGTH = 0.3  # chosen: a row for "gone" when it is only poor, and the other way round
DENIED = 0.05  # chosen: a row that a tick contradicts; owners err, so it is never nought
CLEARED = 0.1  # chosen: a cause that would have killed a function which is good
HALF_CLEARED = 0.4  # chosen: the same while the bad function is only partly gone
ONE_OF_ALL = 0.3  # chosen: a fault of one side or colour when all of them are bad
SHARED = 5.0  # chosen: for each further group of bad functions that a cause explains; two faults at once are rare
SHARED_COUNTED = 2  # chosen: beyond three groups the ticks repeat each other
TEST_SHOWN = 0.12  # chosen: rows lighter than this share of the heaviest bring no test
FEWEST_TESTS, MOST_TESTS = 4, 12  # chosen: what a person will read
CAUSE_KEPT = 0.002  # chosen: lighter causes are left to "something not in this file"
# Chances that a swap cures and that the fault comes back with the old one; and that it cures and the
# old one, put back, works too. Chosen, so that one swap which cured and was reversed counts, as the
# trade has it, and so that a cure which stays points to a contact that was moved.
FOLLOWS = (0.87, 0.03)  # what was exchanged is the cause; the new one may be bad or badly seated too
MOVED = (0.01, 0.14)  # a loose contact inside often comes back to life when plugs are moved
BY_CHANCE = (0.002, 0.028)  # the fault happens not to show after the swap
UNLISTED = (0.01, 0.02)  # now and then something else outside that hung on what was exchanged


# Doors ----------------------------------------------------------------------------------------


def kinds() -> tuple[str, ...]:
    """The kinds of machine that have a tick list."""
    return tuple(every_kind())


def functions(kind: str) -> tuple[str, ...]:
    """The tick list of a kind of machine. BadInput for an unknown kind."""
    return tuple(one.name for one in find_kind(kind).functions)


def leads_and_extras(kind: str) -> tuple[Extra, ...]:
    """What to look at and swap first on this kind of machine. BadInput for an unknown kind."""
    named = dict.fromkeys(name for names in find_kind(kind).extras.values() for name in names)
    return tuple(every_extra()[name] for name in named)


def symptom_table(
    kind: str, ticks: Mapping[str, str], words: str = "", when: str = "", inside: str = "", boards: str = "",
    swapped: Collection[str] = (),
) -> TableSection:  # fmt: skip
    """Causes, looks, swaps and tests for one complaint.

    ticks: function -> "good", "bad" or "partly"; words: the owner's own; when: when and how often;
    inside: who has been inside; boards: what was added; swapped: leads and extras that were exchanged,
    which count whatever the complaint is. Priors sum to one minus the two standing suspects. BadInput
    for a kind, a function or a tick that is not known.
    """
    told = _pointed_to(swapped, listen(kind, ticks, words, when, inside, boards))
    causes = _causes(_cause_weights(told), swapped)
    picked = _picked(told)
    looks, swaps = _looks(told), _swaps(told)
    tests = (*looks, *swaps, *(_with_cautions(one, told) for one in picked))
    chance = dict(_chances(picked, tuple(swaps), tuple(looks), causes))
    return TableSection(f"symptoms of the {told.kind.name}", causes, tests, MappingProxyType(chance))


def _pointed_to(swapped: Collection[str], told: Told) -> Told:
    """What was told, with what was exchanged though the complaint points elsewhere as one more extra of every bad
    function: every lead and extra of the kind is asked for before anything is opened."""
    blamed = [one.name for one in _blamed(told)]
    pointed = {extra for name in blamed for extra in told.kind.extras[name]}
    asked_for = (one.name for one in leads_and_extras(told.kind.name))
    more = tuple(name for name in asked_for if name in swapped and name not in pointed)
    extras = {**told.kind.extras, **{name: (*told.kind.extras[name], *more) for name in blamed}}
    return replace(told, kind=replace(told.kind, extras=extras)) if more else told


# How much a row counts ------------------------------------------------------------------------


def _rows_of(told: Told, function: Function) -> Mapping[str, float]:
    """Symptom id -> weight under one bad function; weights sum to one."""
    found = {one.id: one.often * _listed(one, told, function) * _fits(one, told, function) for one in _known(told)}
    total = sum(found.values())
    return {name: weight / total for name, weight in found.items() if weight}


def _known(told: Told) -> Iterator[Symptom]:
    """The symptoms this kind of machine can have."""
    named = {name for names in told.kind.symptoms.values() for name in names}
    return (one for one in every_symptom().values() if one.general or one.id in named)


def _listed(symptom: Symptom, told: Told, function: Function) -> float:
    """How firmly the tables tie a symptom to a function: named, met in any machine, or by its words."""
    if symptom.id in told.kind.symptoms[function.name]:
        return 1.0
    if symptom.general:
        return ALWAYS_LISTED
    return OTHER_FUNCTION if _key_words(symptom, told) and _may_be_elsewhere(symptom, told) else 0.0


def _may_be_elsewhere(symptom: Symptom, told: Told) -> bool:
    """Whether the symptom belongs to a function that is not ticked good."""
    good = {one.name for one in told.good}
    return any(symptom.id in names for name, names in told.kind.symptoms.items() if name not in good)


def _key_words(symptom: Symptom, told: Told) -> int:
    return sum(has_key(told.words, key) for key in symptom.keys)


def _fits(symptom: Symptom, told: Told, function: Function) -> float:
    """Factor on a symptom: its words, its signs, how strong it shows, what contradicts it."""
    factor = WORD ** min(_key_words(symptom, told), WORDS_COUNTED) * _signs(symptom, told)
    if any(_ticked(token, told) for token in symptom.denied_by):
        factor *= DENIED
    shows = "poor" if function.name in told.partly or function.quality else "gone"
    if function in told.bad and symptom.shows not in ("", shows):
        factor *= OTHER_STRENGTH
    return factor * _several(symptom.speaks_of, told, function)


def _signs(symptom: Symptom, told: Told) -> float:
    if not symptom.when:
        return 1.0
    if told.traits & set(symptom.when):
        return RAISED
    return UNSAID * (HIDDEN if set(symptom.when) <= told.denied else 1.0)


def _several(speaks_of: str, told: Told, function: Function) -> float:
    """One or all of several alike: factor when all of the function's family are bad."""
    if not told.all_bad(function.family):
        return 1.0
    return {"one": ONE_OF_ALL, "all": RAISED}.get(speaks_of, 1.0)


def _ticked(token: str, told: Told) -> bool:
    """Whether a tick like "good:sound" was made: a group, a function, "any" or, beyond power, "working"."""
    tick, _, what = token.partition(":")
    return any(
        what in (one.group, one.name, "any") or (what == "working" and one.group != "power")
        for one in (told.good if tick == "good" else told.bad)
    )


# How much a cause counts ----------------------------------------------------------------------


def _blamed(told: Told) -> tuple[Function, ...]:
    """The bad functions; with none ticked every function that is not good, with none left all."""
    return told.bad or tuple(one for one in told.kind.functions if one not in told.good) or told.kind.functions


def _cause_weights(told: Told) -> Mapping[str, float]:
    """Cause id -> weight: what each group of bad functions says, raised for a cause that explains several."""
    groups: dict[str, list[Function]] = {}
    for function in _blamed(told):
        groups.setdefault(function.group, []).append(function)
    said = {name: _mean([_said_by(told, function) for function in alike]) for name, alike in groups.items()}
    total = _sum(said.values())
    return {name: weight * _explains(name, told, said) for name, weight in total.items() if weight}


def _explains(cause: str, told: Told, said: Mapping[str, Mapping[str, float]]) -> float:
    """Factor for the further groups of bad functions that a cause explains, by its rows or by its reach."""
    reach = every_cause()[cause].reach
    explained = sum(cause in said[group] or reach in ("dead", "machine", group) for group in said)
    return float(SHARED ** min(explained - 1, SHARED_COUNTED)) if told.bad else 1.0


def _sum(many: Iterable[Mapping[str, float]]) -> dict[str, float]:
    total: dict[str, float] = {}
    for one in many:
        for name, weight in one.items():
            total[name] = total.get(name, 0.0) + weight
    return total


def _mean(many: Sequence[Mapping[str, float]]) -> dict[str, float]:
    return {name: weight / len(many) for name, weight in _sum(many).items()}


def _said_by(told: Told, function: Function) -> Mapping[str, float]:
    """Cause id -> weight that one bad function gives, extras among them; one before the factors."""
    found: dict[str, float] = {}
    for name, weight in _rows_of(told, function).items():
        for cause, share in _shares(every_symptom()[name], told).items():
            found[cause] = found.get(cause, 0.0) + (1.0 - OUTSIDE) * weight * share
    for extra, share in _extras_of(told, function).items():
        found[extra] = found.get(extra, 0.0) + OUTSIDE * share
    return {name: weight * _cause_fits(every_cause()[name], told, function) for name, weight in found.items()}


def _shares(symptom: Symptom, told: Told) -> Mapping[str, float]:
    """Cause id -> share of one symptom; what this kind of machine does not have gives its share to the rest."""
    lacking = {one.cause for one in every_extra().values()} - {one.cause for one in leads_and_extras(told.kind.name)}
    found = {one.cause: one.share for one in symptom.causes if one.share and one.cause not in lacking}
    total = sum(found.values())
    return {name: share / total for name, share in found.items()}


def _extras_of(told: Told, function: Function) -> Mapping[str, float]:
    """Cause id -> share of each extra that the function points to; one together."""
    extras = [every_extra()[name] for name in told.kind.extras[function.name]]
    total = sum(one.often for one in extras)
    return {one.cause: one.often / total for one in extras}


def _cause_fits(cause: KnownCause, told: Told, function: Function) -> float:
    """Factor on a cause under one bad function: signs of the complaint, and what still works."""
    factor = RAISED if told.traits & set(cause.raised_by) else 1.0
    if cause.raised_by and set(cause.raised_by) <= told.denied:
        factor *= HIDDEN
    if any(_clears(good, cause, function) for good in told.good):
        factor *= HALF_CLEARED if function.name in told.partly else CLEARED
    return factor * (_several("one", told, function) if cause.reach == "one" else 1.0)


def _clears(good: Function, cause: KnownCause, bad: Function) -> bool:
    """Whether a function that is good would have gone too.

    That there is sound says nothing about a cause of hum: a good quality is needed to clear a bad one.
    """
    if cause.reach == "dead":
        return True
    if bad.quality and not good.quality:
        return False
    return good.group != "power" if cause.reach == "machine" else good.group == cause.reach


def _causes(weights: Mapping[str, float], swapped: Collection[str]) -> tuple[Cause, ...]:
    """The causes, likeliest first; priors sum to one minus the two standing suspects. What was exchanged is kept."""
    least = CAUSE_KEPT * sum(weights.values())
    kept = {name: weight for name, weight in weights.items() if weight >= least or every_cause()[name].item in swapped}
    scale = (1.0 - standing(NOTHING_WRONG).value - standing(NOT_LISTED).value) / sum(kept.values())
    ordered = sorted(kept, key=lambda name: (-kept[name], name))
    return tuple(_cause(every_cause()[name], scale * kept[name]) for name in ordered)


def _cause(known: KnownCause, prior: float) -> Cause:
    source = f"{known.source}; share chosen: rough"
    return Cause(known.id, known.says, prior, known.item, source, known.outside)


# Tests and their chances ----------------------------------------------------------------------


def _picked(told: Told) -> tuple[Symptom, ...]:
    """The symptoms whose tests are worth offering, heaviest first."""
    total = _sum(_rows_of(told, function) for function in _blamed(told))
    ordered = sorted(total, key=lambda name: (-total[name], name))
    least = TEST_SHOWN * total[ordered[0]]
    picked = [name for place, name in enumerate(ordered) if place < FEWEST_TESTS or total[name] >= least]
    return tuple(every_symptom()[name] for name in picked[:MOST_TESTS])


def _with_cautions(symptom: Symptom, told: Told) -> Test:
    """The symptom's test with every caution that holds on this kind of machine."""
    test, care = symptom.test, told.kind.care
    inside = "charge" if test.state == "off" else "mains"
    ids = (*((inside,) if "mains" in care else ()), *(one for one in care if one != "mains"), *symptom.cautions)
    return Test(test.id, test.do, test.outcomes, test.minutes, test.state, test.expected, test.source, caution(*ids))


def _looks(told: Told) -> Mapping[Test, Mapping[str, str]]:
    """Look -> its row of the table."""
    care = ("charge", *(one for one in told.kind.care if one != "mains")) if told.kind.care else ()
    return {
        Test(
            row["name"], row["do"], SEEN, float(row["minutes"]), "ask", "nothing of the kind", row["source"],
            caution(*care, *row["caution"].split()),
        ): row
        for row in rows("looks")
    }  # fmt: skip


def _swaps(told: Told) -> Mapping[Test, Extra]:
    """Swap -> the lead or extra, for all that the bad functions point to."""
    named = dict.fromkeys(name for function in _blamed(told) for name in told.kind.extras[function.name])
    return {
        Test(f"swap {one.name}", one.do, SWAPPED, one.minutes, "outside", "no change", one.source, one.caution): one
        for one in (every_extra()[name] for name in named)
    }


Chance = tuple[tuple[str, str], tuple[float, ...]]


def _chances(
    picked: Iterable[Symptom], swaps: Iterable[Test], looks: Iterable[Test], causes: Iterable[Cause]
) -> Iterator[Chance]:
    for swap in swaps:
        yield (swap.id, NOTHING_WRONG), _swapped(*BY_CHANCE)
        yield (swap.id, NOT_LISTED), _swapped(*UNLISTED)
    for cause in causes:
        for symptom in picked:
            if (bad := _bad_outcome(symptom, cause.id)) is not None:
                yield (symptom.id, cause.id), (1.0 - bad, bad)
        for swap in swaps:
            yield (swap.id, cause.id), _swapped(*_cured(swap.id.removeprefix("swap "), cause))
        for look in looks:
            seen = _seen(look.id, cause.id)
            yield (look.id, cause.id), (1.0 - seen, seen)


def _bad_outcome(symptom: Symptom, cause: str) -> float | None:
    """Chance that a test is not as expected under a cause; None when it cannot be said."""
    return next((one.bad for one in symptom.causes if one.cause == cause), symptom.elsewhere)


def _cured(extra: str, cause: Cause) -> tuple[float, float]:
    """Chances, under a cause, that swapping an extra cures and is reversed, and that it cures and stays so."""
    if cause.item == extra:
        return FOLLOWS
    return MOVED if "touch" in every_cause()[cause.id].raised_by else BY_CHANCE


def _swapped(follows: float, stays: float) -> tuple[float, float, float]:
    return (1.0 - follows - stays, follows, stays)


@cache
def _shown() -> Mapping[tuple[str, str], float]:
    found = {(row["look"], row["cause"]): float(row["seen"]) for row in rows("looks_show")}
    return MappingProxyType(found)


@cache
def _false_alarms() -> Mapping[str, float]:
    return MappingProxyType({row["name"]: float(row["otherwise"]) for row in rows("looks")})


def _seen(look: str, cause: str) -> float:
    """Chance that a look shows something under a cause, false alarms included."""
    return _shown().get((look, cause), _false_alarms()[look])
