"""A campaign of rehearsals as a table in plain text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from probewright.jobs.scoring import CampaignView, OrderMinutes, Score

SHARES = (
    ("decided", "decided"),
    ("right_when_confident", "right when decided"),
    ("confident_wrong", "decided and wrong"),
    ("unexplained", "not explained by the file"),
    ("called_listed", "called a listed fault"),
    ("called_elsewhere", "called a listed fault elsewhere"),
)
OF_TWO = (
    ("both", "both named before a repair"),
    ("found", "both mended in the end"),
    ("found_clean", "the same, none in vain"),
    ("cured", "nothing complained of"),
)
FIGURES = (
    ("ece", "calibration error"),
    ("brier", "Brier score (0 is best)"),
    ("log_score", "log score, nat (0 is best)"),
    ("class_size_mean", "look-alikes named"),
    ("wrong_parts", "parts mended in vain"),
    ("readings", "readings"),
    ("bench_minutes", "bench minutes"),
)


def campaign(view: CampaignView) -> str:
    """The table: all rehearsals, then each kind of machine."""
    what = [f"{view.withhold} withheld"] if view.withhold else []
    what += ["two faults hidden in each"] if view.pairs else []
    what += ["each complained of by itself"] if view.felt else []
    what += [f"tolerances x {view.tolerance_x:g}"] if view.tolerance_x != 1.0 else []
    what += ["trained for what can kill"] if view.trained else []
    what += ["only what is complained of"] if view.brought else []
    what += ["steps by the quick answer"] if view.quick else []
    what += ["other orders by their list alone"] if view.alone else []
    what += [f"minutes drawn by key {view.paces}"] if view.paces else []
    head = f"{view.machine}: {view.n} rehearsals, key {view.key}, at most {view.most_readings} readings"
    lines = [", ".join([head, *what]), *_scores(view), *_orders(view.minutes)]
    for name, group in view.groups.items():
        lines += ["", f"{name}: {group.n}", *_scores(group)]
    return "\n".join([*lines, "", f"In brackets: {view.interval}."])


def _orders(minutes: Mapping[str, OrderMinutes]) -> Iterator[str]:
    """The orders of readings beside each other; nothing for ours alone."""
    if len(minutes) < 2:
        return
    yield ""
    heads = f"  {'order of readings':<19}{'decided':>8}{'minutes':>9}{'to a cure':>11}"
    yield f"{heads}  {'ours to it, both decided':<25}  ours to it, to a cure"
    for name, one in minutes.items():
        said = f"  {name.replace('_', ' '):<19}{one.decided:>8.0%}{one.mean:>9.1f}{one.to_cure:>11.1f}"
        if name != "ours":
            said += f"  {_ratio(one.ratio, one.ratio_ci95):<25}  {_ratio(one.ratio_to_cure, one.ratio_to_cure_ci95)}"
        yield said


def _ratio(ratio: float | None, span: tuple[float, float] | None) -> str:
    return "-" if ratio is None else f"{ratio:.2f}" + (f" ({span[0]:.2f} to {span[1]:.2f})" if span else "")


def _scores(score: Score) -> Iterator[str]:
    for name, words in (*SHARES, *(OF_TWO if score.found is not None else ())):
        share, span = getattr(score, name), score.ci95[name]
        said = "-" if share is None or span is None else f"{share:7.1%}  ({span[0]:.1%} to {span[1]:.1%})"
        yield f"  {words:<28}{said}"
    for name, words in FIGURES:
        figure = getattr(score, name)
        yield f"  {words:<28}{'-' if figure is None else f'{figure:7.3g}'}"
    yield f"  {'live steps on the cards':<28}{score.live}, {score.hurting} where it can hurt, {score.unsafe} unsafe"
    yield f"  {'findings':<28}{', '.join(f'{one} {count}' for one, count in score.findings.items())}"
