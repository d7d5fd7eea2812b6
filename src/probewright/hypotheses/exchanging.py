"""What exchanging two like parts does to a fault: it follows its part, it stays with the place, or it is gone.

The chances are rows of `data/exchange.csv`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from probewright.hypotheses import NOT_LISTED, Suspect
from probewright.hypotheses.priors import rows


@cache
def _chances() -> Mapping[str, Mapping[str, float]]:
    """Where the fault is -> answer -> chance."""
    answers = ("followed", "stayed", "gone")
    return {row["where"]: {said: float(row[said]) for said in answers} for row in rows("exchange")}


def exchanged(suspect: Suspect, one: str, other: str) -> Mapping[str, float]:
    """Chance of "followed", "stayed" and "gone" when these two parts changed places; of two faults, the nearer one."""
    if suspect.id == NOT_LISTED:
        return _chances()["unlisted"]
    found = [_where(fault.item, {one, other}) for fault in suspect.faults]
    return _chances()[next((where for where in ("part", "joint") if where in found), "elsewhere")]


def _where(item: str, pair: set[str]) -> str:
    """The fault is in the part itself, at a pin of it, or elsewhere."""
    if item in pair:
        return "part"
    return "joint" if any(end.rpartition(".")[0] in pair for end in item.split("~")) else "elsewhere"
