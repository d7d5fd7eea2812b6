"""Which rows of the prior tables speak of a part: its class, and the class of its joints.

The rules are rows of `data/classes.csv`; the first that fits a part decides. A kind no row
speaks of is `generic`, so a new kind of part has suspects before anybody writes its modes.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from probewright.hypotheses.priors import rows
from probewright.machine.kinds import KINDS
from probewright.machine.model import Part

GENERIC = "generic"
NO_RULE: Mapping[str, str] = {"class": GENERIC, "joint": "joint.ordinary", "pins": ""}
ROUNDING = 1e-9  # 1000 uF typed as 1 mF must not fall below 1000 uF


def kind_name(part: Part) -> str:
    """Name of the part's kind, synonyms undone."""
    return KINDS[part.kind].name if part.kind in KINDS else part.kind


@cache
def _rules() -> tuple[dict[str, str], ...]:
    return rows("classes")


def _large_enough(part: Part, rule: Mapping[str, str]) -> bool:
    if not rule["figure"]:
        return True
    figure = part.figures.get(rule["figure"])
    return figure is not None and figure.nominal >= float(rule["at_least"]) * (1.0 - ROUNDING)


def _fits(part: Part, rule: Mapping[str, str]) -> bool:
    return (
        rule["kind"] == kind_name(part)
        and rule["word"] in ("", *part.classes)
        and rule["role"] in ("", part.role)
        and _large_enough(part, rule)
    )


def _rule_of(part: Part) -> Mapping[str, str]:
    return next((rule for rule in _rules() if _fits(part, rule)), NO_RULE)


def class_of(part: Part) -> str:
    """Class of a part in the prior tables, `generic` when no row speaks of its kind."""
    return _rule_of(part)["class"]


def joint_class_of(part: Part) -> str:
    """Class of a part's solder joints, "" when it has none: leads and extras are swapped whole."""
    return "" if part.role == "extra" else _rule_of(part)["joint"]


def joined_pins(part: Part) -> tuple[str, ...]:
    """Pins of a part whose joints are suspects of their own: all, unless its row names some."""
    named = _rule_of(part)["pins"]
    return tuple(named.split()) if named else tuple(part.pins)
