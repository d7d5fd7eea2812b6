"""A campaign of rehearsals as a table in plain text."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.scoring import CampaignView, Score

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
    ("minutes", "bench minutes"),
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
    head = f"{view.machine}: {view.n} rehearsals, key {view.key}, at most {view.most_readings} readings"
    lines = [", ".join([head, *what]), *_scores(view)]
    for name, group in view.groups.items():
        lines += ["", f"{name}: {group.n}", *_scores(group)]
    return "\n".join([*lines, "", f"In brackets: {view.interval}."])


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
