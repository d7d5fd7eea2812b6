"""What the bench has learnt, in words."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.alike import AlikeView, LikeView
from probewright.jobs.finding import FoundJobView, FoundView, WhereView
from probewright.jobs.found import mode_in_words
from probewright.jobs.remembering import CureView, LearntView, told_of
from probewright.jobs.shared_jobs import SharedView
from probewright.jobs.taken_jobs import TakenView
from probewright.units import counted, percent


def learnt(view: LearntView) -> str:
    """Usual culprits, healthy values, minutes and cures, one after the other."""
    return "\n".join(_lines(view))


def _lines(view: LearntView) -> Iterator[str]:
    yield f"Usual culprits, from {counted(view.jobs, 'job')} with a proved culprit (rates: a small film resistor is 1)"
    shown, stocked, others = told_of(view)
    if shown:
        yield f"  {'kind':<32} {'mode':<18} {'tables':>8} {'here':>8} {'moved':>7}  found of expected"
    for one in shown:
        yield (
            f"  {one.kind:<32} {mode_in_words(one.mode):<18} {one.usual:>8.3g} {one.here:>8.3g} "
            f"{'x' + format(one.moved, '.2g'):>7}  {one.found:.2g} of {one.expected:.2g}"
        )
    if others:
        yield f"  {others}"
    for stock in stocked:
        yield (
            f"  {stock.model}: {stock.item} {mode_in_words(stock.mode)} was it in {stock.found:.2g} of "
            f"{counted(stock.jobs, 'job')}; x{stock.moved:.2g} in the next"
        )
    yield "Healthy values:" + ("" if view.healthy else " none yet")
    for model in view.healthy:
        jobs = ", ".join(map(str, model.jobs))
        yield f"  {model.model}: {counted(model.values, 'value')} of job {jobs}; `probewright job learn` takes over"
    yield "Minutes:" + ("" if view.minutes else " as usual, nothing learnt yet")
    for pace in view.minutes:
        assert pace.learnt is not None
        told = f", but told {pace.told:g}" if pace.told is not None else ""
        yield f"  {pace.says}: {pace.learnt:.2g} min from {counted(pace.gaps, 'step')}, usual {pace.usual:g}{told}"
    yield cures(view.cures)
    yield from (
        f"  job {one.job} came back after {counted(one.days, 'day')} as job {one.again}" for one in view.cures.again
    )


def cures(view: CureView) -> str:
    """Repairs that held so far."""
    others = f" {counted(view.unproven, 'other')} ended unproven, and tell nothing." if view.unproven else ""
    if not view.repaired:
        return f"Repairs: none proven yet.{others}"
    held = f"{view.repaired - view.back} of {view.repaired} proven ones hold so far, those of yesterday among them"
    low, high = percent(view.low), percent(view.high)
    share = f"at least {low}" if view.high == 1.0 else f"at most {high}" if view.low == 0.0 else f"{low} to {high}"
    return f"Repairs: {held}; {share} of such repairs do (95 % sure).{others}"


def found(view: FoundView) -> str:
    """Jobs that were found, each with why: what was looked for stands in brackets."""
    if not view.jobs:
        return f"No job with {view.words!r}. Try fewer words, or their beginnings."
    lines = []
    for one in view.jobs:
        lines.append(_job(one))
        lines += [f"  {why.where}: {_marked(why)}" for why in one.why]
    lines += [f"and {counted(view.more, 'job')} more; say another word"] if view.more else []
    return "\n".join(lines)


def alike(view: LikeView) -> str:
    """Jobs like this one, each with what they have in common."""
    if not view.jobs:
        return f"No job is like job {view.job} yet."
    lines = []
    for one in view.jobs:
        lines += [_job(one), *(f"  {said}" for said in one.why)]
        lines += [f"  it was {', '.join(one.was)}"] if one.was else []
    return "\n".join(lines)


def shared(view: SharedView) -> str:
    """A job that was written to a file, and what a person has to look at."""
    held = counted(view.lines, "line") + (f" and {counted(view.pictures, 'picture')}" if view.pictures else "")
    left = [f"Left out: {one}" for one in view.left_out]
    return "\n".join([f"Job {view.job} written to {view.file}: {held}.", *left, *view.look_at])


def taken(view: TakenView) -> str:
    """A job from elsewhere that was taken in."""
    lines = [f"Taken in as job {view.job}, from elsewhere: {view.model or view.kind}, {counted(view.lines, 'line')}."]
    if view.culprits:
        mine = "it counts as one of this bench" if view.counts else "it does not count here; --counts says otherwise"
        lines.append(f"It was {', '.join(view.culprits)}: {mine}.")
    if view.teaches:
        lines.append(f"It can teach {counted(view.teaches, 'healthy value')}: `probewright job learn {view.job}`.")
    return "\n".join(lines)


def _job(one: FoundJobView | AlikeView) -> str:
    said = f": {one.words}" if one.words else ""
    state = ", ".join(filter(None, [one.ended or "open", "from elsewhere" if one.elsewhere else ""]))
    return f"Job {one.job} ({state}), {one.model or one.kind}{said}"


def _marked(why: WhereView) -> str:
    text = "".join(f"[{one.text}]" if one.hit else one.text for one in why.pieces)
    return " / ".join(filter(None, map(str.strip, text.splitlines())))
