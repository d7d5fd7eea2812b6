"""Values as typed, checked and written into the lines of a stage."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from probewright.errors import BadInput, Complaint, NotAValue
from probewright.machine.naming import check_part_name
from probewright.machine.saying import Refused, nearest
from probewright.machine.shelf import reading
from probewright.machine.shelf.stage import Ask, Body, Filled, Line, Stage
from probewright.units import Value, read_value, write_range, write_reading, write_value

# `<upper>`, or a product that names its unit: `<output / current as ohm>`, `<highest supply * 1.3 as V>`
SLOT = re.compile(
    r"<(?P<highest>highest )?(?P<first>[a-z]+)(?: (?P<sign>[*/]) (?P<second>[a-z]+|-?[\d.]+) as (?P<unit>\S+))?>"
)
SLACK = 1e-9  # chosen: a value at the very end of its band is inside


@dataclass(frozen=True)
class Answer:
    """An answer as it stands in the file, its middle and its highest value in SI."""

    text: str
    middle: float
    highest: float


def fill_in(stage: Stage | str, values: Mapping[str, str], name: str) -> Filled:
    """The stage with these values; BadInput with one complaint for each that cannot be used."""
    chosen = reading.stage(stage) if isinstance(stage, str) else stage
    complaints = _bad_name(name)
    form, wrong = _form(chosen, values)
    complaints += wrong
    body = chosen.forms.get(form, chosen.body)
    complaints += [_not_asked(one, body, chosen) for one in values if one not in {ask.name for ask in body.asks}]
    answers: dict[str, Answer] = {}
    for ask in body.asks:
        try:
            answers[ask.name] = _answer(ask, values.get(ask.name, "").strip())
        except Refused as refused:
            complaints.append(_complaint(refused.text, refused.mend))
    if complaints:
        raise BadInput(*complaints)
    typed = {one: said for one, said in values.items() if said.strip()}
    return Filled(
        chosen,
        name,
        {one: answer.text for one, answer in answers.items()},
        tuple(ask.name for ask in body.asks if ask.name not in typed),
        tuple(one for one, said in typed.items() if said.strip() in ("?", "unknown")),
        _written(body, answers, name),
    )


def _complaint(text: str, mend: str) -> Complaint:
    return Complaint("", 1, 1, text, mend)


def _bad_name(name: str) -> list[Complaint]:
    try:
        check_part_name(name)
    except Refused:
        form = "give the stage one short word without blanks or dots, like `pre`"
        return [_complaint(f"{name!r} cannot begin the names of parts", form)]
    return []


def _form(stage: Stage, values: Mapping[str, str]) -> tuple[str, list[Complaint]]:
    """The form chosen; the first where nothing is said."""
    typed = " ".join(values.get(reading.FORM, "").split()).lower()
    if typed in stage.forms or "" in stage.forms:
        return (typed if typed in stage.forms else ""), []
    if not typed:
        return next(iter(stage.forms)), []
    return "", [
        _complaint(f"{reading.FORM}: {typed!r} is not a way {stage.name} is built", nearest(typed, stage.forms))
    ]


def _not_asked(name: str, body: Body, stage: Stage) -> Complaint:
    names = [ask.name for ask in body.asks]
    if any(ask.name == name for ask in stage.asks):
        return _complaint(
            f"{name!r} is not asked in this form of {stage.name}", "leave it out, or choose the other form"
        )
    return _complaint(f"{stage.name} does not ask for {name!r}", nearest(name, names))


def _answer(ask: Ask, typed: str) -> Answer:
    """One answer; raises Refused."""
    if ask.words:
        word = " ".join(typed.split()).lower() or ask.assumed
        if word not in ask.words and ask.name != reading.FORM:  # a wrong form was complained of by itself
            raise Refused(f"{ask.name}: {typed!r} is none of the words to choose from", nearest(typed, ask.words))
        return Answer(word, 0.0, 0.0)
    if not typed and not ask.assumed:
        unknown = "" if ask.must else f", or `{ask.name}=?` if nobody knows"
        raise Refused(f"{ask.name} is missing: {ask.question}", f"write `{ask.name}={_example(ask)}`{unknown}")
    try:
        value = read_value(typed or ask.assumed, ask.unit)
    except NotAValue as problem:
        raise Refused(f"{ask.name}: {problem.text}", problem.mend) from problem
    if value.unknown:
        return _unknown(ask)
    low, high = (value.si, value.si) if value.low is None or value.high is None else (value.low, value.high)
    if low < ask.low * (1.0 - SLACK) or high > ask.high * (1.0 + SLACK):
        raise Refused(f"{ask.name}: {write_range_of(low, high, ask.unit)} is far from usual", _check(ask))
    return Answer(_as_typed(value, ask.unit), value.si, high * (1.0 + (value.tolerance or 0.0)))


def write_range_of(low: float, high: float, unit: str) -> str:
    """One figure or two ends, as a meter would show them."""
    shown = [write_reading(one, unit) for one in dict.fromkeys((low, high))]
    return " to ".join(shown)


def _example(ask: Ask) -> str:
    """A plausible answer: the middle of the band, rounded to one figure."""
    return write_value(float(f"{math.sqrt(ask.low * ask.high):.0e}"), ask.unit)


def _check(ask: Ask) -> str:
    band = write_range_of(ask.low, ask.high, ask.unit)
    return f"check unit and prefix, usual is {band}; if it is right, type the parts into the machine file"


def _unknown(ask: Ask) -> Answer:
    """`?` is anything plausible for this stage."""
    if ask.must:
        raise Refused(
            f"{ask.name} must be known: {ask.question}",
            f"read it off the board or measure it: `{ask.name}={_example(ask)}`",
        )
    return Answer(write_range(ask.low, ask.high, ask.unit), math.sqrt(ask.low * ask.high), ask.high)


def _as_typed(value: Value, unit: str) -> str:
    """In the form of a part line: 4k7, 10k 5%, 1k..10k."""
    if value.low is not None and value.high is not None:
        return write_range(value.low, value.high, unit)
    tolerance = f" {write_value(value.tolerance, '%')}" if value.tolerance is not None else ""
    return write_value(value.si, unit) + tolerance


def _written(body: Body, answers: Mapping[str, Answer], name: str) -> Body:
    """The body with every slot filled."""

    def line(one: Line) -> Line:
        return Line(_filled(one.name, answers, name), _filled(one.text, answers, name))

    return replace(body, lines={key: tuple(map(line, lines)) for key, lines in body.lines.items()})


def _filled(text: str, answers: Mapping[str, Answer], name: str) -> str:
    return SLOT.sub(lambda found: _slot(found, answers), text.replace("<name>", name))


def _slot(found: re.Match[str], answers: Mapping[str, Answer]) -> str:
    """What stands in one slot: an answer, or an answer times or by another."""
    first = answers[found["first"]]
    if not found["sign"]:
        return first.text
    size = first.highest if found["highest"] else first.middle
    second = answers[found["second"]].middle if found["second"] in answers else float(found["second"])
    product = size * second if found["sign"] == "*" else size / second
    return write_value(float(f"{product:.4g}"), found["unit"])  # four figures, more than any part is good to
